// Scripts for the system's own python, which sees the packages of the system.
#pragma once

#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <string>

namespace clampfade::test {

/// Runs a script with one argument.
inline CliResult python(const std::string& script, const std::string& argument) {
  const TmpDir dir;
  write_text(dir / "script.py", script);
  return run_cli("env PATH=\"$(getconf PATH)\" python3 " + quote(dir / "script.py") + " " + quote(argument));
}

/// Whether it has these modules, "a, b"; says so if not.
inline bool python_has(const std::string& modules) {
  if (python("import " + modules, "").exit == 0) {
    return true;
  }
  MESSAGE("not checked here: python3 has no " << modules);
  return false;
}

} // namespace clampfade::test
