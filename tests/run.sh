#!/bin/bash
# Builds everything and runs every test. Installs what is missing first.
set -euo pipefail
cd "$(dirname "$0")/.."

bash tests/install.sh
cmake --preset release
cmake --build --preset release
ctest --preset release
