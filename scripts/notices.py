#!/usr/bin/env python3
"""Writes the notices of everything a built program holds: scripts/notices.py TARGET OUT.txt [CARGO OPTIONS]

Every crate linked for TARGET with its licence and the licence texts it comes with, texts that are the same written once;
then fonts, the plotting library and the standard library of Rust. Leaves with status 1 when a crate states no licence.
"""

import json, os, re, subprocess, sys

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..")
TEXTS = re.compile(r"^(licen[cs]e|copying|notice|unlicense|copyright|authors)", re.I)


def linked(target, options):
    """Names and versions of the crates that are linked, after what cargo itself says of its tree."""
    command = ["cargo", "tree", "--locked", "--edges", "normal", "--prefix", "none", "--format", "{p}", "--target", target, *options]
    tree = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    return {tuple(line.split()[:2]) for line in tree.splitlines() if line.strip()}


def texts(folder):
    found = []
    for name in sorted(os.listdir(folder)):
        path = os.path.join(folder, name)
        if TEXTS.match(name) and os.path.isfile(path):
            with open(path, encoding="utf-8", errors="replace") as file:
                found.append((name, file.read().strip()))
    return found


def main(target, out, *options):
    metadata = subprocess.run(["cargo", "metadata", "--locked", "--format-version", "1"], cwd=ROOT, check=True, capture_output=True, text=True)
    packages = {(one["name"], "v" + one["version"]): one for one in json.loads(metadata.stdout)["packages"]}
    # Own licences for the crates that state one of these and bring no text.
    standard = {}
    for name in ("LICENSE-MIT", "LICENSE-APACHE"):
        with open(os.path.join(ROOT, name), encoding="utf-8") as file:
            standard[name] = file.read().strip()
    lines = ["Camwitness holds the work of others, listed here with the licences it is used under.", ""]
    shared = {}  # text: who uses it
    unstated = []
    for key in sorted(linked(target, options)):
        package = packages.get(key)
        if package is None or package["source"] is None:
            continue
        named = f"{package['name']} {package['version']}"
        if not package["license"] and not package["license_file"]:
            unstated.append(named)
        lines.append(f"{named}: {package['license'] or package['license_file']}" + (f", {', '.join(package['authors'])}" if package["authors"] else ""))
        own = texts(os.path.dirname(package["manifest_path"]))
        if not own:
            licence = package["license"] or ""
            own = [(name, text) for name, text in standard.items() if ("MIT" if name.endswith("MIT") else "Apache-2.0") in licence]
        for name, text in own:
            shared.setdefault(text, []).append(named)
    if unstated:
        raise SystemExit(f"no licence is stated by {', '.join(unstated)}")
    for name, folder in (("The fonts of pictures (DejaVu Sans Condensed)", "assets/font"), ("The plotting library of reports (uPlot)", "assets/uplot")):
        lines.append(f"{name}: below")
        for _, text in texts(os.path.join(ROOT, folder)):
            shared.setdefault(text, []).append(name)
    lines.append("The standard library of Rust: MIT OR Apache-2.0, The Rust Project Developers")
    for text in standard.values():
        shared.setdefault(text, []).append("The standard library of Rust")
    for text, users in shared.items():
        lines += ["", "=" * 100, "Of " + ", ".join(users), "-" * 100, text]
    with open(out, "w", encoding="utf-8") as file:
        file.write("\n".join(lines) + "\n")
    print(f"{out}: {len(shared)} licence texts")


main(*sys.argv[1:])
