#!/usr/bin/env python3
"""The one HTML file, opened from a folder in headless Chromium, against the built program.

    tests/browser/one_file.py FILE.html PROGRAM [--firefox] [--all] [--large MB] [--times] [--pictures FOLDER]

Reads and measures the demonstration and two recordings (with --all every one) and holds JSON and report against what
PROGRAM writes: equal to the byte. --large makes a capture of so many megabytes and has it read. --times opens the file
several times and says how long everything takes. With CAMWITNESS_WRITE_PLATFORMS set, what was found goes into
docs/platforms.md. Recordings stand in the folder CAMWITNESS_CAPTURES names. Needs what run.py needs; --firefox takes
Firefox in place of Chromium, for all but the narrow screen.
"""

import argparse, json, os, shutil, subprocess, sys, tempfile, time, tomllib

sys.dont_write_bytecode = True  # `driver` is beside this file, and nothing is left there

from driver import Browser, DEMONSTRATION, ROOT, SIZES, expect, keep, no_overflow, save_all
from firefox import Firefox
from one_file_faults import bad_input, cancelled, large, nothing_leaves, old_browser, trapped
from one_file_page import given, measured, opened, reads, times

TWO = ["v6-cranking-two-bank-cams.csv", "start-60-2-single-cam.csv"]


def same_as_native(browser, program, work, base, folder, capture, engine, leads):
    """JSON and report of a run, held against the program's."""
    json_file, report = os.path.join(work, "native.json"), os.path.join(work, "native.html")
    command = [program, "check", capture, "--engine", engine, "--json", json_file, "--report", report, "--force", "--quiet"]
    for lead in leads:
        command += ["--lead", lead]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True)
    if done.returncode not in (0, 3):
        raise SystemExit(done.stderr)
    for name, path in (("result.json", json_file), ("report.html", report)):
        with open(path, encoding="utf-8") as file:
            native = file.read()
        here = reads(browser, base + name)
        at = next((i for i, (a, b) in enumerate(zip(here, native)) if a != b), min(len(here), len(native)))
        expect(here == native, f"{capture}: {name} is the program's, {len(native)} characters"
               + ("" if here == native else f": {here[max(0, at - 80):at + 80]!r} against {native[max(0, at - 80):at + 80]!r}"))
    return json.loads(here if name.endswith("json") else reads(browser, base + "result.json"))


def chosen_leads(browser):
    """Leads as the page has them, for the command line."""
    return browser.run("""
        return [...document.querySelectorAll("#channels .channel")].map((box) => [box.querySelector("select").value, box.querySelector("b").textContent])
          .filter(([role]) => role).map(([role, column]) => role + "=" + column);
    """)


def demonstration(browser, program, work, folder):
    demo = os.path.join(ROOT, "demo-data")
    for name, state in DEMONSTRATION:
        browser.run("document.getElementById('capture-about').textContent = ''")
        browser.click(f"#demonstration [data-file='{name}']")
        browser.wait("the demonstration", "return document.getElementById('capture-about').textContent.startsWith(arguments[0])", name)
        base = measured(browser)
        found = browser.run("return document.getElementById('finding').dataset.state")
        expect(found == state, f"{name} is found {found}")
        same_as_native(browser, program, work, base, demo, name, os.path.join(demo, "engine.toml"), chosen_leads(browser))
    frame = browser.run("const f = document.getElementById('report'); return [f.getAttribute('sandbox'), f.srcdoc.length > 100000]")
    expect(frame == ["allow-scripts allow-modals", True], f"the report stands in a frame where its scripts reach nothing: {frame}")
    browser.click("#compare-go")
    outcome = browser.wait("the comparison", "const f = document.querySelector('#compared [data-outcome]'); return f && f.dataset.outcome")
    expect(outcome, f"before and after are compared: {outcome}")
    keep(folder, "one-file.png", browser.call("GET", "/screenshot"))


def recordings(browser, program, work, names):
    captures = os.environ.get("CAMWITNESS_CAPTURES")
    if not captures:
        print("CAMWITNESS_CAPTURES is not set: the recordings were NOT read")
        return 0
    count = 0
    engines = os.path.join(ROOT, "tests", "recordings")
    with open(os.path.join(engines, "table.toml"), "rb") as file:
        table = tomllib.load(file)["recording"]
    for row in table:
        if names and row["file"] not in names or "engine" not in row:
            continue
        engine = os.path.join(engines, row["engine"])
        # Engines of one name are told apart by more words behind it.
        before = browser.run("return document.getElementById('engine').value")
        browser.type("#engine-file", engine)
        with open(engine, "rb") as file:
            wanted = tomllib.load(file)["name"]
        browser.wait("the engine", """
            const e = document.getElementById('engine');
            return e.value !== arguments[1] && e.selectedIndex >= 0 && e.options[e.selectedIndex].text.startsWith(arguments[0]);
        """, wanted, before)
        browser.run("for (const box of document.querySelectorAll('#channels .channel')) box.dataset.before = 1")
        said = given(browser, os.path.join(captures, row["file"]))
        expect(said.startswith(row["file"]), said)
        browser.wait("its channels", "return document.querySelectorAll('#channels .channel:not([data-before])').length")
        for lead in row.get("leads", []):
            role, column = lead.split("=", 1)
            browser.run("""
                for (const box of document.querySelectorAll("#channels .channel")) {
                  const select = box.querySelector("select");
                  const called = box.querySelector("b").textContent.trim();
                  const here = called === arguments[1].trim() || called === "column " + arguments[1].trim();
                  if (!here && select.value !== arguments[0]) continue;
                  select.value = here ? arguments[0] : "";
                  select.dispatchEvent(new Event("change"));
                }
            """, role, column)
        # What the page is unsure of it says a moment after the channels stand there.
        browser.wait("the button", """
            for (const tick of document.querySelectorAll("#channels .unsure input[type=checkbox]:not(:checked)")) tick.click();
            return !document.getElementById("run").disabled;
        """)
        # A column without a name is shown by its position, which the command line takes by itself.
        leads = [lead.replace("=column ", "=") for lead in chosen_leads(browser)]
        base = measured(browser)
        same_as_native(browser, program, work, base, captures, row["file"], engine, leads)
        count += 1
    return count


def shelved(browser):
    """An engine and a job on the shelf of this page."""
    browser.run("const e = document.getElementById('engine'); e.value = e.options[1].value; e.dispatchEvent(new Event('change'))")
    browser.wait("a name", "return document.getElementById('shelve-name').value")
    browser.set("#shelve-name", "Grey V6")
    browser.click("#shelve")
    browser.wait("it on the shelf", "return document.getElementById('shelf-words').textContent.includes('1 engine,')")
    browser.run("document.getElementById('capture-about').textContent = ''")
    browser.click("#demonstration [data-file='bank2-late.csv']")
    browser.wait("the demonstration", "return document.getElementById('capture-about').textContent")
    measured(browser)
    browser.click("#keep")
    browser.wait("the job", "return document.getElementById('kept').textContent === 'Kept as job 1.'")


def carried(browser, path, downloads):
    """The shelf is taken along as one file, and is there in a page that is opened anew."""
    jobs = reads(browser, "/api/shelf/jobs")
    expect(json.loads(jobs)["count"] == 1, "a worker that was ended leaves the shelf as it was")
    browser.click("#shelf-save")
    file = os.path.join(downloads, "camwitness-shelf.tar.gz")
    for _ in range(300):
        if os.path.exists(file) and os.path.getsize(file):
            break
        time.sleep(0.1)
    opened(browser, path)
    expect(json.loads(reads(browser, "/api/shelf"))["engines"] == [], "a page that is opened anew has an empty shelf")
    browser.type("#shelf-file", file)
    said = browser.wait("what came of it", "return document.getElementById('shelf-said').textContent || document.getElementById('shelf-error').textContent")
    expect(said.startswith("Added: 1 engine, 0 known-goods, 1 job.") and reads(browser, "/api/shelf/jobs") == jobs, f"the shelf came along: {said}")


def by_keys_on_a_phone(browser, path, folder):
    """From an empty page to a report without a pointer, 390 px wide."""
    browser.call("POST", "/goog/cdp/execute", {"cmd": "Emulation.setDeviceMetricsOverride", "params": {"width": 390, "height": 844, "deviceScaleFactor": 2, "mobile": True}})
    opened(browser, path)
    no_overflow(browser, "390 px, empty")
    def tab_to(what):
        for _ in range(40):
            browser.press("\ue004")
            if browser.run("const e = document.activeElement; return e.id || e.textContent.trim()") == what:
                return
        raise SystemExit(f"the Tab key never reaches {what}")
    tab_to("a tooth late")
    browser.press("\ue007")
    browser.wait("the button", "return !document.getElementById('run').disabled")
    no_overflow(browser, "390 px, a capture")
    tab_to("run")
    browser.press("\ue007")
    browser.wait("the report", "return document.getElementById('finding').dataset.state === 'jumped'")
    no_overflow(browser, "390 px, a report")
    keep(folder, "one-file-390.png", browser.call("GET", "/screenshot"))
    expect(True, "a report is reached by the keyboard alone, on 390 px")
    browser.call("POST", "/goog/cdp/execute", {"cmd": "Emulation.clearDeviceMetricsOverride", "params": {}})


def saved(browser, folder):
    """Everything that can be saved, into the folder for downloads."""
    links = save_all(browser, folder)
    names = sorted(os.listdir(folder))
    expect(len(links) >= 12 and names == sorted(links) and {"report.html", "result.json", "traces.svg", "traces.png"} <= set(names), f"everything can be saved: {names}")
    with open(os.path.join(folder, "traces.png"), "rb") as file:
        expect(file.read(4) == b"\x89PNG", "a picture is a picture")
    opens = browser.wait("the report's own address", "const link = document.querySelector('#downloads a[target=_blank]'); return link.href.startsWith('blob:') && link.href")
    expect(opens, "the report opens in a window of its own, to print")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("file")
    parser.add_argument("program")
    parser.add_argument("--firefox", action="store_true")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--large", type=float)
    parser.add_argument("--times", action="store_true")
    parser.add_argument("--pictures")
    asked = parser.parse_args()
    path, program = os.path.abspath(asked.file), os.path.abspath(asked.program)
    for tool in ("firefox",) if asked.firefox else ("chromium", "chromedriver"):
        if not shutil.which(tool):
            raise SystemExit(f"{tool} is not there: apt-get install {'firefox-esr' if asked.firefox else 'chromium chromium-driver'}")
    with tempfile.TemporaryDirectory() as work:
        downloads = os.path.join(work, "saved")
        os.mkdir(downloads)
        browser = Firefox(downloads) if asked.firefox else Browser()
        try:
            browser.size(*SIZES["desktop"])
            took = times(browser, path) if asked.times else None
            print("ready after", opened(browser, path), "ms")
            demonstration(browser, program, work, asked.pictures)
            if not asked.firefox:
                browser.cdp("Browser.setDownloadBehavior", behavior="allow", downloadPath=downloads)
            saved(browser, downloads)
            count = recordings(browser, program, work, None if asked.all else TWO)
            if not asked.firefox:
                severe = [entry["message"] for entry in browser.call("POST", "/se/log", {"type": "browser"}) if entry["level"] == "SEVERE"]
                expect(not severe, f"no errors and no requests to elsewhere {severe[:2]}")
            bad_input(browser, work)
            nothing_leaves(browser)
            shelved(browser)
            cancelled(browser, program, work)
            carried(browser, path, downloads)
            if asked.large:
                large(browser, work, asked.large)
            if not asked.firefox:
                by_keys_on_a_phone(browser, path, asked.pictures)
            trapped(browser, program, path, work)
            old_browser(browser, path, work)
            if took and asked.all and os.environ.get("CAMWITNESS_WRITE_PLATFORMS"):
                written(browser, asked.firefox, took, count)
        finally:
            browser.close()
    print("the one file is content")


def written(browser, firefox, took, count):
    """The browser's row of docs/platforms.md."""
    name = "Firefox" if firefox else "Chromium"
    ready, read, first, second = (f"{one / 1000:.2f} s" for one in took)
    row = [f"one HTML file, {name} {browser.version.split('.')[0]}", ready, f"{read} and {first}", second, f"demonstration and {count} recordings"]
    subprocess.run([sys.executable, os.path.join(ROOT, "scripts", "platforms.py"), name.lower(), *row], check=True)


if __name__ == "__main__":
    main()
