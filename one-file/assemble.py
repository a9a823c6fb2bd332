#!/usr/bin/env python3
"""Puts the one HTML file together: one-file/assemble.py MODULE.wasm OUT.html"""

import base64, gzip, os, re, sys

HERE = os.path.dirname(os.path.abspath(__file__))


def text(name):
    with open(os.path.join(HERE, name), encoding="utf-8") as file:
        return file.read()


def main(module, out):
    with open(module, "rb") as file:
        # Without a time, so that the same program makes the same file.
        packed = gzip.compress(file.read(), 9, mtime=0)
    version = re.search(r'^version = "(.+)"', text("../Cargo.toml"), re.M).group(1)
    parts = {name: text(name + ".js") for name in ("worker", "carrier", "loader")}
    for name, part in parts.items():
        if re.search("</script|<!--", part, re.I):
            raise SystemExit(f"one-file/{name}.js: would end the script it stands in")
    parts |= {"program": base64.b64encode(packed).decode(), "version": version}
    page = re.sub(r"\{(program|worker|carrier|loader|version)\}", lambda found: parts[found.group(1)], text("page.html"))
    # Whole or not at all.
    with open(out + ".tmp", "w", encoding="utf-8") as file:
        file.write(page)
    os.replace(out + ".tmp", out)


main(*sys.argv[1:])
