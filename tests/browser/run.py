#!/usr/bin/env python3
"""The page and the report in a real browser: headless Chromium, driven over WebDriver with nothing but Python.

    tests/browser/run.py PROGRAM [--pictures FOLDER] [--axe FILE]

PROGRAM is the built `camwitness`. FILE is axe.min.js of the package axe-core, `npm install axe-core` in any folder. Needs Debian's `chromium` and `chromium-driver`. Leaves with status 1 at the first
thing that is not as it should be; with --pictures, screenshots and PDFs are kept to be looked at.
"""

import argparse, base64, json, os, re, shutil, subprocess, sys, tempfile, time

sys.dont_write_bytecode = True  # what is imported is beside this file, and nothing is left there

import papers, points, reach

from driver import Browser, DEMO, DEMONSTRATION, ROOT, SIZES, drop, drop_too_large, expect, keep, measure, no_overflow, save_all


def walk(browser, address, folder):
    browser.size(*SIZES["desktop"])
    browser.go(address)
    browser.wait("the engines", "return document.querySelectorAll('#engine option').length > 1")
    browser.run("const e = document.getElementById('engine'); e.value = e.options[1].value; e.dispatchEvent(new Event('change'))")
    for name, state in DEMONSTRATION:
        drop(browser, os.path.join(ROOT, "demo-data", name))
        browser.wait("the button", "return !document.getElementById('run').disabled")
        found = measure(browser)
        expect(found == state, f"{name} is found {found}")
        words = browser.run("return document.getElementById('finding-words').textContent")
        expect(("very likely skipped at B2 intake" in words) == (state == "jumped"), f"and said in words: {words}")
    browser.wait("three results", "return document.querySelectorAll('#list tbody tr').length === 3")
    words = browser.run("return document.getElementById('list').innerText")
    expect(all(name in words for name, _ in DEMONSTRATION), "the list holds every capture of the session")
    compare(browser, folder)
    for size, (width, height) in SIZES.items():
        browser.size(width, height)
        no_overflow(browser, size)
        keep(folder, f"page-{size}.png", browser.call("GET", "/screenshot"))
    browser.size(*SIZES["desktop"])


def compare(browser, folder):
    """The repair of the demonstration, held against what came before it; then the wrong way round."""
    for name, index in (("before", 1), ("after", 2)):
        browser.run("const s = document.getElementById(arguments[0]); s.value = s.options[arguments[1]].value; s.dispatchEvent(new Event('change'))", name, index)
    browser.click("#compare-go")
    outcome = browser.wait("the comparison", "const f = document.querySelector('#compared [data-outcome]'); return f && f.dataset.outcome")
    words = browser.run("return document.getElementById('compared').innerText")
    expect(outcome == "all_back" and "1 tooth earlier" in words and "late" in words, "before and after: one tooth earlier, all back")
    browser.run("document.getElementById('compare').scrollIntoView()")
    keep(folder, "compare.png", browser.call("GET", "/screenshot"))
    browser.run("const b = document.getElementById('before'), a = document.getElementById('after'); [b.value, a.value] = [a.value, b.value]")
    browser.click("#compare-go")
    browser.wait("the doubt", "return !document.getElementById('compare-anyway').hidden")
    expect("wrong way round" in browser.run("return document.getElementById('compare-error').textContent"), "swapped, it is doubted")
    browser.click("#compare-anyway")
    outcome = browser.wait("the comparison", "const f = document.querySelector('#compared [data-outcome]'); return f && f.dataset.outcome")
    expect(outcome == "not_back", "insisted on, it is compared")
    browser.run("scrollTo(0, 0)")


def downloads(browser, work):
    """Every "Save" of a report, pressed: the files arrive whole and are what they say."""
    saved = os.path.join(work, "saved")
    os.mkdir(saved)
    browser.cdp("Browser.setDownloadBehavior", behavior="allow", downloadPath=saved)
    count = len(save_all(browser, saved))
    kinds = {}
    for name in os.listdir(saved):
        with open(os.path.join(saved, name), "rb") as file:
            kinds.setdefault(name.rsplit(".", 1)[-1], []).append(file.read())
    expect(count == 18 and {kind: len(files) for kind, files in kinds.items()} == {"html": 1, "json": 1, "svg": 8, "png": 8},
           f"{count} things can be saved, and arrive: {sorted(os.listdir(saved))}")
    state = browser.run("return document.getElementById('finding').dataset.state")
    expect(json.loads(kinds["json"][0])["verdict"]["state"] == state, "the JSON saved says what the page says")
    expect(kinds["html"][0].lower().startswith(b"<!doctype html") and all(b"<svg" in one[:200] for one in kinds["svg"])
           and all(one.startswith(b"\x89PNG") for one in kinds["png"]), "report and pictures are what they say")


def two_tabs(browser, address):
    """A second tab sees what the first measured, and its own work does not disturb the first."""
    first = browser.call("GET", "/window")
    second = browser.call("POST", "/window/new", {"type": "tab"})["handle"]
    browser.call("POST", "/window", {"handle": second})
    browser.go(address)
    browser.wait("the list", "return document.querySelectorAll('#list tbody tr').length === 3")
    expect(browser.run("return document.getElementById('again').options.length") == 3, "a second tab sees the captures and results of the first")
    browser.run("const s = document.getElementById('again'); s.value = s.options[1].value; s.dispatchEvent(new Event('change'))")
    browser.run("const e = document.getElementById('engine'); e.value = e.options[1].value; e.dispatchEvent(new Event('change'))")
    browser.wait("the button", "return !document.getElementById('run').disabled")
    expect(measure(browser) == "jumped", "and measures by itself")
    browser.call("DELETE", "/window")
    browser.call("POST", "/window", {"handle": first})
    expect(browser.run("return document.getElementById('finding').textContent.includes('repaired.csv')"), "the first keeps its report")


def keys_only(browser, address, folder):
    """From an empty page to a report without a pointer. A file dialog cannot be driven, so the capture is one of the session's."""
    browser.go(address)
    browser.wait("the list", "return document.querySelectorAll('#list tbody tr').length > 2")
    reached = []
    def tab_to(what):
        for _ in range(40):
            browser.press("\ue004")
            here = browser.run("const e = document.activeElement; return e.id || e.textContent.trim()")
            reached.append(here)
            if here == what:
                return
        raise SystemExit(f"the Tab key never reaches {what}, only {reached}")
    tab_to("file")
    tab_to("again")
    browser.press("\ue015", "\ue013")  # down and up again: a change is a choice
    browser.wait("the channels", "return document.querySelectorAll('#channels select').length > 3")
    tab_to("engine")
    browser.press("\ue015")
    tab_to("form-open")
    browser.wait("the button", "return !document.getElementById('run').disabled")
    tab_to("run")
    seen = browser.run("return getComputedStyle(document.activeElement).outlineStyle !== 'none'")
    expect(seen, "where the keyboard stands can be seen")
    before = browser.run("return document.getElementById('report').getAttribute('src')")
    browser.press("\ue007")
    browser.wait("the report", "const now = document.getElementById('report').getAttribute('src'); return now && now !== arguments[0]", before)
    expect(browser.run("return document.getElementById('finding').dataset.state"), "a report is reached by the keyboard alone")


def broken_engine(browser, work):
    """A broken engine file is refused beside the chooser, and what was chosen stays."""
    before = browser.run("return document.getElementById('engine').value")
    path = os.path.join(work, "broken.toml")
    with open(path, "w", encoding="utf-8") as out:
        out.write('name = "Broken"\nfiring_order = [1, 3, 4, 2]\n[crank]\nwheel = "60-70"\nsensor = "hall"\n')
    browser.type("#engine-file", path)
    said = browser.wait("the message", "return document.getElementById('engine-error').textContent")
    expect("broken.toml" in said and "wheel" in said, f"a broken engine file: {said}")
    expect(browser.run("return document.getElementById('engine').value") == before, "the engine chosen before stays")


def too_large(browser):
    """A file of 2 GB is refused beside the place it was dropped on, before a byte is sent, and the capture shown stays."""
    before = browser.run("return document.getElementById('capture-about').textContent")
    said = drop_too_large(browser)
    expect("2000 MB" in said and "a larger limit for files" in said and "--" not in said, f"2 GB: {said}")
    expect(browser.run("return document.getElementById('capture-about').textContent") == before and browser.run("return document.getElementById('uploading').hidden"),
           "nothing is sent, and the capture before it stays")


def form(browser, folder):
    browser.click("#form-open")
    expect(browser.run("return document.querySelector('[name=crank_wheel]').value") == "36-2", "the form begins with the wheel seen in the capture")
    expect(browser.run("return document.querySelectorAll('#form-cams > .cam').length") == 2, "and with its two cam wheels")
    browser.type("[name=name]", "By hand")
    browser.type("[name=firing_order]", "1-6-5-4-3-2")
    browser.type("[name=bank1]", "1 2 3")
    browser.type("[name=bank2]", "4 5 6")
    browser.wait("the crank wheel drawn", "return document.querySelector('#crank-drawing svg')")
    browser.wait("the cam wheel drawn", "return document.querySelector('#form-cams .drawing svg')")
    browser.run("const w = document.querySelector('[name=crank_wheel]'); w.value = '60-2'; w.dispatchEvent(new Event('input', { bubbles: true }))")
    browser.wait("it is drawn as it is typed", "return document.querySelector('#crank-drawing').textContent.includes('60-2')")
    browser.run("document.querySelector('[name=cam1_same_as]').value = 'B9 intake'; document.querySelector('[name=cam1_same_as]').dispatchEvent(new Event('input', { bubbles: true }))")
    browser.type("[name=cam1_later]", "360")
    browser.click("#form-save")
    said = browser.wait("the message", "const e = document.querySelector('.error.beside'); return e && e.textContent")
    beside = browser.run("return document.querySelector('.error.beside').closest('label').querySelector('input').name")
    expect(beside == "cam1_same_as" and browser.run("return document.activeElement.name") == beside, f"a complaint stands beside its field: {said}")
    keep(folder, "form-error.png", browser.call("GET", "/screenshot"))
    browser.run("document.querySelector('[name=cam1_same_as]').value = document.querySelector('[name=cam0_name]').value")
    browser.click("[data-drive=banks]")
    expect(browser.run("return document.querySelectorAll('#form-chains > .cam').length") == 2, "a chain per bank at one press")
    for name, teeth in (("chain0_driver", "21"), ("chain0_driven0", "42"), ("chain1_driver", "20"), ("chain1_driven0", "41")):
        browser.type(f"[name={name}_teeth]", teeth)
    browser.click("#form-save")
    said = browser.wait("the message", "const e = document.querySelector('.error.beside') || document.getElementById('form-error'); return e.textContent")
    expect("1/2" in said, f"a drive that cannot be: {said}")
    browser.run("document.querySelector('[name=chain1_driven0_teeth]').value = '40'")
    keep(folder, "form.png", browser.call("GET", "/screenshot"))
    no_overflow(browser, "the form")
    browser.click("#form-save")
    browser.wait("the engine", "return !document.getElementById('form').open")
    # The list is asked for anew after the form has closed.
    chosen = browser.wait("the engine of the form", "const e = document.getElementById('engine'), o = e.options[e.selectedIndex]; return o && o.value && o.text")
    expect(chosen == "By hand", "the engine of the form is chosen")


def crowded(browser, program, work, folder):
    """Four cams, dirty signals, more leads and more codes than usual: what does not fit goes on, and is not cut off."""
    engine = os.path.join(ROOT, "tests", "report", "four-cams.toml")
    capture, out = os.path.join(work, "crowded.csv"), os.path.join(work, "crowded.html")
    made = [program, "practice", "--engine", engine, "--fault", "phaser:B1 intake:-14", "--preset", "nasty", "--seed", "4"]
    subprocess.run(made + ["--with", "starter", "--with", "battery", "--with", "ignition 1", "--out", capture], check=True, stdout=subprocess.DEVNULL)
    codes = ",".join(f"P00{number}" for number in (11, 12, 14, 15, 16, 17, 18, 19, 21, 22, 24, 25))
    check(program, work, capture, engine, out, "--codes", codes)
    browser.go("file://" + out)
    for paper in papers.PAPERS:
        papers.legible("a crowded report", paper, papers.on_paper(browser, paper))
        pages = papers.front(browser, paper)
        expect(pages == 2, f"a crowded report: is two pages of {paper} and an annex ({pages})")
    # What has no room on page two is in the annex, and nowhere twice.
    moved = browser.run("return [...document.querySelectorAll('h3')].filter((e) => /^(The capture|Engine description used|Cautions|Take note)$/.test(e.textContent)).map((e) => e.closest('.annex') ? 'annex' : 'page two')")
    expect(len(moved) == 4 and "annex" in moved and "page two" in moved, f"a crowded report: what has no room on page two is in the annex {moved}")
    keep(folder, "crowded-a4.pdf", papers.printed(browser, "a4"))


def report(browser, path, folder, name):
    browser.call("POST", "/se/log", {"type": "browser"})  # what the page refused before is not the report's
    browser.size(*SIZES["desktop"])
    browser.go("file://" + path)
    browser.wait("the charts", "return document.querySelectorAll('#charts canvas').length > 1")
    drawn = browser.run("""
        const canvas = document.querySelector('#charts canvas');
        const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
        return data.some((value, i) => i % 4 === 3 && value > 0);
    """)
    expect(drawn, f"{name}: the interactive view draws")
    browser.run("document.getElementById('charts').focus()")
    browser.press("+", "+")
    browser.press("\ue008\ue014"[1], "\ue014")
    browser.run("""
        const over = document.querySelector('#charts .u-over');
        const box = over.getBoundingClientRect();
        const at = (kind, x, type = MouseEvent) => over.dispatchEvent(new type(kind, { clientX: box.left + x, clientY: box.top + 20, bubbles: true, pointerId: 1, button: 0 }));
        over.setPointerCapture = () => {};
        for (const x of [200, 500]) { at('mousemove', x); at('pointerdown', x, PointerEvent); at('pointerup', x, PointerEvent); }
    """)
    text = browser.run("return document.getElementById('readout').innerText")
    expect(re.search(r"second after first\s+\d+\.\d°\s+\d+\.\d+ ms\s+-?\d+\.\d+ V", text), f"{name}: two marks read out degrees, time and volts")
    no_overflow(browser, name)
    whole = browser.run("return document.documentElement.scrollHeight")
    browser.size(SIZES["desktop"][0], min(whole, 4000))
    keep(folder, f"{name}.png", browser.call("GET", "/screenshot"))
    for paper in papers.PAPERS:
        papers.legible(name, paper, papers.on_paper(browser, paper))
        pages, whole = papers.front(browser, paper), papers.printed(browser, paper)
        expect(pages == 2, f"{name}: prints to two pages of {paper} ({pages})")
        expect(papers.pages(whole) <= 6, f"{name}: and an annex of four at most ({papers.pages(whole)})")
        keep(folder, f"{name}-{paper}.pdf", whole)
    heights = browser.run("return [...document.querySelectorAll('figure')].map((f) => [f.className, Math.round(f.querySelector('svg').getBoundingClientRect().height), Boolean(f.closest('.annex'))])")
    expect(len(heights) == 8 and all(height > 90 for _, height, _ in heights), f"{name}: every picture has its room {heights}")
    expect([figure for figure, _, annex in heights if not annex][0] == "traces", f"{name}: the signals stand on page one")
    severe = [entry["message"] for entry in browser.call("POST", "/se/log", {"type": "browser"}) if entry["level"] == "SEVERE"]
    expect(not severe, f"{name}: no errors and no requests to elsewhere {severe[:2]}")


def worksheets(browser, program, work, folder):
    """Worksheets of an engine of two cams and of one of four: pages, and texts that can be read on paper."""
    # As wide as A4 leaves between its margins, at 96 pixels to the inch.
    width = round((210 - 24) / 25.4 * 96)
    engines = {"two": os.path.join(ROOT, "demo-data", "engine.toml"), "four": os.path.join(ROOT, "tests", "report", "four-cams.toml")}
    for name, engine in engines.items():
        out = os.path.join(work, f"class-{name}")
        made = [program, "practice", "--class", "1", "--give", "sound", "--engine", engine, "--out", out]
        subprocess.run(made, check=True, stdout=subprocess.DEVNULL)
        browser.size(*SIZES["tablet"])
        browser.go("file://" + os.path.join(out, "student-01", "worksheet.html"))
        no_overflow(browser, f"worksheet, {name} cams")
        browser.size(width, 1000)
        media = lambda kind: browser.call("POST", "/goog/cdp/execute", {"cmd": "Emulation.setEmulatedMedia", "params": {"media": kind}})
        media("print")
        # Pixels to points: 72 to the inch instead of 96. Paper has no scroll bar.
        small = browser.run("""
            const bar = innerWidth / document.documentElement.clientWidth;
            return bar * Math.min(...[...document.querySelectorAll('figure svg text')].map((text) => {
              const drawn = text.ownerSVGElement.getScreenCTM().a;
              return drawn * parseFloat(getComputedStyle(text).fontSize) * 72 / 96;
            }));
        """)
        media("")
        expect(small >= 6.95, f"worksheet, {name} cams: texts of pictures are 7 pt or more on paper ({small:.2f})")
        for paper, (wide, high) in {"a4": (21.0, 29.7), "letter": (21.59, 27.94)}.items():
            printed = browser.call("POST", "/print", {"page": {"width": wide, "height": high}, "background": True})
            pages = len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(printed)))
            expect(pages <= 3, f"worksheet, {name} cams: goes on three pages of {paper} at most ({pages})")
            keep(folder, f"worksheet-{name}-{paper}.pdf", printed)
        browser.size(*SIZES["desktop"])


def check(program, work, capture, engine, out, *more):
    done = subprocess.run([program, "check", capture, "--engine", engine, "--report", out, "--quiet", *more], cwd=work, capture_output=True, text=True)
    if done.returncode not in (0, 3):
        raise SystemExit(done.stderr)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("--pictures")
    parser.add_argument("--axe", help="axe.min.js of the package axe-core; without it its rules are not tried")
    asked = parser.parse_args()
    program = os.path.abspath(asked.program)
    for tool in ("chromium", "chromedriver"):
        if not shutil.which(tool):
            raise SystemExit(f"{tool} is not there: apt-get install chromium chromium-driver")
    if asked.pictures:
        os.makedirs(asked.pictures, exist_ok=True)
    with tempfile.TemporaryDirectory() as work:
        page = subprocess.Popen([program, "page", "--no-browser"], stdout=subprocess.PIPE, text=True)
        browser = None
        try:
            address = re.search(r"http://\S+", page.stdout.readline()).group(0)
            browser = Browser()
            walk(browser, address, asked.pictures)
            downloads(browser, work)
            two_tabs(browser, address)
            broken_engine(browser, work)
            too_large(browser)
            form(browser, asked.pictures)
            keys_only(browser, address, asked.pictures)
            demo = os.path.join(ROOT, "demo-data")
            late = os.path.join(work, "late.html")
            check(program, work, os.path.join(demo, "bank2-late.csv"), os.path.join(demo, "engine.toml"), late)
            report(browser, late, asked.pictures, "report")
            crowded(browser, program, work, asked.pictures)
            papers.papers(browser, program, work, asked.pictures)
            worksheets(browser, program, work, asked.pictures)
            # A header that is a script must stay text, in the report and on the page.
            attack = "<script>document.title='broken'</script>"
            with open(os.path.join(demo, "sound.csv"), encoding="utf-8") as text:
                head, rest = text.read().split("\n", 1)
            hostile = os.path.join(work, "hostile.csv")
            with open(hostile, "w", encoding="utf-8") as out:
                out.write(re.sub(r",B2 intake[^,]*", f",{attack} (V)", head) + "\n" + rest)
            bad = os.path.join(work, "bad.html")
            check(program, work, hostile, os.path.join(demo, "engine.toml"), bad, "--lead", f"B2 intake={attack}")
            browser.go("file://" + bad)
            shown = browser.run("return document.body.innerText.includes(arguments[0]) && document.title !== 'broken'", attack)
            expect(shown, "a script in a header is shown as text in the report")
            browser.go(address)
            browser.wait("the page", "return document.querySelectorAll('#engine option').length > 1")
            drop(browser, hostile)
            shown = browser.run("return document.getElementById('channels').innerText.includes(arguments[0]) && document.title !== 'broken'", attack)
            expect(shown, "and on the page")
            points.little_memory(browser, program, work)
            page.terminate()
            page.wait()
            own, plan, sheet = points.points(browser, program, work, asked.pictures)
            try:
                reach.reach(browser, own, plan, sheet, asked.axe, asked.pictures)
            finally:
                own.close()
        finally:
            if browser:
                browser.close()
            page.terminate()
            page.wait()
    print("the browser is content")


if __name__ == "__main__":
    main()
