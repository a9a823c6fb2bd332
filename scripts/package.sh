#!/usr/bin/env bash
# Packs what was built: an archive per target with the program, README, licences, notices of all dependencies, docs, the
# demonstration and completions; the one HTML file beside them; SHA256SUMS.
#
#     scripts/package.sh [FOLDER]
#
# Packs the native program (built here), and camwitness.exe, the ARM program and camwitness.html where windows.sh, arm.sh
# and one-file.sh have made them: builds nothing else, and says what is missing. FOLDER is target/packages otherwise.
# SOURCE_DATE_EPOCH, else the time of the commit, is the time of every packed file: the same commit makes the same archives.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

folder=${1:-$built/packages}
mkdir -p "$folder"
folder=$(cd "$folder" && pwd)
rm -f "$folder"/camwitness-* "$folder"/camwitness.html "$folder"/SHA256SUMS
date=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

native_program
count_seconds
written native "this program (\`cargo build --release\`, stripped)" "$(megabytes "$(stat -c %s "$native")")" "$seconds s"
if [ -n "${CAMWITNESS_WRITE_PLATFORMS:-}" ]; then python3 scripts/same.py "$native" native-runs "this program, native"; fi
# What is given away says what it was built from.
commit=$(git rev-parse --short=10 HEAD)
"$native" --version | grep -qF "$version ($commit" || { echo "--version does not say $version and $commit: $("$native" --version)" >&2; exit 1; }
host=$(rustc -vV | sed -n 's/^host: //p')

# NAME TARGET PROGRAM: one archive.
pack() {
  local name=camwitness-$version-$1 target=$2 program=$3
  local into=$work/$name
  mkdir -p "$into/completions" "$into/demo-data"
  cp "$program" "$into/"
  cp README.md CHANGELOG.md LICENSE-APACHE LICENSE-MIT "$into/"
  cp -r docs tooth-patterns "$into/"
  cp demo-data/* "$into/demo-data/"
  for shell in bash zsh fish powershell elvish; do
    "$native" completions $shell >"$into/completions/camwitness.$shell"
  done
  python3 scripts/notices.py "$target" "$into/NOTICES.txt"
  find "$work/$name" -exec touch -d "@$date" {} +
  case $target in
    *windows*) (cd "$work" && find "$name" -type f | sort | TZ=UTC zip -q -X -@ "$folder/$name.zip") ;;
    *) tar -C "$work" --sort=name --owner=0 --group=0 --numeric-owner --mtime="@$date" -c "$name" | gzip -9n >"$folder/$name.tar.gz" ;;
  esac
}

pack "$host" "$host" "$native"
if [ -f "$built/windows/camwitness.exe" ]; then
  pack x86_64-windows x86_64-pc-windows-gnu "$built/windows/camwitness.exe"
else
  echo "NOT packed: camwitness.exe (scripts/windows.sh makes it)" >&2
fi
if [ -f "$built/arm/camwitness" ]; then
  pack aarch64-linux aarch64-unknown-linux-gnu "$built/arm/camwitness"
else
  echo "NOT packed: the program for ARM (scripts/arm.sh makes it)" >&2
fi
if [ -f "$built/one-file/camwitness.html" ]; then
  cp "$built/one-file/camwitness.html" "$folder/camwitness.html"
  python3 scripts/notices.py wasm32-unknown-unknown "$folder/camwitness-html-NOTICES.txt" -p camwitness-one-file
else
  echo "NOT packed: camwitness.html (scripts/one-file.sh makes it)" >&2
fi
(cd "$folder" && sha256sum camwitness* >SHA256SUMS && cat SHA256SUMS)

# The archive of this computer, unpacked and run as whoever gets it does.
(cd "$folder" && sha256sum --quiet --check SHA256SUMS)
tar -C "$work" -xzf "$folder/camwitness-$version-$host.tar.gz" --one-top-level=given
given=$work/given/camwitness-$version-$host
"$given/camwitness" check "$given/demo-data/bank2-late.csv" --engine "$given/demo-data/engine.toml" | grep -q JUMPED
for there in README.md CHANGELOG.md LICENSE-APACHE LICENSE-MIT NOTICES.txt docs/platforms.md completions/camwitness.powershell; do
  [ -s "$given/$there" ] || { echo "the archive has no $there" >&2; exit 1; }
done
echo "the archive of this computer is unpacked and finds the demonstration"
