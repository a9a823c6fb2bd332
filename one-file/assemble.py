#!/usr/bin/env python3
"""Puts the one HTML file together: one-file/assemble.py MODULE.wasm OUT.html [--quick]"""

import gzip, os, re, shutil, subprocess, sys, tempfile

HERE = os.path.dirname(os.path.abspath(__file__))


def text(name):
    with open(os.path.join(HERE, name), encoding="utf-8") as file:
        return file.read()


# Seven bits a character, an eighth less than base64 takes. Four of the 128 characters would not come through: a reader of HTML changes NUL and
# CR and sees the end of the script behind <, and whatever carries a text may change LF. Each is written together with the seven bits behind it
# as one character of two bytes, from FIRST_PAIR on; at the very end, where there are none, as one from FIRST_ALONE on.
NOT_BROUGHT = (0, 10, 13, 60)
FIRST_PAIR = 0xC0
FIRST_ALONE = FIRST_PAIR + 128 * len(NOT_BROUGHT)


def sevens(data):
    """Seven bits at a time; the first bit of a byte is its highest, the last seven are filled up."""
    held = bits = 0
    for byte in data:
        held, bits = (held << 8 | byte) & 0x7FFF, bits + 8
        while bits >= 7:
            bits -= 7
            yield held >> bits & 127
    if bits:
        yield held << (7 - bits) & 127


def written(data):
    """Bytes as a text that a script element of HTML in UTF-8 holds."""
    out, values = [], sevens(data)
    for value in values:
        if value not in NOT_BROUGHT:
            out.append(chr(value))
            continue
        at, behind = NOT_BROUGHT.index(value), next(values, None)
        out.append(chr(FIRST_ALONE + at if behind is None else FIRST_PAIR + (at << 7 | behind)))
    return "".join(out)


def read(text):
    """The bytes of `written`."""
    held = bits = 0
    out = bytearray()
    for letter in map(ord, text):
        if letter < 128:
            values = [letter]
        elif letter >= FIRST_ALONE:
            values = [NOT_BROUGHT[letter - FIRST_ALONE]]
        else:
            values = [NOT_BROUGHT[letter - FIRST_PAIR >> 7], letter - FIRST_PAIR & 127]
        for value in values:
            held, bits = (held << 7 | value) & 0x7FFF, bits + 7
            if bits >= 8:
                bits -= 8
                out.append(held >> bits & 255)
    return bytes(out)


# What rustc makes for wasm32-unknown-unknown of today, which wasm-opt has to be told.
FEATURES = ("bulk-memory", "sign-ext", "nontrapping-float-to-int", "mutable-globals", "multivalue", "reference-types")


def had(tool, package, loss):
    """Whether a tool that makes the file smaller is to be had; said where it is not."""
    if shutil.which(tool):
        return True
    print(f"{tool} is not to be had here: the file is {loss} larger (apt-get install {package})", file=sys.stderr)
    return False


def packed_with(tool, module):
    """The module packed with gzip, by zopfli or by what Python has."""
    if tool:
        return subprocess.run([tool, "-c", module], check=True, capture_output=True).stdout
    with open(module, "rb") as file:
        # Without a time, so that the same program makes the same file.
        return gzip.compress(file.read(), 9, mtime=0)


def smallest(module, quick):
    """The module packed with gzip: made smaller by wasm-opt, which does the same with a thirtieth less, and packed by zopfli, which takes
    ten seconds for a twentieth less, where they are to be had."""
    if quick:
        return packed_with(None, module)
    with tempfile.TemporaryDirectory() as work:
        if had("wasm-opt", "binaryen", "a thirtieth"):
            smaller = os.path.join(work, "smaller.wasm")
            subprocess.run(["wasm-opt", "-Oz", *(f"--enable-{one}" for one in FEATURES), module, "-o", smaller], check=True)
            module = smaller
        return packed_with("zopfli" if had("zopfli", "zopfli", "a twentieth") else None, module)


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
