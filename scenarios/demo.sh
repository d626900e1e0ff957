#!/bin/bash
# From a fresh checkout to a first answer: installs what is missing, builds, runs the main example and prints what
# became of its clamp. Takes a few minutes, most of them compiling.
set -euo pipefail
cd "$(dirname "$0")/.."

bash tests/install.sh
cmake --preset release
cmake --build --preset release --target clampfade clampfade-report

history=build/painted-steel-duals.h5
build/clampfade simulate scenarios/painted-steel-duals.yaml --output "$history" --force
build/clampfade-report summary "$history"
