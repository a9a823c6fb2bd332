"""The eight cases whose reports and sheets are looked at on paper: engines of our own, captures by `practice`."""

import json, os, subprocess

from driver import ROOT, expect, read_text

# An invented V6 of four camshafts; its cams have SHORT names or LONG ones.
SIX = """name         = "{name}"
firing_order = [1, 6, 5, 4, 3, 2]

[banks]
1 = [1, 2, 3]
2 = [4, 5, 6]

[crank]
wheel  = "36-2"
sensor = "hall"
edge   = "falling"
tdc    = 86.0

[[cam]]
name   = "{0}"
bank   = 1
shaft  = "intake"
wheel  = "three-uneven"
sensor = "hall"
at     = 137.0
at_sd  = 0.8
source = "sound engine of the training workshop"
where  = "front bank, towards the radiator"
phaser = {{ rest = "retarded", travel = 46.0 }}

[[cam]]
name   = "{1}"
bank   = 1
shaft  = "exhaust"
wheel  = "six-minus-one"
sensor = "hall"
at     = 250.0
at_sd  = 0.8
where  = "front bank, towards the radiator"

[[cam]]
name    = "{2}"
bank    = 2
shaft   = "intake"
same_as = {{ cam = "{0}", later = 360.0 }}
at_sd   = 0.8
where   = "rear bank, towards the bulkhead"
phaser  = {{ rest = "retarded", travel = 46.0 }}

[[cam]]
name    = "{3}"
bank    = 2
shaft   = "exhaust"
same_as = {{ cam = "{1}", later = 360.0 }}
at_sd   = 0.8
where   = "rear bank, towards the bulkhead"

[[chain]]
name   = "primary"
kind   = "chain"
driver = {{ on = "crank", teeth = 19 }}
driven = [ {{ on = "{0}", teeth = 38 }}, {{ on = "{2}", teeth = 38 }} ]

[[chain]]
name   = "secondary 1"
kind   = "chain"
driver = {{ on = "{0}", teeth = 24 }}
driven = [ {{ on = "{1}", teeth = 24 }} ]

[[chain]]
name   = "secondary 2"
kind   = "chain"
driver = {{ on = "{2}", teeth = 24 }}
driven = [ {{ on = "{3}", teeth = 24 }} ]
"""
SHORT = ("B1 intake", "B1 exhaust", "B2 intake", "B2 exhaust")
LONG = tuple(f"camshaft position sensor, bank {bank}, {shaft} side, {end} of the engine" for bank, end in ((1, "front"), (2, "rear")) for shaft in ("intake", "exhaust"))

# As full as a workshop fills it in; texts of up to 120 characters, the most that a job file takes.
JOB = """number = "2026-11-4711, second visit after the battery was renewed"
vehicle = "grey estate, automatic gearbox, trailer coupling, used as a taxi in town and on the motorway alike"
mileage = "238 450 km, read from the dashboard"
technician = "the one of the morning shift"
date = "26 November 2026"
work = "Chain, guides and tensioner renewed; bank 2 put on its marks"
identification = "the seventeen letters and figures from the plate behind the windscreen, compared with the registration document"
scope = "four channels, 12 bit, 20 000 samples per second each, on its battery, not connected to the vehicle's supply"
clamp = "600 A, 1 mV/A, zeroed before each capture, around the starter cable close to the battery"
leads = "back-probed at the controller's connector with pins of 0.6 mm, ground at the sensor's own ground"
battery_cranking = "9.8 V at the posts, 9.6 V at the starter"
coolant = "20 °C at the scan tool; the engine stood overnight"
oil = "5W-30, level right, changed 6000 km ago"
phaser_command = "none while cranking"
freeze_frame = "P0018: 180 rpm\\nload 20 %\\ncoolant 21 °C\\nbattery 9.7 V\\nintake cam bank 2, wanted 0.0°, read 17.1°"
parts = ["timing chain kit with guides and tensioner", "front cover seal", "water pump with seal", "oil and filter", "bolts of the sprockets"]
hours.covers = 3.4
hours.repair = 6.5
before.temperature = "20 °C, the engine stood overnight"
before.method = "five seconds of cranking, coils unplugged, throttle shut, battery charger connected"
after.temperature = "22 °C"
after.method = "the same"
"""


def six(names=SHORT, name="Invented V6, four camshafts"):
    return SIX.format(*names, name=name)


def unknown(engine):
    """The same engine, of which nobody knows where its cams should stand."""
    return "".join(line + "\n" for line in engine.splitlines() if not line.startswith(("at ", "at_sd", "source")))


FOUR = os.path.join(ROOT, "tests", "report", "four-cams.toml")
LATE = ["--fault", "skip:B2 intake@primary:+1"]
CLAMPS = ["--with", "starter", "--with", "ignition 3"]

# Name, text of the engine file, what `practice` is told, what `check` is told, the finding.
CASES = [
    ("four cams", six(), LATE + CLAMPS, ["--codes", "P0018,P0019,P0016,P0300", "--phaser", "B1 intake=0", "--phaser", "B2 intake=0"], "jumped"),
    ("eight cylinders", read_text(FOUR), ["--fault", "skip:B2 intake@primary:+2"] + CLAMPS, [], "jumped"),
    ("long names", six(LONG, "Invented V6 of the training workshop, four camshafts, second series, with the tall gearbox"),
     ["--fault", f"skip:{LONG[2]}@primary:+1"] + CLAMPS, ["--codes", "P0018"], "jumped"),
    ("no specification", unknown(six()), LATE + CLAMPS, ["--codes", "P0018"], "jumped"),
    ("cannot tell", six(), ["--fault", "cam-wheel:B2 intake:9.5", "--without", "B1 exhaust", "--without", "B2 exhaust", "--preset", "nasty"] + CLAMPS, [], "cannot_tell"),
    # Places typed in degrees of the cam.
    ("does not fit", six().replace("137.0", "68.5").replace("250.0", "125.0"), CLAMPS, ["--codes", "P0018"], "does_not_fit"),
]


def run(program, folder, *words):
    """Runs the program in a folder; a file that cannot be used is a mistake of the test."""
    done = subprocess.run([program, *words], cwd=folder, capture_output=True, text=True)
    if done.returncode not in (0, 3):
        raise SystemExit(f"{words}: {done.stderr}")
    return done.stdout


def write(folder, name, text):
    path = os.path.join(folder, name)
    with open(path, "w", encoding="utf-8") as out:
        out.write(text)
    return path


def make(program, work):
    """Makes the reports and the sheets: the name of a case, and its file."""
    made = []
    for name, engine, practice, check, finding in CASES:
        folder = os.path.join(work, name.replace(" ", "-"))
        os.makedirs(folder, exist_ok=True)
        write(folder, "engine.toml", engine)
        write(folder, "job.toml", JOB)
        # The engine that the capture is of: one whose places are known, and whose file is right.
        write(folder, "truth.toml", six() if name in ("no specification", "does not fit") else engine)
        run(program, folder, "practice", "--engine", "truth.toml", *practice, "--out", "capture.csv", "--force")
        run(program, folder, "check", "capture.csv", "--engine", "engine.toml", *check, "--job", "job.toml", "--report", "report.html", "--json", "result.json", "--force")
        with open(os.path.join(folder, "result.json"), encoding="utf-8") as result:
            state = json.load(result)["verdict"]["state"]
        expect(state == finding, f"{name}: the finding is {finding} ({state})")
        made.append((name, os.path.join(folder, "report.html")))
    folder = os.path.join(work, "four-cams")
    run(program, folder, "practice", "--engine", "engine.toml", "--only", "starter,ignition 3", "--fault", "dead-cylinder:4", "--seconds", "5", "--out", "leads.csv", "--force")
    run(program, folder, "check", "leads.csv", "--engine", "engine.toml", "--job", "job.toml", "--report", "compression.html", "--force")
    made.append(("compression only", os.path.join(folder, "compression.html")))
    run(program, folder, "practice", "--engine", "engine.toml", "--take", "2", *CLAMPS, "--out", "after.csv", "--force")
    run(program, folder, "compare", "capture.csv", "after.csv", "--engine", "engine.toml", "--job", "job.toml", "--report", "sheet.html", "--force")
    made.append(("after repair", os.path.join(folder, "sheet.html")))
    return made
