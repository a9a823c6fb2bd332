#!/usr/bin/env python3
"""Holds a program built for another system against the native one: scripts/same.py NATIVE KEY WHAT [COMMAND...]

COMMAND starts the other program, under wine or an emulator. Both check the demonstration and, where CAMWITNESS_CAPTURES
names their folder, every recording of tests/recordings/table.toml: exit status, JSON and report are to be the same to the
byte. With CAMWITNESS_WRITE_PLATFORMS set, the row KEY of docs/platforms.md then says what starting and a check took. Without
COMMAND it is the native program that is timed.
"""

import os, resource, subprocess, sys, tempfile, tomllib

ROOT = os.path.realpath(os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
DEMONSTRATION = ["sound.csv", "bank2-late.csv", "repaired.csv"]


def jobs():
    """Folder, capture, engine and leads of everything that is checked."""
    demo = os.path.join(ROOT, "demo-data")
    for name in DEMONSTRATION:
        yield demo, name, os.path.join(demo, "engine.toml"), []
    captures = os.environ.get("CAMWITNESS_CAPTURES")
    if not captures:
        print("CAMWITNESS_CAPTURES is not set: the recordings were NOT checked", file=sys.stderr)
        return
    engines = os.path.join(ROOT, "tests", "recordings")
    with open(os.path.join(engines, "table.toml"), "rb") as file:
        for row in tomllib.load(file)["recording"]:
            yield captures, row["file"], os.path.join(engines, row["engine"]), row["leads"]


def ran(command, folder, words):
    """What a command leaves: status and words for standard error, and the processor seconds it took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([*command, *words], cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, timeout=900)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return done.returncode, done.stderr.decode(errors="replace").replace("\r\n", "\n"), took


def checked(command, work, folder, capture, engine, leads):
    """Status, seconds, and the files a check leaves."""
    files = [os.path.join(work, name) for name in ("result.json", "report.html")]
    words = ["check", capture, "--engine", engine, "--quiet", "--force", "--json", files[0], "--report", files[1]]
    for lead in leads:
        words += ["--lead", lead]
    status, said, took = ran(command, folder, words)
    left = []
    for file in files:
        left.append(open(file, "rb").read() if os.path.exists(file) else None)
        if left[-1] is not None:
            os.remove(file)
    return status, said, took, left


def timed(command, work):
    """Processor seconds of starting and of checking the demonstration: of five the least, the computer may have other work."""
    demonstration = [os.path.join(ROOT, "demo-data"), "bank2-late.csv", os.path.join(ROOT, "demo-data", "engine.toml"), []]
    start = min(ran(command, work, ["--version"])[2] for _ in range(5))
    return start, min(checked(command, work, *demonstration)[2] for _ in range(5))


def same(native, command, work):
    """How many captures both were given; ends this when anything differs."""
    count = differ = 0
    for folder, capture, engine, leads in jobs():
        status, said, _, files = checked(native, work, folder, capture, engine, leads)
        other_status, other_said, _, other_files = checked(command, work, folder, capture, engine, leads)
        if files[0] is None:
            raise SystemExit(f"{capture}: the native program leaves no result: {said}")
        count += 1
        for name, here, there in zip(("result", "report"), files, other_files):
            if here != there:
                differ += 1
                print(f"{capture}: another {name}, {len(here)} bytes against {len(there or b'')} {other_said}", file=sys.stderr)
        if status != other_status:
            differ += 1
            print(f"{capture}: status {other_status}, not {status}: {other_said}", file=sys.stderr)
    if differ:
        raise SystemExit(f"{differ} results are not the native program's")
    print(f"JSON and report of {count} captures are the native program's, to the byte")
    return count


def main(native, key, what, *command):
    native = [os.path.realpath(native)]
    with tempfile.TemporaryDirectory() as work:
        count = same(native, list(command), work) if command else None
        if os.environ.get("CAMWITNESS_WRITE_PLATFORMS"):
            start, check = timed(list(command) or native, work)
            said = "" if count is None else f"demonstration and {count - len(DEMONSTRATION)} recordings"
            row = [what, f"{start:.2f} s", f"{check:.2f} s", "", said]
            subprocess.run([sys.executable, os.path.join(ROOT, "scripts", "platforms.py"), key, *row], check=True)


main(*sys.argv[1:])
