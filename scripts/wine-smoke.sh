#!/usr/bin/env bash
# Tries camwitness.exe under wine: demonstration, report, page, paths and names as Windows has them.
#
#     scripts/wine-smoke.sh camwitness.exe
set -euo pipefail
cd "$(dirname "$0")/.."
root=$PWD
exe=$(realpath "$1")
source scripts/wine.sh "$(dirname "$exe")"
work=$(mktemp -d)
page=
trap 'if [ -n "$page" ]; then kill "$page" 2>/dev/null || true; fi; wineserver -k 2>/dev/null || true; rm -rf "$work"' EXIT
cp "$exe" "$work/camwitness.exe"
cd "$work"

fail() { echo "not as it should be: $*" >&2; exit 1; }
ok() { echo "ok   $*"; }
camwitness() { timeout 120 wine camwitness.exe "$@"; }
status() { local want=$1; shift; local got=0; camwitness "$@" >out.txt 2>err.txt || got=$?; [ "$got" = "$want" ] || fail "status $got, not $want: $* $(cat err.txt)"; }

status 0 --version
grep -q '^camwitness [0-9]' out.txt || fail "--version: $(cat out.txt)"
ok "$(tr -d '\r' <out.txt)"

status 0 demo demo
for file in engine.toml sound.csv bank2-late.csv repaired.csv; do cmp "demo/$file" "$root/demo-data/$file"; done
ok "the demonstration is written, as on any other system"

# A redirected result is plain: no sign that a code page lacks.
status 0 check 'demo\bank2-late.csv' --engine 'demo\engine.toml' --report 'out.html' --json 'result.json'
grep -q 'deg late' out.txt || fail "no degrees in words: $(cat out.txt)"
! LC_ALL=C grep -q $'\xc2\xb0' out.txt || fail "a degree sign in redirected text"
grep -q '<!DOCTYPE html' out.html || fail "no report"
ok "backslash paths, a report, a plain redirected result"

mkdir 'Prüfung Müller'
sed 's/$/\r/' demo/bank2-late.csv >'Prüfung Müller/Öldruck ß.csv'
sed 's/$/\r/' demo/engine.toml >'Prüfung Müller/motor.toml'
status 0 check 'Prüfung Müller\Öldruck ß.csv' --engine 'Prüfung Müller\motor.toml'
grep -q JUMPED out.txt || fail "umlauts and CRLF: $(cat out.txt err.txt)"
ok "umlauts and blanks in names, CRLF in files"

# No shell fills the pattern in.
status 1 check 'demo\*.csv' --engine 'demo\engine.toml' --lead 'crank=nothing'
! grep -q '\*' err.txt || fail "a pattern is not filled in: $(cat err.txt)"
ok "patterns are filled in"

status 1 check 'C:\nothing\here.csv' --engine 'demo\engine.toml'
grep -q 'here.csv' err.txt || fail "a missing file: $(cat err.txt)"
ok "a missing file is named"

timeout 120 wine camwitness.exe page --no-browser >page.txt 2>page-err.txt &
page=$!
for _ in $(seq 300); do grep -q http page.txt && break; sleep 0.1; done
address=$(grep -o 'http://[^ ]*' page.txt | tr -d '\r')
# Into a file first: a reader that stops early makes curl fail.
curl -sS -c jar -b jar -L -o page.html "$address"
grep -q 'Drop captures here' page.html || fail "the page: $(head -c 300 page.html)"
base=${address%%/\?*}
curl -sS -b jar -H 'x-camwitness: 1' -X POST -o answer.json "$base/api/demonstration/bank2-late.csv"
grep -q '"crank_wheel":{' answer.json || fail "a capture on the page: $(head -c 300 answer.json)"
kill "$page"; wait "$page" 2>/dev/null || true
ok "the page, by curl"

# A double click: the desktop starts it, with nothing typed. A program of the desktop's name does so here.
cat >desktop.c <<'C'
#include <windows.h>
int main(void) {
  STARTUPINFOA how = { sizeof how };
  PROCESS_INFORMATION started;
  char line[] = "camwitness.exe";
  if (!CreateProcessA(NULL, line, NULL, NULL, TRUE, 0, NULL, NULL, &how, &started)) return 1;
  WaitForSingleObject(started.hProcess, INFINITE);
  return 0;
}
C
x86_64-w64-mingw32-gcc -o explorer.exe desktop.c
timeout 120 wine ./explorer.exe >page.txt 2>page-err.txt &
page=$!
for _ in $(seq 300); do grep -q http page.txt && break; sleep 0.1; done
grep -q 'started by a double click: the page opens in your browser' page-err.txt || fail "a double click: $(cat page-err.txt page.txt)"
address=$(grep -o 'http://[^ ]*' page.txt | tr -d '\r')
curl -sS -c jar -b jar -L -o page.html "$address"
grep -q 'Drop captures here' page.html || fail "the page of a double click"
ok "a double click opens the page and says so"
echo "camwitness.exe is content under $(wine --version)"
