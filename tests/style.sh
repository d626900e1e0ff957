#!/bin/bash
# Format and a short list of real defects, read from .clang-format and .clang-tidy. Needs a configured build folder for its
# compile commands (build/ unless another is named). With --deep also the path-following checks of .clang-tidy, which take
# as long again as all the others together.
set -euo pipefail
cd "$(dirname "$0")/.."
checks=-clang-analyzer-*
if [ "${1:-}" = --deep ]; then
  checks=
  shift
fi
build=${1:-build}

git ls-files -z '*.cpp' '*.hpp' | xargs -0 clang-format --dry-run --Werror

if [ ! -f "$build/compile_commands.json" ]; then
  echo "style: $build has no compile_commands.json; configure it first (cmake --preset release)" >&2
  exit 2
fi
git ls-files -z 'models/*.cpp' 'solver/*.cpp' 'post/*.cpp' |
  xargs -0 -P "$(nproc)" -n 1 clang-tidy -p "$build" --quiet --checks="$checks"
