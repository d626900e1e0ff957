#!/bin/bash
# Format and a short list of real defects, read from .clang-format and .clang-tidy. Needs a configured build folder for its
# compile commands (build/ unless another is named). With --deep also the path-following checks of .clang-tidy, which take
# as long again as all the others together, and cppcheck.
set -euo pipefail
cd "$(dirname "$0")/.."
checks=-clang-analyzer-*
if [ "${1:-}" = --deep ]; then
  checks= # all of .clang-tidy
  shift
fi
build=${1:-build}

if [ -z "$checks" ]; then
  # Told where it is wrong: a value moved in one branch and used in the other; numbers taken for iterators.
  cppcheck --std=c++20 --enable=warning,performance,portability --suppress=missingIncludeSystem \
    --suppress=preprocessorErrorDirective --suppress=accessMoved:post/study_maps.cpp \
    --suppress=mismatchingContainerExpression:post/study_summary.cpp -I . --error-exitcode=1 -q -j "$(nproc)" models solver post
fi

git ls-files -z '*.cpp' '*.hpp' | xargs -0 clang-format --dry-run --Werror

if [ ! -f "$build/compile_commands.json" ]; then
  echo "style: $build has no compile_commands.json; configure it first (cmake --preset release)" >&2
  exit 2
fi
git ls-files -z 'models/*.cpp' 'solver/*.cpp' 'post/*.cpp' |
  xargs -0 -P "$(nproc)" -n 1 clang-tidy -p "$build" --quiet --checks="$checks"
