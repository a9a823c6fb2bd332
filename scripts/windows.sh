#!/usr/bin/env bash
# Builds camwitness.exe for 64-bit Windows on Linux, and tries it under wine.
#
#     scripts/windows.sh [--no-wine] [FOLDER]
#
# The program goes into FOLDER, else target/windows. Needs a mingw linker and a Rust for x86_64-pc-windows-gnu: one with that
# target installed, else Debian's rustc-web and rust-web-src, whose library is built along. Leaves with status 2 when they
# are not there. It needs system libraries only.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

wine=yes
if [ "${1:-}" = --no-wine ]; then wine=; shift; fi
target=x86_64-pc-windows-gnu
compiler_for $target x86_64-w64-mingw32-gcc panic_unwind "rustc-web rust-web-src gcc-mingw-w64-x86-64-posix wine64 wine" || exit 2
folder=${1:-$built/windows}

RUSTFLAGS="$without_paths -C strip=symbols" CARGO_TARGET_X86_64_PC_WINDOWS_GNU_LINKER=x86_64-w64-mingw32-gcc \
  build --release --bin camwitness --target $target
placed "$other/$target/release/camwitness.exe" "$folder/camwitness.exe" windows "64-bit Windows (\`scripts/windows.sh\`)"

[ -n "$wine" ] || exit 0
if ! command -v wine >/dev/null; then
  echo "wine is not to be had here: camwitness.exe was NOT tried" >&2
  exit 0
fi
scripts/wine-smoke.sh "$folder/camwitness.exe"
