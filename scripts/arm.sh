#!/usr/bin/env bash
# Builds the program for 64-bit ARM Linux and tries it under emulation, against the program of this computer.
#
#     scripts/arm.sh [FOLDER]
#
# CAMWITNESS_NATIVE names a native program that is built already, CAMWITNESS_CAPTURES the folder of the recordings.
# Needs Debian's gcc-aarch64-linux-gnu, libc6-dev-arm64-cross and qemu-user beside a Rust as in windows.sh.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

target=aarch64-unknown-linux-gnu
compiler_for $target aarch64-linux-gnu-gcc panic_unwind "rustc-web rust-web-src gcc-aarch64-linux-gnu libc6-dev-arm64-cross qemu-user" || exit 2
folder=${1:-$built/arm}

RUSTFLAGS="$without_paths -C strip=symbols" CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc \
  build --release --bin camwitness --target $target
placed "$other/$target/release/camwitness" "$folder/camwitness" arm "64-bit ARM Linux (\`scripts/arm.sh\`)"

if ! command -v qemu-aarch64 >/dev/null; then
  echo "qemu-aarch64 is not to be had here: the program was NOT tried" >&2
  exit 0
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
(cd "$work" && qemu-aarch64 -L /usr/aarch64-linux-gnu "$folder/camwitness" demo demo | grep -q JUMPED)
for file in sound.csv bank2-late.csv repaired.csv; do cmp "$work/demo/$file" "demo-data/$file"; done
echo "the demonstration is written and found under emulation, its captures the same to the byte"
native_program
python3 scripts/same.py "$native" arm-runs "64-bit ARM Linux, emulated" qemu-aarch64 -L /usr/aarch64-linux-gnu "$folder/camwitness"
