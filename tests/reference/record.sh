#!/bin/bash
# Runs the checks that need large libraries and records their rows, which join tests/VERIFICATION.md. About twenty minutes.
#   bash tests/reference/record.sh [BUILD]      BUILD: build folder, build-reference unless named
set -euo pipefail
cd "$(dirname "$0")/../.."
build=${1:-build-reference}

cmake -S . -B "$build" -G Ninja -DCLAMPFADE_REFERENCE=ON
cmake --build "$build" --target test_reference_cvode reference_export clampfade test_verification clampfade-report

rows=tests/reference/recorded
mkdir -p "$rows"
/usr/bin/python3 tests/reference/cone_check.py "$build/tests/reference_export" "$rows/cone.json"
/usr/bin/python3 tests/reference/scipy_check.py "$build/tests/reference_export" "$build/clampfade" \
  tests/reference/scipy_column.yaml "$rows/scipy.json"
CLAMPFADE_CHECKS_ROWS_OUT="$rows/cvode.json" "$build/tests/test_reference_cvode"
CLAMPFADE_CHECKS_OUT=tests/VERIFICATION.md CLAMPFADE_CHECKS_SHORT_OUT=post/checks_short.json \
  "$build/tests/test_verification"
