# What a program needs to be tried under wine; read by the scripts beside it: source scripts/wine.sh FOLDER. Settings and
# the stand-in of wine are in FOLDER/wine, of which nothing is shipped.

mkdir -p "$1/wine"
wine_folder=$(cd "$1/wine" && pwd)
export WINEDEBUG=-all WINEPREFIX="${WINEPREFIX:-$wine_folder/prefix}"
# Wine 8 lacks the one function of this library that Rust asks for randomness. The stand-in is for trying alone.
if [ ! -f "$wine_folder/bcryptprimitives.dll" ]; then
  cat >"$wine_folder/stand-in.c" <<'C'
#include <windows.h>
#include <ntsecapi.h>
__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE bytes, SIZE_T count) { return RtlGenRandom(bytes, (ULONG)count); }
C
  x86_64-w64-mingw32-gcc -shared -o "$wine_folder/bcryptprimitives.dll" "$wine_folder/stand-in.c" -ladvapi32
fi
export WINEDLLOVERRIDES="bcryptprimitives=n,b" WINEPATH="Z:${wine_folder//\//\\}"
