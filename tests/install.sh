#!/bin/bash
# Installs what a build needs, and any package named as an argument, where that is possible: on Debian or Ubuntu, as root
# or through sudo. Does nothing when all of it is there; where it cannot install it says what is missing and leaves the
# rest to the configure step.
set -u

packages=(g++ cmake ninja-build pkg-config libeigen3-dev libboost-dev libhdf5-dev libssl-dev libsqlite3-dev libceres-dev
  libyaml-cpp-dev libudunits2-dev libfmt-dev libcli11-dev nlohmann-json3-dev doctest-dev librapidcheck-dev libgsl-dev
  libjs-dygraphs librsvg2-dev groff-base python3 "$@")

if ! command -v apt-get >/dev/null || ! command -v dpkg-query >/dev/null; then
  echo "install: not a Debian system; make sure these or their like are there: ${packages[*]}" >&2
  exit 0
fi

missing=()
for package in "${packages[@]}"; do
  if ! dpkg-query -W -f='${Status}\n' "$package" 2>/dev/null | grep -q '^install ok installed'; then
    missing+=("$package")
  fi
done
if [ ${#missing[@]} -eq 0 ]; then
  exit 0
fi

as_root=()
if [ "$(id -u)" -ne 0 ]; then
  if command -v sudo >/dev/null; then
    as_root=(sudo)
  else
    echo "install: not root and no sudo; ask for these packages: ${missing[*]}" >&2
    exit 0
  fi
fi

export DEBIAN_FRONTEND=noninteractive
for attempt in 1 2 3; do
  if "${as_root[@]}" apt-get update -q; then
    break
  fi
  echo "install: the package lists did not load, attempt $attempt of 3" >&2
  sleep 5
done
# env carries the setting through sudo.
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
  apt-get install -y -q --no-install-recommends --no-remove "${missing[@]}"
