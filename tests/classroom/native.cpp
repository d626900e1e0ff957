// The classroom's run as the native library does it: settings from the file named first, the result to the one named
// second. For compare.mjs.
#include "solver/classroom/json.hpp"

#include <fstream>
#include <iterator>

int main(int argc, char** argv) {
  if (argc != 3) {
    return 2;
  }
  std::ifstream in(argv[1]);
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  std::ofstream out(argv[2]);
  out << clampfade::classroom_text(clampfade::run_classroom(clampfade::classroom_settings(text)));
  return out.good() ? 0 : 4;
}
