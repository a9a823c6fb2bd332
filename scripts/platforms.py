#!/usr/bin/env python3
"""Writes one row of the table in docs/platforms.md: scripts/platforms.py KEY CELL..., called by the scripts beside it."""

import os, re, sys

DOC = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "docs", "platforms.md")


def main(key, *cells):
    with open(DOC, encoding="utf-8") as file:
        text = file.read()
    row = "| " + " | ".join(cells) + f" | <!-- {key} -->"
    text, count = re.subn(rf"^\|.*<!-- {re.escape(key)} -->$", lambda _: row, text, flags=re.M)
    if count != 1:
        raise SystemExit(f"docs/platforms.md has no row <!-- {key} -->")
    with open(DOC, "w", encoding="utf-8") as file:
        file.write(text)


main(*sys.argv[1:])
