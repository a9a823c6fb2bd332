#!/usr/bin/env python3
"""The one HTML file, opened from a folder in headless Chromium, against the built program.

    tests/browser/one_file.py FILE.html PROGRAM [--all] [--large MB] [--pictures FOLDER]

Reads and measures the demonstration and two recordings (with --all every one) and holds JSON and report against what
PROGRAM writes: equal to the byte. --large makes a capture of so many megabytes and has it read. Recordings stand in the
folder CAMWITNESS_CAPTURES names. Needs what run.py needs.
"""

import argparse, base64, gzip, json, os, re, shutil, subprocess, sys, tempfile, time, tomllib

sys.dont_write_bytecode = True  # `driver` is beside this file, and nothing is left there

from driver import Browser, DEMONSTRATION, ROOT, SIZES, drop_too_large, expect, keep, no_overflow

TWO = ["v6-cranking-two-bank-cams.csv", "start-60-2-single-cam.csv"]
# Pages of 64 KiB the patched module may have beyond those it starts with: the demonstration takes 95, a capture three times as long 250
# (measured); its bytes alone find room.
FEW_PAGES = 180


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
        return
    engines = os.path.join(ROOT, "tests", "recordings")
    with open(os.path.join(engines, "table.toml"), "rb") as file:
        table = tomllib.load(file)["recording"]
    for row in table:
        if names and row["file"] not in names or "engine" not in row:
            continue
        engine = os.path.join(engines, row["engine"])
        browser.type("#engine-file", engine)
        with open(engine, "rb") as file:
            wanted = tomllib.load(file)["name"]
        browser.wait("the engine", "const e = document.getElementById('engine'); return e.selectedIndex >= 0 && e.options[e.selectedIndex].text === arguments[0]", wanted)
        browser.run("for (const box of document.querySelectorAll('#channels .channel')) box.dataset.before = 1")
        said = given(browser, os.path.join(captures, row["file"]))
        expect(said.startswith(row["file"]), said)
        browser.wait("its channels", "return document.querySelectorAll('#channels .channel:not([data-before])').length")
        for lead in row.get("leads", []):
            role, column = lead.split("=", 1)
            browser.run("""
                for (const box of document.querySelectorAll("#channels .channel")) {
                  const select = box.querySelector("select");
                  const here = box.querySelector("b").textContent.trim() === arguments[1].trim();
                  if (!here && select.value !== arguments[0]) continue;
                  select.value = here ? arguments[0] : "";
                  select.dispatchEvent(new Event("change"));
                }
            """, role, column)
        browser.run("for (const tick of document.querySelectorAll('#channels .unsure input[type=checkbox]')) tick.click()")
        leads = chosen_leads(browser)
        base = measured(browser)
        same_as_native(browser, program, work, base, captures, row["file"], engine, leads)


def bad_input(browser, work):
    path = os.path.join(work, "wheel-file.toml")
    with open(os.path.join(ROOT, "demo-data", "engine.toml"), encoding="utf-8") as file:
        text = file.read()
    named = re.sub(r'(\[crank\]\s*\nwheel\s*=\s*)"[^"]*"', r'\1"my-wheel.toml"', text, count=1)
    expect(named != text, "the engine file names a wheel file")
    with open(path, "w", encoding="utf-8") as file:
        file.write(named)
    browser.type("#engine-file", path)
    said = browser.wait("the message", "return document.getElementById('engine-error').textContent")
    expect("my-wheel.toml" in said and "as a table" in said, f"an engine file that names a wheel file: {said}")
    said = drop_too_large(browser)
    expect("2000 MB" in said and "500 MB" in said and "camwitness program" in said, f"2 GB: {said}")
    garbage = os.path.join(work, "garbage.csv")
    with open(garbage, "wb") as file:
        file.write(bytes(range(256)) * 40)
    said = given(browser, garbage)
    expect("garbage.csv" in said, f"what is no capture: {said}")


def nothing_leaves(browser):
    policy = browser.run("return document.querySelector('meta[http-equiv]').content")
    expect("connect-src 'none'" in policy and "default-src 'none'" in policy, "the policy forbids every connection")
    said = browser.run("""
        const seen = new Promise((done) => addEventListener("securitypolicyviolation", (event) => done(event.effectiveDirective), { once: true }));
        fetch("http://127.0.0.1:9/").catch(() => {});
        return seen;
    """)
    expect(said == "connect-src", "and the browser enforces it")


def practice(program, out, seconds):
    engine = os.path.join(ROOT, "demo-data", "engine.toml")
    subprocess.run([program, "practice", "--engine", engine, "--seconds", str(seconds), "--rate", "10000", "--seed", "3", "--out", out], check=True, stdout=subprocess.DEVNULL)


def cancelled(browser, program, work):
    """A measurement is broken off: the worker ends, and what was there before is there after."""
    long = os.path.join(work, "long.csv")
    practice(program, long, 4)
    browser.run("const e = document.getElementById('engine'); e.value = e.options[1].value; e.dispatchEvent(new Event('change'))")
    given(browser, long)
    browser.wait("the button", "return !document.getElementById('run').disabled")
    before = browser.run("return document.querySelectorAll('#list tbody tr').length")
    browser.run("""
        const cancel = document.getElementById("run-cancel");
        document.getElementById("run").click();
        return new Promise((done) => {
          const look = () => { if (cancel.hidden) return setTimeout(look, 5); cancel.click(); done(); };
          look();
        });
    """)
    browser.wait("the end", "return document.getElementById('run-words').textContent === 'Cancelled.'")
    browser.wait("the list", "return document.querySelectorAll('#list tbody tr').length === arguments[0]", before)
    browser.run("document.querySelector('#list tbody button').click()")
    browser.wait("an earlier report", "return document.getElementById('report').dataset.shows === '/runs/' + document.querySelector('#list tbody tr').dataset.run + '/report'")
    expect(before > 0, f"a cancelled measurement leaves the {before} results of before")
    base = measured(browser)
    expect(reads(browser, base + "result.json"), "and the next one is done")


def with_few_pages(path, out):
    """The same file, its module allowed little memory: a device that has none left."""
    with open(path, encoding="utf-8") as file:
        page = file.read()
    found = re.search(r'(<script type="text/plain" id="program">)([^<]*)', page)
    module = gzip.decompress(base64.b64decode(found.group(2)))
    def number(at):
        value = shift = 0
        while True:
            byte = module[at]
            value |= (byte & 127) << shift
            at, shift = at + 1, shift + 7
            if byte < 128:
                return value, at
    def written(value):
        out = b""
        while value > 127:
            out, value = out + bytes([value & 127 | 128]), value >> 7
        return out + bytes([value])
    at = 8
    while module[at] != 5:  # the section of memories, WebAssembly core specification 5.5.8
        size, start = number(at + 1)
        at = start + size
    size, start = number(at + 1)
    least, _ = number(start + 2)
    memory = b"\1\1" + written(least) + written(least + FEW_PAGES)
    module = module[:at] + b"\5" + written(len(memory)) + memory + module[start + size:]
    packed = base64.b64encode(gzip.compress(module, 1)).decode()
    with open(out, "w", encoding="utf-8") as file:
        file.write(page[:found.start(2)] + packed + page[found.end(2):])


def trapped(browser, program, path, work):
    """A capture that makes the module trap: it is said, and the session goes on."""
    small = os.path.join(work, "few-pages.html")
    with_few_pages(path, small)
    opened(browser, small)
    browser.click("#demonstration [data-file='bank2-late.csv']")
    browser.wait("the demonstration", "return document.getElementById('capture-about').textContent")
    measured(browser)
    state = browser.run("return document.getElementById('finding').dataset.state")
    # Its bytes find room; what is then worked out from them does not.
    large = os.path.join(work, "large.csv")
    practice(program, large, 9)
    said = given(browser, large)
    expect("large.csv" in said and "started again" in said and "Export a shorter capture" in said, f"a trap is said: {said}")
    line = browser.wait("the line above the page", "const e = document.getElementById('started-again'); return e && e.textContent")
    expect("kept" in line, f"and above the page: {line}")
    browser.wait("the result of before", "return document.querySelectorAll('#list tbody tr').length === 1")
    browser.run("document.querySelector('#list tbody button').click()")
    kept = browser.wait("its report", "const e = document.getElementById('finding'); return e.dataset.state")
    # What failed stands no more, and neither does what stood before it: the capture is chosen again.
    browser.run("const again = document.getElementById('again'); again.value = again.options[0].value; again.dispatchEvent(new Event('change'))")
    measured(browser)
    expect(kept == state, "the result of before is there, and the capture can be measured again")
    too_much = os.path.join(work, "too-much.csv")
    with open(too_much, "w", encoding="utf-8") as file:
        file.write("time (s),crank (V)\n" + "0.000001,1\n" * 3000000)
    said = given(browser, too_much)
    expect("33" in said and "no memory for" in said, f"more than there is room for is refused with its size: {said}")


def old_browser(browser, path):
    hidden = browser.call("POST", "/goog/cdp/execute", {"cmd": "Page.addScriptToEvaluateOnNewDocument", "params": {"source": "delete window.DecompressionStream"}})
    browser.go("file://" + path)
    said = browser.wait("the message", "const e = document.querySelector('#starting.error'); return e && e.textContent")
    expect("too old" in said and "unpacking of gzip" in said and "2023" in said, f"an old browser is told: {said}")
    browser.call("POST", "/goog/cdp/execute", {"cmd": "Page.removeScriptToEvaluateOnNewDocument", "params": hidden})


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


def saved(browser, work):
    folder = os.path.join(work, "saved")
    os.mkdir(folder)
    browser.call("POST", "/goog/cdp/execute", {"cmd": "Browser.setDownloadBehavior", "params": {"behavior": "allow", "downloadPath": folder}})
    links = browser.run("return [...document.querySelectorAll('#downloads a[download]')].map((link) => link.download)")
    for link in links:
        browser.run("[...document.querySelectorAll('#downloads a[download]')].find((link) => link.download === arguments[0]).click()", link)
        for _ in range(100):
            if os.path.exists(os.path.join(folder, link)):
                break
            time.sleep(0.1)
    names = sorted(os.listdir(folder))
    expect(len(links) >= 12 and names == sorted(links) and {"report.html", "result.json", "traces.svg", "traces.png"} <= set(names), f"everything can be saved: {names}")
    with open(os.path.join(folder, "traces.png"), "rb") as file:
        expect(file.read(4) == b"\x89PNG", "a picture is a picture")
    opens = browser.wait("the report's own address", "const link = document.querySelector('#downloads a[target=_blank]'); return link.href.startsWith('blob:') && link.href")
    expect(opens, "the report opens in a window of its own, to print")


def large(browser, work, megabytes):
    path = os.path.join(work, "very-large.csv")
    rows = int(megabytes * 1e6 / 50)
    with open(path, "w", encoding="utf-8") as file:
        file.write("time (s),crank (V),cam (V),starter (A),battery (V)\n")
        for at in range(0, rows, 1000):
            file.write("".join(f"{i / 50000:012.6f},{i % 60 * 0.0833:09.6f},{i % 7:09.6f},0100.0,11.500\n" for i in range(at, at + 1000)))
    size, begun = os.path.getsize(path) / 1e6, time.time()
    browser.run("document.getElementById('capture-about').textContent = ''")
    browser.type("#file", path)
    for _ in range(3000):
        said = browser.run("return document.getElementById('capture-error').textContent || (document.getElementById('uploading').hidden && document.getElementById('capture-about').textContent)")
        if said:
            break
        time.sleep(0.1)
    print(f"{size:.0f} MB in {time.time() - begun:.1f} s: {said}")
    expect(said.startswith("very-large.csv:") or "MB" in said, "a large capture is read, or refused with a size")
    browser.click("#forget")
    browser.wait("it to be forgotten", "return ![...document.getElementById('again').options].some((one) => one.text === 'very-large.csv')")
    expect(True, "and forgotten")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("file")
    parser.add_argument("program")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--large", type=float)
    parser.add_argument("--pictures")
    asked = parser.parse_args()
    path, program = os.path.abspath(asked.file), os.path.abspath(asked.program)
    for tool in ("chromium", "chromedriver"):
        if not shutil.which(tool):
            raise SystemExit(f"{tool} is not there: apt-get install chromium chromium-driver")
    with tempfile.TemporaryDirectory() as work:
        browser = Browser()
        try:
            browser.size(*SIZES["desktop"])
            print("ready after", opened(browser, path), "ms")
            demonstration(browser, program, work, asked.pictures)
            saved(browser, work)
            recordings(browser, program, work, None if asked.all else TWO)
            severe = [entry["message"] for entry in browser.call("POST", "/se/log", {"type": "browser"}) if entry["level"] == "SEVERE"]
            expect(not severe, f"no errors and no requests to elsewhere {severe[:2]}")
            bad_input(browser, work)
            nothing_leaves(browser)
            cancelled(browser, program, work)
            if asked.large:
                large(browser, work, asked.large)
            by_keys_on_a_phone(browser, path, asked.pictures)
            trapped(browser, program, path, work)
            old_browser(browser, path)
        finally:
            browser.close()
    print("the one file is content")


if __name__ == "__main__":
    main()
