"""Makes the seeds in fuzz/corpus from the project's own files and from practice captures.

Run in the project's top folder:  python3 fuzz/make_seeds.py path/to/camwitness
"""
import pathlib, subprocess, sys, tempfile

program = sys.argv[1]
corpus = pathlib.Path("fuzz/corpus")


def seed(target, name, *parts):
    folder = corpus / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(b"".join(parts))


def practice(*words, engine="demo-data/engine.toml"):
    with tempfile.TemporaryDirectory() as folder:
        out = f"{folder}/c.csv"
        subprocess.run([program, "practice", "--engine", engine, "--out", out, "--seed", "7", *words], check=True)
        return pathlib.Path(out).read_text()


# Text tables, every dialect once: the first byte is what the user says beside the file.
tables = {
    "plain": (0, "Time (s),crank (V),cam (V)\n0.000,0.1,4.9\n0.001,0.2,4.8\n0.002,∞,4.9\n0.003,0.1,---\n"),
    "comma": (0x06, '"Zeit";"A";"B"\r\n(ms);(V);(mV)\r\n\r\n0,1;1,5;-300\r\n0,2;1,25;300\r\n0,3;;1.200,5\r\n'),
    "tab": (0x08, "title line\nt\tA\n1\t1e-3\n2\t-2.5E+2\n3\tinf\n4\tNaN\n"),
    "rate": (0x01, "A,B\n0,1\n1,1\n1,0\n0,0\n"),
    "cr": (0x10, "time,A\r0.1,1\r0.2,2\r0.3,3\r"),
    "interval": (0, "Start,-0.5\nIncrement,0.001\nX,CH1\n0,0.5\n1,0.6\n2,0.7\n3,0.8\n"),
    "buffers": (0, "Time (ms),A (V)\n1,1\n2,2\n3,3\nTime (ms),A (V)\n1,1\n2,2\n"),
    "cut": (0x60, "time (s),A\n0.000,1\n0.002,1\n0.004,2\n0.006,1\n0.008,2\n0.010,3\n"),
    "trailing": (0, "Time (s),A (V),\n0.1,1,\n0.2,2,\n0.3,,\n"),
}
for name, (said, text) in tables.items():
    seed("read_csv", name, bytes([said]), text.encode())
seed("read_csv", "utf16", b"\0", tables["plain"][1].encode("utf-16"))
seed("read_csv", "bom", b"\0", tables["plain"][1].encode("utf-8-sig"))
seed("read_csv", "latin1", b"\0", "t (µs),A (V)\n1,1\n2,2\n3,1\n".encode("latin-1"))

# Lists of changes.
fixtures = pathlib.Path("tests/fixtures/formats")
events = "time (us),crank,cam\n10,0,1\n375,1,1\n512,0,1\n1100,0,0\n1101,1,0\n1101,1,0\n"
seed("read_events", "text", b"\0", events.encode())
seed("read_events", "asked", b"\x0e", events.replace(" (us)", "").encode())
seed("read_events", "dump", b"\x01", (fixtures / "events.vcd").read_bytes())

# Other formats; the mark in front is put there by the target where the first byte says so.
for name in ["sampled.csv.gz", "sampled.npy", "columns.npy", "sampled.wav", "float.wav", "named.npz", "table.npz"]:
    seed("read_formats", name, b"\0", (fixtures / name).read_bytes())
seed("read_formats", "marked.npy", b"\x03", (fixtures / "whole.npy").read_bytes()[8:])
seed("read_formats", "marked.wav", b"\x04", (fixtures / "sampled.wav").read_bytes()[16:])
seed("read_formats", "marked.npz", b"\x06", (fixtures / "named.npz").read_bytes()[4:])

# Descriptions.
for path in sorted(pathlib.Path("tooth-patterns").glob("*.toml")):
    seed("descriptions", f"wheel-{path.stem}", b"\0", path.read_bytes())
for number, notation in enumerate(["60-2", "4", "36-1", "12"]):
    seed("descriptions", f"notation-{number}", b"\x01", notation.encode())
engines = ["demo-data/engine.toml", *map(str, sorted(pathlib.Path("tests/report").glob("*.toml")))]
for path in engines:
    name = pathlib.Path(path).stem
    seed("descriptions", f"engine-{name}", b"\x02", pathlib.Path(path).read_bytes())
known = """format = "camwitness-known/1"
engine = "Demonstration V6"
crank_wheel = "36-2, one gap"
pass_known = true
[[capture]]
file = "good-1.csv"
vehicle = 1
at = { "B1 intake" = 113.1, "B2 intake" = 473.4 }
ci95 = { "B1 intake" = 0.4, "B2 intake" = 0.4 }
"""
seed("descriptions", "known", b"\x03", known.encode())

# The whole check. Engine 0 is the demonstration engine. Mode 0: a file; 1: samples of a byte each; 2: changes.
short = ["--seconds", "1.2", "--rpm", "235"]
faults = {"sound": [], "late": ["--fault", "skip:B1 intake@primary:+1"]}
for name, words in faults.items():
    text = practice("--events", "--bare", *short, *words)
    seed("whole_check", f"file-{name}", b"\0\x80\0", text.encode())
    rows = [[float(cell) for cell in line.split(",")] for line in text.splitlines()[1:]]
    changes, before, time = bytearray(), rows[0], rows[0][0]
    # 20 us << 3 per count: what `changes` in the target undoes, to a sixth of a millisecond.
    for row in rows[1:]:
        for line in range(min(4, len(row) - 1)):
            if row[line + 1] != before[line + 1]:
                count = min(63, round((row[0] - time) / 160e-6))
                time += count * 160e-6 + 1e-6
                changes.append(line << 6 | count)
        before = row
    seed("whole_check", f"changes-{name}", bytes([0, 0x30, 2]), bytes(changes))
    rows = practice("--rate", "2000", "--bits", "8", *short, *words).splitlines()[1:]
    levels = [[float(cell) for cell in row.split(",")[1:4]] for row in rows]
    top = max(max(row) for row in levels) or 1.0
    samples = bytes(max(0, min(255, round(level / top * 250))) for row in levels for level in row)
    seed("whole_check", f"samples-{name}", bytes([0, 0x21, 1]), samples)
# The other engines that practice can make captures of.
for number, name in enumerate(["one-cam", "three-cams", "four-cams"], start=1):
    text = practice("--events", "--bare", *short, engine=f"tests/report/{name}.toml")
    seed("whole_check", f"file-{name}", bytes([number, 0, 0]), text.encode())
print(sum(path.stat().st_size for path in corpus.rglob("*") if path.is_file()), "bytes in all")
