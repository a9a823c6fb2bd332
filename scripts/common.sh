# What the scripts of this folder share; read by them from the root of the repository.

built=${CARGO_TARGET_DIR:-target}
mkdir -p "$built"
built=$(cd "$built" && pwd)
# Another compiler keeps to a folder of its own: in a shared one each would throw the other's work away.
other=$built/other-compiler
# Paths of whoever builds have no place in what is given away.
without_paths="--remap-path-prefix=$PWD=. --remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}=cargo"
version="$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)"
# Both kinds of incremental building and link-time optimisation exclude each other.
export CARGO_INCREMENTAL=0

# Sets `seconds`: processor seconds of everything this script has waited for so far. In a subshell there would be none.
count_seconds() {
  times >"$built/times.tmp"
  seconds=$(tail -1 "$built/times.tmp" | awk '{ split($1, a, /[ms]/); split($2, b, /[ms]/); printf "%d", a[1] * 60 + a[2] + b[1] * 60 + b[2] }')
  rm -f "$built/times.tmp"
}

megabytes() { awk -v bytes="$1" 'BEGIN { printf "%.2f MB", bytes / 1e6 }'; }

# Finds a compiler for a target: TARGET LINKER PANIC PACKAGES. Afterwards `build` is cargo build with it, `run_tests` cargo test.
compiler_for() {
  local target=$1 linker=$2 panic=$3 packages=$4
  if [ -d "$(rustc --print target-libdir --target "$target" 2>/dev/null)" ] && command -v "$linker" >/dev/null; then
    build() { cargo build --locked --target-dir "$other" "$@"; }
    run_tests() { cargo test --locked --target-dir "$other" "$@"; }
  elif [ -x /usr/bin/rustc ] && [ -d "$(/usr/bin/rustc --print sysroot)/lib/rustlib/src/rust/library" ] && command -v "$linker" >/dev/null; then
    build() {
      RUSTC=/usr/bin/rustc RUSTDOC=/usr/bin/rustdoc RUSTC_BOOTSTRAP=1 \
        cargo build --locked --target-dir "$other" -Zbuild-std=std,$std_panic "$@"
    }
    run_tests() {
      RUSTC=/usr/bin/rustc RUSTDOC=/usr/bin/rustdoc RUSTC_BOOTSTRAP=1 \
        cargo test --locked --target-dir "$other" -Zbuild-std=std,test,$std_panic "$@"
    }
    std_panic=$panic
  else
    echo "NOT BUILT for $target: needs the target for rustc and $linker, or Debian's packages: apt-get install --no-install-recommends $packages" >&2
    return 2
  fi
}

# Sets `native`: the program for this computer, as it is packed. CAMWITNESS_NATIVE names one that is built already.
native_program() {
  native=${CAMWITNESS_NATIVE:-}
  [ -z "$native" ] || return 0
  RUSTFLAGS="$without_paths -C strip=symbols" cargo build --release --locked --target-dir "$built/packaged" --bin camwitness
  native=$built/packaged/release/camwitness
}

# Writes a row of docs/platforms.md: KEY, then its cells. Only where CAMWITNESS_WRITE_PLATFORMS is set.
written() {
  [ -n "${CAMWITNESS_WRITE_PLATFORMS:-}" ] || return 0
  python3 scripts/platforms.py "$@"
}

# Puts a program that was built where it is wanted, and says what it took: BUILT TO KEY WHAT.
placed() {
  local size
  mkdir -p "$(dirname "$2")"
  cp "$1" "$2"
  size=$(stat -c %s "$2")
  count_seconds
  echo "$2: $size bytes, built in $seconds processor seconds"
  written "$3" "$4" "$(megabytes "$size")" "$seconds s"
}
