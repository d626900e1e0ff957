#!/bin/bash
# What is installed works: programs moved to another folder, every command of the guide, a program that finds the
# libraries and runs where nothing was built, Debian packages that lintian has nothing to say against.
#
#     bash tests/packaging/run.sh BUILD        needs mkdocs, lintian, root and what a build needs
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
lowest=$("$work/consumer/consumer" "$source/scenarios/bare-steel-duals.yaml" 2> /dev/null)
# Faults become exit codes and sentences, as the guide shows it.
code=0
echo "title: nothing else" > "$work/poor.yaml"
"$work/consumer/consumer" "$work/poor.yaml" 2> /dev/null || code=$?
test "$code" = 2 || { echo "consumer: exit code $code for a poor scenario"; exit 1; }
"$work/moved/bin/clampfade-report" summary "$work/run.h5" --json > "$work/summary.json"
/usr/bin/python3 - "$lowest" "$work/run.h5" <<'P'
import h5py, sys
told = float(h5py.File(sys.argv[2])["clamp_cold"][-1].min())
assert abs(float(sys.argv[1]) - told) < 1e-3, (sys.argv[1], told)
print(f"consumer: {told:.3f} N, the program's own")
P

(cd "$work" && cpack --config "$build/CPackConfig.cmake" > cpack.log 2>&1) || { cat "$work/cpack.log"; exit 1; }
# A machine on which nothing was built: the program finds the catalogue that the package put there, and without one it
# says where it looked instead of dying.
root=$work/root
mkdir "$root" "$root/opt" "$root/proc"
dpkg-deb -x "$work"/clampfade_*.deb "$root"
cp "$work/consumer/consumer" "$root/opt/"
ldd "$work/consumer/consumer" | grep -o '/[^ ]*' | sort -u | xargs cp --parents -L -t "$root"
cp --parents -r /usr/share/xml/udunits "$root"
scenario=/usr/share/clampfade/scenarios/bare-steel-duals.yaml
alone() { env -u CLAMPFADE_CATALOGUE chroot "$root" /opt/consumer "$@"; }
there=$(alone "$scenario" 2> /dev/null)
test "$there" = "$lowest" || { echo "consumer elsewhere: $there, not $lowest"; exit 1; }
mv "$root/usr/share/clampfade/catalogue" "$root/opt/catalogue"
code=0
said=$(alone "$scenario" 2>&1) || code=$?
test "$code" = 4 && grep -q "/usr/share/clampfade/catalogue.*CLAMPFADE_CATALOGUE" <<< "$said" ||
  { echo "consumer without a catalogue: exit code $code, $said"; exit 1; }
mkdir -p "$root/share/clampfade" && mv "$root/opt/catalogue" "$root/share/clampfade/"
test "$(alone "$scenario" 2> /dev/null)" = "$lowest" || { echo "consumer: the catalogue beside it was not found"; exit 1; }
echo "consumer: good on a machine where nothing was built"
# What the package says of its own files is there.
for file in scenarios/cluster/submit.sh scenarios/cluster/parts.sbatch scenarios/pictures/painted-steel-duals.svg; do
  test -s "$root/usr/share/clampfade/$file" || { echo "the package has no $file"; exit 1; }
done
dpkg-deb -c "$work"/clampfade-dev_*.deb | grep -q "doc/clampfade-dev/examples/main.cpp"

lintian --fail-on error,warning "$work"/*.deb
dpkg-deb --info "$work"/clampfade_*.deb | grep -E "Package|Depends"
echo "packages: $(ls "$work"/*.deb | xargs -n1 basename | tr '\n' ' ')"
