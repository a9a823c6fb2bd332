#!/usr/bin/env bash
# Makes camwitness.html: the program, its fonts, the demonstration and the page in one file that a browser opens.
#
#     scripts/one-file.sh [--quick] [FOLDER]
#
# The file goes into FOLDER, else target/one-file. --quick compiles in a third of the time, larger and slower: for trying.
# Needs python3 and a Rust that builds for WebAssembly: one with the target wasm32-unknown-unknown installed, else Debian's
# rustc-web, rust-web-src and lld, whose library is built along. Leaves with status 2 when there is neither. wasm-opt (of
# binaryen) and zopfli make it smaller: without them the file is about 1.62 MB.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

profile=one-file quick=
if [ "${1:-}" = --quick ]; then profile=one-file-quick quick=--quick; shift; fi
target=wasm32-unknown-unknown
compiler_for $target wasm-ld panic_abort "rustc-web rust-web-src lld" || exit 2
folder=${1:-$built/one-file}

RUSTFLAGS="$without_paths -C link-arg=-zstack-size=4194304" CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=wasm-ld \
  build --profile $profile -p camwitness-one-file --target $target
mkdir -p "$folder"
python3 one-file/assemble.py "$other/$target/$profile/camwitness_one_file.wasm" "$folder/camwitness.html" $quick
size=$(stat -c %s "$folder/camwitness.html")
count_seconds
echo "$folder/camwitness.html: $size bytes, built in $seconds processor seconds ($profile)"
if [ $profile = one-file ]; then
  written one-file "one HTML file (\`scripts/one-file.sh\`)" "$(megabytes "$size")" "$seconds s"
  [ "$size" -lt 1500000 ] || { echo "the one file is larger than 1.5 MB" >&2; exit 1; }
fi
