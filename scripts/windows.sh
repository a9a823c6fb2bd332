#!/usr/bin/env bash
# Builds camwitness.exe for 64-bit Windows on Linux, and tries it under wine, against the program of this computer.
#
#     scripts/windows.sh [--no-wine] [--tests] [FOLDER]
#
# --tests builds the tests as well and runs those that are about Windows. CAMWITNESS_NATIVE names a native program that is
# built already, CAMWITNESS_CAPTURES the folder of the recordings.
# The program goes into FOLDER, else target/windows. Needs a mingw linker and a Rust for x86_64-pc-windows-gnu: one with that
# target installed, else Debian's rustc-web and rust-web-src, whose library is built along. Leaves with status 2 when they
# are not there. It needs system libraries only.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

wine=yes tests=
while [[ "${1:-}" = --* ]]; do
  case $1 in
    --no-wine) wine= ;;
    --tests) tests=yes ;;
    *) echo "there is no $1" >&2; exit 1 ;;
  esac
  shift
done
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
native_program
source scripts/wine.sh "$folder"
python3 scripts/same.py "$native" windows-runs "64-bit Windows, under wine" wine "$folder/camwitness.exe"
[ -n "$tests" ] || exit 0
# Faults of the system as Windows has them, and what the shell does not do there.
CARGO_TARGET_X86_64_PC_WINDOWS_GNU_LINKER=x86_64-w64-mingw32-gcc CARGO_TARGET_X86_64_PC_WINDOWS_GNU_RUNNER=wine CARGO_PROFILE_DEV_OPT_LEVEL=0 \
  run_tests --test program --target $target -- faults_windows:: commands::a_pattern
