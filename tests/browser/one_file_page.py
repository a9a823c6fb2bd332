"""What the tests of the one HTML file do with it: opening it, giving it captures, measuring, timing."""

import os, subprocess

from driver import ROOT, expect


def opened(browser, path):
    browser.go("file://" + path)
    return browser.wait("the file to be ready", "return document.documentElement.dataset.ready")


def reads(browser, address):
    return browser.run("return camwitness.modules['/carrier.js'].reads(arguments[0])", address)


def given(browser, path):
    """A file chosen with the file dialog: read from the disk, as from a stick."""
    browser.run("document.getElementById('capture-about').textContent = ''; document.getElementById('capture-error').textContent = ''")
    browser.type("#file", path)
    return browser.wait(f"{os.path.basename(path)} to be read", """
        const error = document.getElementById("capture-error").textContent;
        return error || (document.getElementById("uploading").hidden && document.getElementById("capture-about").textContent);
    """)


def measured(browser):
    """Presses Measure; the number of the run that is then shown."""
    before = browser.run("return document.getElementById('report').dataset.shows || ''")
    browser.wait("the button", "return !document.getElementById('run').disabled")
    browser.click("#run")
    shown = browser.wait("the report", """
        const error = document.getElementById("run-error").textContent;
        const now = document.getElementById("report").dataset.shows;
        return error ? "error: " + error : now !== arguments[0] && now;
    """, before)
    expect(shown.startswith("/runs/"), f"measured: {shown}")
    return shown.rsplit("/", 1)[0] + "/"


def practice(program, out, seconds):
    engine = os.path.join(ROOT, "demo-data", "engine.toml")
    subprocess.run([program, "practice", "--engine", engine, "--seconds", str(seconds), "--rate", "10000", "--seed", "3", "--out", out], check=True, stdout=subprocess.DEVNULL)


TIMED = """
    const done = arguments[0];
    const [about, run, finding] = ["capture-about", "run", "finding"].map((id) => document.getElementById(id));
    const until = (what) => new Promise((come) => { const look = () => { if (what()) come(performance.now()); else setTimeout(look, 2); }; look(); });
    const measured = async () => {
      delete finding.dataset.state;
      const begun = performance.now();
      run.click();
      return await until(() => finding.dataset.state) - begun;
    };
    (async () => {
      const begun = performance.now();
      document.querySelector("#demonstration [data-file='bank2-late.csv']").click();
      const read = await until(() => about.textContent.startsWith("bank2-late.csv") && !run.disabled) - begun;
      done([document.documentElement.dataset.ready, read, await measured(), await measured()].map(Number));
    })();
"""


def times(browser, path):
    """Milliseconds until the file is ready, until the demonstration is read, until its finding stands there, and until the
    finding of a second measurement does: of seven openings the least, since the computer may have other work."""
    rows = []
    for _ in range(7):
        opened(browser, path)
        rows.append(browser.call("POST", "/execute/async", {"script": TIMED, "args": []}))
    least = [min(row[at] for row in rows) for at in range(4)]
    most = [max(row[at] for row in rows) for at in range(4)]
    print("ready, read, found, found again, in ms: least", [round(one) for one in least], "most", [round(one) for one in most])
    return least
