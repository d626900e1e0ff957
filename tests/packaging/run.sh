#!/bin/bash
# What is installed works: programs moved to another folder, every command of the guide, a program that finds the
# libraries, Debian packages that lintian has nothing to say against.
#
#     bash tests/packaging/run.sh BUILD        needs mkdocs, lintian and what a build needs
set -euo pipefail
source=$(cd "$(dirname "$0")/../.." && pwd)
build=$(cd "$1" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

cmake --install "$build" --prefix "$work/first" > /dev/null
mv "$work/first" "$work/moved"
# The catalogue is found beside the program, not where it was built.
env -u CLAMPFADE_CATALOGUE "$work/moved/bin/clampfade" simulate "$source/scenarios/bare-steel-duals.yaml" -o "$work/run.h5" --quiet > /dev/null
man --warnings=w -l "$work/moved/share/man/man1/clampfade.1.gz" > /dev/null

/usr/bin/python3 "$source/notebooks/guide/make.py" --prefix "$work/moved" --site "$work/site"
test -s "$work/site/reference/scenario.html"

cmake -S "$source/tests/packaging/consumer" -B "$work/consumer" -G Ninja -DCMAKE_BUILD_TYPE=Release \
  -DCMAKE_PREFIX_PATH="$work/moved" > /dev/null
cmake --build "$work/consumer" > /dev/null
lowest=$("$work/consumer/consumer" "$source/scenarios/bare-steel-duals.yaml")
"$work/moved/bin/clampfade-report" summary "$work/run.h5" --json > "$work/summary.json"
/usr/bin/python3 - "$lowest" "$work/run.h5" <<'P'
import h5py, sys
told = float(h5py.File(sys.argv[2])["clamp_cold"][-1].min())
assert abs(float(sys.argv[1]) - told) < 1e-3, (sys.argv[1], told)
print(f"consumer: {told:.3f} N, the program's own")
P

(cd "$work" && cpack --config "$build/CPackConfig.cmake" > cpack.log 2>&1) || { cat "$work/cpack.log"; exit 1; }
lintian --fail-on error,warning "$work"/*.deb
dpkg-deb --info "$work"/clampfade_*.deb | grep -E "Package|Depends"
echo "packages: $(ls "$work"/*.deb | xargs -n1 basename | tr '\n' ' ')"
