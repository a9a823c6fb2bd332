#!/usr/bin/env python3
"""Puts the one HTML file together: one-file/assemble.py MODULE.wasm OUT.html [--quick]"""

import gzip, os, re, shutil, subprocess, sys, tempfile

HERE = os.path.dirname(os.path.abspath(__file__))


def text(name):
    with open(os.path.join(HERE, name), encoding="utf-8") as file:
        return file.read()


# Seven bits a character, an eighth less than base64 takes. Four of the 128 characters would not come through: a reader of HTML changes NUL and
# CR and sees the end of the script behind <, and whatever carries a text may change LF. Each has another in its place.
STANDS_FOR = {0: "\u00e0", 10: "\u00e1", 13: "\u00e2", 60: "\u00e3"}


def written(data):
    """Bytes as a text that a script element of HTML in UTF-8 holds; the first bit of a byte is its highest, the last character is filled up."""
    letters = [STANDS_FOR.get(value, chr(value)) for value in range(128)]
    held = bits = 0
    out = []
    for byte in data:
        held, bits = held << 8 | byte, bits + 8
        while bits >= 7:
            bits -= 7
            out.append(letters[held >> bits])
            held &= (1 << bits) - 1
    if bits:
        out.append(letters[held << (7 - bits)])
    return "".join(out)


def read(text):
    """The bytes of `written`."""
    values = {letter: value for value, letter in STANDS_FOR.items()}
    held = bits = 0
    out = bytearray()
    for letter in text:
        held, bits = held << 7 | values.get(letter, ord(letter) & 127), bits + 7
        if bits >= 8:
            bits -= 8
            out.append(held >> bits)
            held &= (1 << bits) - 1
    return bytes(out)


# What rustc makes for wasm32-unknown-unknown of today, which wasm-opt has to be told.
FEATURES = ("bulk-memory", "sign-ext", "nontrapping-float-to-int", "mutable-globals", "multivalue", "reference-types")


def had(tool, package, loss):
    """Whether a tool that makes the file smaller is to be had; said where it is not."""
    if shutil.which(tool):
        return True
    print(f"{tool} is not to be had here: the file is {loss} larger (apt-get install {package})", file=sys.stderr)
    return False


def smallest(module, quick):
    """The module packed with gzip: made smaller by wasm-opt, which does the same with a thirtieth less, and packed by zopfli, which takes
    ten seconds for a twentieth less, where they are to be had."""
    if quick:
        with open(module, "rb") as file:
            # Without a time, so that the same program makes the same file.
            return gzip.compress(file.read(), 9, mtime=0)
    with tempfile.TemporaryDirectory() as work:
        if had("wasm-opt", "binaryen", "a thirtieth"):
            smaller = os.path.join(work, "smaller.wasm")
            subprocess.run(["wasm-opt", "-Oz", *(f"--enable-{one}" for one in FEATURES), module, "-o", smaller], check=True)
            module = smaller
        if had("zopfli", "zopfli", "a twentieth"):
            return subprocess.run(["zopfli", "-c", module], check=True, capture_output=True).stdout
        with open(module, "rb") as file:
            return gzip.compress(file.read(), 9, mtime=0)


def main(module, out, quick=None):
    packed = smallest(module, quick)
    version = re.search(r'^version = "(.+)"', text("../Cargo.toml"), re.M).group(1)
    parts = {name: text(name + ".js") for name in ("worker", "carrier", "loader")}
    for name, part in parts.items():
        if re.search("</script|<!--", part, re.I):
            raise SystemExit(f"one-file/{name}.js: would end the script it stands in")
    parts |= {"program": written(packed), "version": version}
    page = re.sub(r"\{(program|worker|carrier|loader|version)\}", lambda found: parts[found.group(1)], text("page.html"))
    # Whole or not at all.
    with open(out + ".tmp", "w", encoding="utf-8", newline="") as file:
        file.write(page)
    os.replace(out + ".tmp", out)


if __name__ == "__main__":
    main(*sys.argv[1:])
