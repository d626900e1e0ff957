// Runs inputs through targets once, without a fuzzer: replay TARGET FILE_OR_FOLDER... Exit code 1 where any of them is
// a finding; a crash is one too.
#include "tests/fuzz/targets.hpp"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

namespace fs = std::filesystem;

int main(int argc, char** argv) {
  using namespace clampfade::fuzz;
  const auto* const target =
      std::find_if(kTargets.begin(), kTargets.end(), [&](const Target& t) { return argc > 2 && t.name == argv[1]; });
  if (target == kTargets.end()) {
    std::fputs("replay TARGET FILE_OR_FOLDER...\n", stderr);
    return 2;
  }
  std::vector<fs::path> files;
  for (int i = 2; i < argc; ++i) {
    if (fs::is_directory(argv[i])) {
      std::copy_if(fs::directory_iterator(argv[i]), fs::directory_iterator(), std::back_inserter(files),
                   [](const fs::path& p) { return fs::is_regular_file(p); });
    } else if (fs::is_regular_file(argv[i])) {
      files.emplace_back(argv[i]);
    } else {
      std::fprintf(stderr, "%s: there is no such file or folder\n", argv[i]);
      return 2;
    }
  }
  std::sort(files.begin(), files.end());
  int found = 0;
  double longest = 0;
  for (const fs::path& file : files) {
    std::ifstream in(file, std::ios::binary);
    const std::vector<unsigned char> bytes((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
    const auto start = std::chrono::steady_clock::now();
    try {
      target->run(bytes);
    } catch (const std::exception& e) {
      ++found;
      std::printf("%s: %s\n", file.c_str(), e.what());
      std::fflush(stdout);
    }
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    longest = std::max(longest, seconds);
  }
  std::printf("%s: %zu inputs, %d findings, the longest took %.2f s\n", argv[1], files.size(), found, longest);
  return found == 0 && !files.empty() ? 0 : 1;
}
