// Runs a program through the shell and keeps what it said.
#pragma once

#include "tests/support/tmp_dir.hpp"

#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string>
#include <sys/wait.h>

namespace clampfade::test {

struct CliResult {
  int exit = -1;
  std::string out, err;
};

inline std::string read_text(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

inline void write_text(const std::string& path, const std::string& text) {
  std::ofstream(path, std::ios::binary) << text;
}

/// Quoted for the shell.
inline std::string quote(const std::string& text) {
  std::string out = "'";
  for (const char c : text) {
    out += c == '\'' ? "'\\''" : std::string(1, c);
  }
  return out + "'";
}

/// `command` is for the shell; quote() what has blanks.
inline CliResult run_cli(const std::string& command) {
  const TmpDir dir;
  const int status = std::system(("( " + command + " ) > " + quote(dir / "out") + " 2> " + quote(dir / "err")).c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, read_text(dir / "out"), read_text(dir / "err")};
}

} // namespace clampfade::test
