#!/usr/bin/env bash
# Has the compiler look at the program for both kinds of macOS. Nothing is linked, signed or run: that takes a Mac.
set -euo pipefail
cd "$(dirname "$0")/.."
source scripts/common.sh

for target in x86_64-apple-darwin aarch64-apple-darwin; do
  compiler_for $target true panic_unwind "rustc-web rust-web-src" || exit 2
  cargo() { if [ "$1" = build ]; then shift; command cargo check "$@"; else command cargo "$@"; fi; }
  build --release --bin camwitness --target $target
  unset -f cargo
  count_seconds
  echo "$target: checked, $seconds processor seconds so far"
done
written macos "macOS, both kinds, checked by the compiler only (\`scripts/macos-check.sh\`)" "nothing is linked" "$seconds s"
