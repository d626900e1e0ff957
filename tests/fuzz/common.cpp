#include "solver/diagnostics.hpp"
#include "solver/io/document.hpp"
#include "tests/fuzz/targets.hpp"

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <unistd.h>

namespace clampfade::fuzz {

void finding(const std::string& what) { throw std::logic_error("half believed: " + what); }

void must_be_text(std::string_view what, const std::string& text) {
  if (const auto bad = bad_character(text)) {
    finding(std::string(what) + " has a control character or bytes that are not UTF-8 in line " +
            std::to_string(bad->first));
  }
}

void guarded(void (*work)(Bytes), Bytes input) {
  try {
    work(input);
  } catch (const InputError& e) {
    if (e.diagnostics().empty()) {
      finding("refused without a reason");
    }
    must_be_text("the list of faults", to_text(e.diagnostics()));
  } catch (const NumericalError& e) {
    must_be_text("a numerical error", e.what());
  } catch (const FileError& e) {
    must_be_text("a file error", e.what());
  }
}

std::string input_file(Bytes content, std::string_view extension) {
  namespace fs = std::filesystem;
  static const std::string base = [] {
    std::error_code none;
    const fs::path memory("/dev/shm");
    const fs::path folder = fs::is_directory(memory, none) ? memory : fs::temp_directory_path();
    static const std::string name = (folder / ("clampfade-fuzz-" + std::to_string(::getpid()))).string();
    std::atexit([] {
      for (const char* end : {".csv", ".h5"}) {
        ::unlink((name + end).c_str());
      }
    });
    return name;
  }();
  const std::string path = base + std::string(extension);
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out.write(reinterpret_cast<const char*>(content.data()), static_cast<std::streamsize>(content.size()));
  if (!out.flush()) {
    throw std::runtime_error(path + ": cannot be written"); // no finding, but no run either
  }
  return path;
}

} // namespace clampfade::fuzz
