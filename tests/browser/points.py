"""What the page does, point by point, as a hand does it: without an engine, leads, the form, the shelf, parts of a capture,
joining, learning, practice, the sheets, a watched folder, and who is kept out."""

import http.client, json, os, re, socket, subprocess, tarfile, time, urllib.parse

from driver import DEMO, drop, drop_all, expect, expect_quietly, keep, measure, read_text

ENGINE = "Demonstration V6"


class Program:
    """A page of its own, with a shelf and a folder that is watched."""

    def __init__(self, program, work, *more):
        self.shelf, self.watched = os.path.join(work, "shelf"), os.path.join(work, "scope")
        os.makedirs(self.watched, exist_ok=True)
        command = [program, "page", "--no-browser", "--shelf", self.shelf, *more]
        self.running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        self.address = re.search(r"http://\S+", self.running.stdout.readline()).group(0)
        self.host = urllib.parse.urlsplit(self.address).netloc

    def close(self):
        self.running.terminate()
        self.running.wait()


def begun(browser, address):
    browser.go(address)
    browser.wait("the page", "return document.documentElement.dataset.begun")


def choose(browser, name):
    """An engine by the name its line begins with; the empty name is none."""
    before = browser.run("""
        const e = document.getElementById("engine"), before = document.getElementById("engine-save").href;
        e.value = arguments[0] ? [...e.options].find((one) => one.text.startsWith(arguments[0])).value : "";
        e.dispatchEvent(new Event("change"));
        return before;
    """, name)
    # Its file is offered anew for every choice.
    browser.wait("the engine " + name, """
        const save = document.getElementById("engine-save"), chosen = save.href !== arguments[1] && !save.hidden;
        return arguments[0] ? chosen : save.hidden && !document.getElementById("engine").value;
    """, name, before)


def ready(browser):
    browser.wait("the button", "return !document.getElementById('run').disabled")


def said(browser, place):
    return browser.wait(f"words in {place}", "return document.getElementById(arguments[0]).textContent", place)


def result(browser):
    """The JSON of the report that stands."""
    return browser.run("return fetch(document.getElementById('report').getAttribute('src').replace('report', 'result.json')).then((answer) => answer.json())")


def unnamed(name):
    """A capture of the demonstration whose columns are called as a scope calls them."""
    head, rest = read_text(os.path.join(DEMO, name)).split("\n", 1)
    units = re.findall(r"\((\w+)\)", head)
    return "time (s)," + ",".join(f"Channel {at} ({unit})" for at, unit in enumerate(units[1:], 1)) + "\n" + rest


def columns(name, kept):
    rows = [line.split(",") for line in read_text(os.path.join(DEMO, name)).splitlines()]
    return "\n".join(",".join(row[at] for at in kept) for row in rows) + "\n"


def strangers(browser, page):
    """Other users of the computer, and other pages of the browser."""
    def status(path, **headers):
        connection = http.client.HTTPConnection(page.host)
        connection.request("GET", path, headers=headers)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read()
    for path in ("/", "/api/session", "/page.js"):
        code, headers, body = status(path)
        expect(code == 403 and b"belongs to whoever started it" in body, f"without the key {path} is refused")
        expect(headers["cross-origin-resource-policy"] == "same-origin", "no other page may take what is answered")
    # Cookies know no ports: another page's may be there as well.
    cookie = next(one for one in browser.call("GET", "/cookie") if one["name"].endswith(page.host.split(":")[1]))
    expect(cookie["httpOnly"] and cookie["sameSite"] == "Strict", "no script reads the key, no other page sends it")
    ours = {"Cookie": cookie["name"] + "=" + cookie["value"]}
    expect(status("/api/session", **ours)[0] == 200, "with it the session is answered")
    expect(status("/api/session", **ours, **{"Sec-Fetch-Site": "cross-site"})[0] == 403, "sent by another page it is not")
    address = browser.call("GET", "/url")
    expect("key" not in address, f"the key does not stay in the address: {address}")
    ids = json.loads(status("/api/session", **ours)[2])["engines"]
    expect(all(one["id"] > 1_000_000 for one in ids), "nobody guesses a number")
    browser.go("data:text/html,<title>another page</title>")
    got = browser.run("""
        return fetch(arguments[0], { mode: "no-cors", credentials: "include" }).then((answer) => "got " + answer.type, () => "nothing");
    """, f"http://{page.host}/api/session")
    expect(got == "nothing", f"another page of this browser gets {got}")


def two_clicks(browser, page):
    begun(browser, page.address)
    expect(browser.run("return document.getElementById('run').disabled && document.getElementById('run').getAttribute('aria-describedby')") == "why"
           and "First drop a capture" in browser.text("#why"), "Measure says why it cannot be pressed")
    browser.click("#demonstration [data-file='bank2-late.csv']")
    ready(browser)
    expect(browser.text("#why") == "", "and says nothing once it can")
    found = measure(browser)
    expect(found == "jumped", f"the demonstration in two clicks: {found}")
    where = browser.run("const top = document.getElementById('report-part').getBoundingClientRect().top; return [document.activeElement.id, top >= -1 && top < innerHeight / 2]")
    expect(where == ["h-report", True], f"the report is scrolled to and has the keyboard: {where}")


def nothing_stale(browser):
    """After a failed run, and after a failed upload."""
    browser.run("document.getElementById('stretch-part').open = true")
    for place, value in (("from", "2"), ("to", "1")):
        browser.set(f"#{place}", value)
    browser.click("#run")
    words = said(browser, "run-error")
    expect("Turn the two round" in words and "--" not in words and browser.run("return document.activeElement.id") == "from", f"a failed run: {words}")
    expect(browser.run("return document.getElementById('report-part').hidden"), "and no earlier report stands beside it")
    browser.click("#whole")
    browser.click("#list tbody button")
    browser.wait("the report of before", "return !document.getElementById('report-part').hidden")
    drop_all(browser, [["garbage.csv", "what is this?\n" * 9]])
    words = said(browser, "capture-error")
    expect("garbage.csv" in words and "--" not in words, f"a failed upload: {words}")
    left = browser.run("return [document.getElementById('report-part').hidden, document.getElementById('channels').childElementCount, document.getElementById('capture-about').textContent, document.getElementById('run').disabled]")
    expect(left == [True, 0, "", True], f"no capture, no channels and no report of before stand: {left}")


def asked_fields(browser):
    """What a file leaves open is asked for beside it, and only then."""
    shown = "return [...document.querySelectorAll('#reading [data-field]')].filter((one) => !one.hidden && !one.closest('[hidden]')).map((one) => one.dataset.field)"
    expect(browser.run(shown) == [], "no field is shown that nothing asks for")
    rows = "\n".join(line.split(",", 1)[1] for line in read_text(os.path.join(DEMO, "sound.csv")).splitlines())
    drop_all(browser, [["untimed.csv", rows]])
    words = said(browser, "capture-error")
    expect(browser.run(shown) == ["rate", "time"] and "Read again" in words and "--" not in words, f"a file without times: {words}")
    browser.type("#rate", "10 000")
    browser.click("#rate-go")
    words = browser.wait("it to be read", "const e = document.getElementById('capture-about').textContent; return e.startsWith('untimed.csv') && e")
    expect("10,000 per second" in words and browser.run(shown) == [], f"read with its rate: {words}")


def without_an_engine(browser, folder):
    """Firing order and banks are two fields; guesses are confirmed; the finding comes anyway."""
    choose(browser, "")
    drop_all(browser, [["car.csv", unnamed("bank2-late.csv")]])
    browser.wait("its channels", "return document.getElementById('capture-about').textContent.startsWith('car.csv') && document.querySelectorAll('#channels .channel').length === 5")
    browser.wait("the two that look alike", "return document.querySelectorAll('#alike figure').length === 2")
    marked = browser.run("return [...document.querySelectorAll('#channels .unsure b')].map((one) => one.textContent)")
    expect(marked == ["Channel 1", "Channel 4"], f"guesses are marked: {marked}")
    expect(browser.run("return document.getElementById('run').disabled") and "Confirm in step 1" in browser.text("#why"), "and Measure waits: " + browser.text("#why"))
    for at in (0, 3):
        browser.click(f"#confirm{at}")
    pictures = browser.run("return [...document.querySelectorAll('#alike figure svg')].map((one) => [one.getAttribute('aria-label'), one.querySelectorAll('polygon').length])")
    expect(all("Channel" in words and "crank below" in words and rows == 2 for words, rows in pictures), f"a picture of both, the crank below: {pictures}")
    browser.run("document.getElementById('alike').scrollIntoView({ block: 'center' })")
    keep(folder, "first-car-page.png", browser.call("GET", "/screenshot"))
    for at, role in ((1, "B1 intake"), (2, "B2 intake")):
        browser.run("[...document.querySelectorAll('#alike figure')][arguments[0]].querySelectorAll('button').forEach((one) => { if (one.textContent.endsWith(arguments[1])) one.click(); })", at - 1, role)
    browser.wait("the question to be settled", "return !document.querySelector('#alike figure')")
    browser.set("#layout", next(one for one in browser.run("return [...document.getElementById('layout').options].map((one) => one.value)") if one.startswith("1-6-5-4-3-2")))
    expect(browser.run("return [document.getElementById('firing').value, document.getElementById('banks').value]") == ["1-6-5-4-3-2", "1-2-3/4-5-6"], "a common layout fills both fields")
    browser.set("#role4", "ignition 3")
    ready(browser)
    found = measure(browser)
    words = browser.text("#finding-words")
    expect(found == "cannot_tell" and "late against B1 intake" in words and "bank 2 is" in words and "lower" in words, f"with it, bank against bank and the low bank: {words}")
    notes = browser.text("#finding-notes")
    expect("known-good" in notes and "--" not in notes, "and what one more fact would add")
    browser.set("#banks", "1-2/3")
    browser.click("#run")
    words = said(browser, "run-error")
    expect("Give each cylinder one bank" in words and browser.run("return document.activeElement.id") == "banks", f"a mistake in them stands beside: {words}")
    browser.set("#banks", "1-2-3/4-5-6")


def alike(browser):
    """Leads of an engine that fit either way: what one is says what the other is."""
    choose(browser, ENGINE)
    browser.wait("both pictures", "return document.querySelectorAll('#alike figure').length === 2")
    expect(browser.run("return [1, 2].map((at) => document.getElementById('role' + at).value)") == ["", ""], "neither is dealt out")
    browser.run("document.querySelectorAll('#alike figure')[0].querySelectorAll('button')[1].click()")
    roles = browser.run("return [1, 2].map((at) => document.getElementById('role' + at).value)")
    expect(roles == ["B2 intake", "B1 intake"], f"one answer settles both: {roles}")
    browser.set("#role1", "B1 intake")
    expect("chosen for two columns" in browser.text("#why"), browser.text("#why"))
    browser.set("#role2", "B2 intake")


def told_apart(browser):
    """One name twice; engine files and captures dropped together."""
    before = browser.run("return document.getElementById('again').options.length")
    engine = read_text(os.path.join(DEMO, "engine.toml")).replace(ENGINE, "Dropped V6")
    # The clock tells them apart, by the second.
    drop_all(browser, [["dropped.toml", engine], ["twice.csv", columns("sound.csv", (0, 1, 2, 4))], ["other.csv", columns("sound.csv", (0, 1, 3, 4))]])
    browser.wait("both captures", "return document.getElementById('again').options.length === arguments[0]", before + 2)
    chosen = browser.run("const e = document.getElementById('engine'); return e.options[e.selectedIndex].text")
    expect(chosen == "Dropped V6", f"an engine file on the drop zone is chosen: {chosen}")
    time.sleep(1.1)
    drop_all(browser, [["twice.csv", columns("sound.csv", (0, 1, 2, 4))]])
    names = browser.wait("the third", "const all = [...document.getElementById('again').options].map((one) => one.text).filter((one) => one.startsWith('twice.csv')); return all.length === 2 && all")
    expect(names[0] != names[1] and all(re.search(r"\d\d:\d\d:\d\d", name) for name in names), f"same names are told apart by time: {names}")


def joined(browser):
    """Two captures, each with one bank's cam, are one measurement."""
    browser.run("document.getElementById('join-part').open = true")
    browser.run("[...document.querySelectorAll('#join label')].find((one) => one.textContent.includes('other.csv')).querySelector('input').click()")
    ready(browser)
    found = measure(browser)
    cams = [cam["cam"] for cam in result(browser)["cams"]]
    expect(found == "in_time" and cams == ["B1 intake", "B2 intake"], f"joined, both cams are measured: {cams}, {found}: {browser.text('#finding-words')}")
    browser.run("document.querySelectorAll('#join input:checked').forEach((one) => one.click())")


def part(browser):
    """From and to by dragging over the trace."""
    choose(browser, ENGINE)
    drop(browser, os.path.join(DEMO, "sound.csv"))
    ready(browser)
    browser.run("document.getElementById('stretch-part').open = true")
    browser.drag(".stretch", 0.25, 0.9)
    ends = browser.run("return ['from', 'to'].map((id) => parseFloat(document.getElementById(id).value))")
    expect(abs(ends[0] - 0.75) < 0.05 and abs(ends[1] - 2.7) < 0.05, f"dragging over the trace says from and to: {ends}")
    expect(browser.run("const mark = document.querySelector('.stretch .mark').getBoundingClientRect(), all = document.querySelector('.stretch').getBoundingClientRect(); return Math.abs(mark.width / all.width - 0.65) < 0.03"), "and the part is marked")
    measure(browser)
    used = result(browser)["capture"]
    text = json.dumps(used)
    expect("in_time" == browser.run("return document.getElementById('finding').dataset.state"), f"the part is measured: {text[:120]}")
    browser.click("#whole")
    expect(browser.run("return document.getElementById('from').value + document.getElementById('to').value === '' && document.querySelector('.stretch .mark').hidden"), "and the whole is used again")


def engines(browser):
    """An engine is edited as text where it says more than the form, else in the form."""
    expect(browser.run("return document.getElementById('form-edit').hidden"), "an engine with more than the form has is edited as text")
    browser.click("#text-edit")
    text = browser.run("return document.getElementById('engine-text').value")
    browser.set("#engine-text", text.replace("36-2", "36-x"))
    browser.click("#text-use")
    words = said(browser, "engine-error")
    expect("no wheel is called" in words and "camwitness wheels" not in words and "36-x" in browser.run("return document.getElementById('engine-text').value"), f"a mistake is said and the text stays: {words}")
    browser.set("#engine-text", text.replace(ENGINE, "Edited V6"))
    browser.click("#text-use")
    browser.wait("the edited engine", "const e = document.getElementById('engine'), o = e.options[e.selectedIndex]; return o && o.text === 'Edited V6'")
    expect(browser.text("#engine-error") == "", "edited as text it is chosen")
    browser.click("#engine-remove")
    browser.wait("it to go", "return ![...document.getElementById('engine').options].some((one) => one.text === 'Edited V6') && !document.getElementById('engine').value")
    expect(True, "an engine can be removed")


def places(browser, late):
    """What the capture measured stands beside the places of the form."""
    drop(browser, late)
    browser.wait("its wheels", "return document.getElementById('capture-wheel').textContent.includes('36-2')")
    browser.click("#form-open")
    browser.type("[name=name]", "By places")
    browser.type("[name=firing_order]", "1-6-5-4-3-2")
    browser.type("[name=bank1]", "1 2 3")
    browser.type("[name=bank2]", "4 5 6")
    browser.click("#form-places")
    shown = browser.wait("the places", "const all = [...document.querySelectorAll('.measured')].map((one) => one.textContent); return all.length === 2 && all")
    expect(all("This capture: " in one for one in shown) and "for comparison only" in browser.text("#places-words"), f"what this capture measured: {shown}")
    at = [float(re.search(r"([\d.]+)°", one).group(1)) for one in shown]
    browser.set("[name=cam0_at]", str(at[0] + 60))
    browser.click("#form-save")
    words = browser.wait("the question", "const e = document.querySelector('.error.beside'); return e && e.textContent")
    expect("more than a tooth" in words and browser.run("return !document.getElementById('form-ask').hidden && document.querySelector('.error.beside').closest('label').querySelector('input').name") == "cam0_at", f"a place far from it is asked about: {words}")
    browser.set("[name=cam0_at]", f"{at[0]:.1f}".replace(".", ","))
    browser.run("document.querySelectorAll('#form-cams .cam')[1].querySelector('.measured button').click()")
    expect("not judged" in browser.text("#form-cams"), "one that is taken over is marked")
    browser.click("#form-save")
    browser.wait("the engine", "const e = document.getElementById('engine'), o = e.options[e.selectedIndex]; return !document.getElementById('form').open && o && o.text === 'By places'")
    ready(browser)
    measure(browser)
    notes = browser.text("#finding-notes")
    judged = {cam["cam"]: cam.get("deviation_deg") for cam in result(browser)["cams"]}
    expect("not judged" in notes and judged["B2 intake"] is None and judged["B1 intake"] is not None, f"and not judged in this capture: {notes}, {judged}")
    browser.click("#form-edit")
    browser.wait("the form", "return document.getElementById('form').open && document.querySelector('[name=firing_order]').value === '1-6-5-4-3-2'")
    browser.set("[name=tolerance]", "4,5")
    browser.click("#form-save")
    browser.wait("the engine", "return !document.getElementById('form').open")
    browser.click("#text-edit")
    expect("tolerance = 4.5" in browser.run("return document.getElementById('engine-text').value"), "an engine of the form is edited in the form")
    browser.click("#text-close")


def shelf(browser, page):
    """Engines and jobs on the shelf, and what was found when an engine was opened."""
    choose(browser, ENGINE)
    browser.set("#shelve-name", "Grey V6")
    browser.click("#shelve")
    browser.wait("it on the shelf", "return document.getElementById('shelf-words').textContent.includes('1 engine,')")
    expect(os.path.isfile(os.path.join(page.shelf, "engines", "Grey V6.toml")), "an engine is put on the shelf")
    drop(browser, os.path.join(DEMO, "bank2-late.csv"))
    likely = browser.wait("the likely engine", "const e = document.querySelector('#likely button'); return e && e.textContent")
    expect(likely == "Grey V6", f"by its wheels it is likely {likely}")
    browser.click("#likely button")
    browser.wait("it to be chosen", "const e = document.getElementById('engine'), o = e.options[e.selectedIndex]; return o && o.text === 'Demonstration V6 (shelf: Grey V6)'")
    ready(browser)
    measure(browser)
    browser.click("#keep")
    browser.wait("the job", "return document.getElementById('kept').textContent === 'Kept as job 1.' && document.querySelectorAll('#jobs tbody tr').length === 1")
    expect(sorted(os.listdir(os.path.join(page.shelf, "jobs", "0001"))) == ["bank2-late.csv", "job.toml", "report.html", "result.json"], "a job is kept: capture, result, report")
    browser.type("#outcome-text", "marks right, bracket of the sensor bent")
    browser.set("#outcome-was", "wrong")
    browser.click("#outcome-go")
    said(browser, "outcome-said")
    row = browser.wait("the outcome", "const e = document.querySelector('#jobs tbody tr'); return e && e.dataset.was === 'wrong' && e.innerText")
    record = browser.text("#record")
    expect("NOT SO: marks right" in row and "0 right and 1 wrong" in record and "mostly those that were accused" in record, f"an outcome against the finding shows: {row}; {record}")
    browser.click("#outcome-go")
    words = said(browser, "outcome-error")
    expect("in words" in words and "--" not in words, f"without a word it is refused: {words}")


def learn(browser, page):
    drop(browser, os.path.join(DEMO, "sound.csv"))
    browser.run("document.getElementById('learn-part').open = true")
    tick = "[...document.querySelectorAll('#learn-captures label')].filter((one) => one.textContent.trim().startsWith(arguments[0])).at(-1).querySelector('input').click()"
    browser.wait("the captures", "return document.querySelectorAll('#learn-captures input').length > 1")
    browser.run(tick, "bank2-late.csv")
    browser.click("#learn-go")
    words = said(browser, "learn-error")
    expect("known to be sound" in words and "--" not in words, f"a faulty engine is not learned from unasked: {words}")
    browser.run(tick, "bank2-late.csv")
    browser.run(tick, "sound.csv")
    browser.click("#learn-go")
    words = said(browser, "learned")
    expect("Written to the shelf" in words and os.path.isfile(os.path.join(page.shelf, "known-goods", "Grey V6.known.toml")), "learned, and kept as the engine's known-good")
    expect("known-good, learned from 1 engine" in browser.text("#known-row") and browser.text("#learn-error") == "", "it is held against that from now on")
    os.makedirs(page.watched + "-saved")
    browser.cdp("Browser.setDownloadBehavior", behavior="allow", downloadPath=page.watched + "-saved")
    browser.click("#shelf-save")
    packed = os.path.join(page.watched + "-saved", "camwitness-shelf.tar.gz")
    for _ in range(300):
        if os.path.exists(packed):
            break
        time.sleep(0.1)
    with tarfile.open(packed) as file:
        names = file.getnames()
    wanted = ["shelf.toml", "engines/Grey V6.toml", "known-goods/Grey V6.known.toml", "jobs/0001/job.toml"]
    expect(all("camwitness-shelf/" + name in names for name in wanted), f"the shelf is saved as one file: {names}")
    browser.type("#shelf-file", packed)
    words = said(browser, "shelf-said")
    expect(words.startswith("Added: 0 engines, 0 known-goods, 0 jobs."), f"and added again brings nothing twice: {words}")
    browser.type("#shelf-file", os.path.join(DEMO, "sound.csv"))
    words = said(browser, "shelf-error")
    expect("no shelf" in words, f"what is no shelf is refused: {words}")
    begun(browser, page.address)
    browser.wait("the page", "return document.documentElement.dataset.begun")
    lines = browser.wait("the shelf", "const all = [...document.getElementById('engine').options].map((one) => one.text); return all.some((one) => one.includes('shelf')) && all")
    expect("Demonstration V6 (shelf: Grey V6)" in lines and len(lines) == len(set(lines)), f"saved engines are there for a tab that opens later: {lines}")


def practice(browser):
    choose(browser, ENGINE)
    browser.run("document.getElementById('practice-part').open = true")
    browser.wait("the faults", "return document.getElementById('practice-fault').options.length > 3")
    browser.set("#practice-fault", "skip:B2 intake@primary:+1")
    browser.set("#practice-seed", "3")
    browser.click("#practice-go")
    saved = browser.wait("both files", "const all = [...document.querySelectorAll('#practice-row a')].map((one) => one.download); return all.length === 2 && all")
    expect(saved == ["practice-3.csv", "practice-3-truth.json"], f"a practice capture and what was done: {saved}")
    number = browser.wait("it in the session", "const one = [...document.getElementById('again').options].find((one) => one.text.startsWith('practice-3')); return one && one.value")
    browser.set("#again", number)
    browser.wait("it to be shown", "return document.getElementById('capture-about').textContent.startsWith('practice-3')")
    ready(browser)
    expect(True, "it can be measured at once")


def sheets(browser):
    """The hook-up sheet and the sheet to sign, in windows of their own."""
    browser.run("document.getElementById('plan-part').open = true")
    browser.type("#plan-channels", "many")
    browser.click("#plan-go")
    words = said(browser, "plan-error")
    expect("“many” is no number" in words, f"beside the field: {words}")
    browser.set("#plan-channels", "2")
    browser.click("#plan-go")
    plan = browser.wait("the sheet", "const e = document.querySelector('#plan-links a'); return e && e.href")
    browser.run("document.getElementById('job-part').open = true")
    for name, value in (("number", "4711"), ("vehicle", "grey estate"), ("technician", "M. N.")):
        browser.set(f"#job-{name}", value)
    pick = "const e = document.getElementById(arguments[0]), o = [...e.options].filter((one) => one.text.includes(arguments[1])).at(-1); e.value = o.value; e.dispatchEvent(new Event('change'))"
    browser.run(pick, "before", "bank2-late.csv")
    browser.run(pick, "after", "sound.csv")
    browser.type("#work", "chain kit renewed")
    browser.click("#compare-go")
    sheet = browser.wait("the sheet to sign", "const e = document.querySelector('#compared a[target=_blank]'); return e && e.href")
    first = browser.call("GET", "/window")
    second = browser.call("POST", "/window/new", {"type": "tab"})["handle"]
    browser.call("POST", "/window", {"handle": second})
    browser.go(plan)
    expect("Hook-up sheet" in browser.run("return document.title") and "capture 2 of 3" in browser.run("return document.body.innerText"), "the hook-up sheet, to print")
    browser.go(sheet)
    words = browser.run("return document.body.innerText")
    expect(all(one in words for one in ("4711", "grey estate", "M. N.", "chain kit renewed")), "the sheet to sign carries the job")
    browser.call("DELETE", "/window")
    browser.call("POST", "/window", {"handle": first})
    return plan, sheet


def watch(browser, page):
    """What a scope saves is judged with the engine chosen: whole files only, the oldest first, and nothing there is changed."""
    listed = lambda: browser.run("return [...document.querySelectorAll('#list tbody tr')].map((one) => [one.cells[0].textContent.split(',')[0], one.dataset.state || 'none'])")
    choose(browser, ENGINE)
    content = {name: read_text(os.path.join(DEMO, name)) for name in ("sound.csv", "bank2-late.csv")}
    path = os.path.join(page.watched, "slow.csv")
    size, pieces = len(content["sound.csv"]), 5
    for piece in range(pieces):
        with open(path, "a", encoding="utf-8") as file:
            file.write(content["sound.csv"][size * piece // pieces:size * (piece + 1) // pieces])
        os.utime(path, (time.time() - 60 + piece,) * 2)
        expect_quietly(not any(name == "slow.csv" for name, _ in listed()), "a file that is still written is judged")
        if piece < pieces - 1:
            time.sleep(0.6)
    older = os.path.join(page.watched, "older.csv")
    with open(older, "w", encoding="utf-8") as file:
        file.write(content["bank2-late.csv"])
    os.utime(older, (time.time() - 600,) * 2)
    with open(os.path.join(page.watched, "no-capture.csv"), "w", encoding="utf-8") as file:
        file.write("nothing to read\n")
    browser.wait("both", "return ['older.csv', 'slow.csv'].every((name) => [...document.querySelectorAll('#list tbody tr')].some((one) => one.dataset.state && one.cells[0].textContent.startsWith(name)))")
    rows = [row for row in listed() if row[0] in ("older.csv", "slow.csv")]
    expect(rows == [["older.csv", "jumped"], ["slow.csv", "in_time"]], f"one still written is waited for, and they are judged the oldest first: {rows}")
    refused = browser.wait("the refusal", "return document.getElementById('watch-refused').innerText")
    expect("no-capture.csv" in refused and "--" not in refused, f"what is no capture is said: {refused}")
    there = {name: read_text(os.path.join(page.watched, name)) for name in sorted(os.listdir(page.watched))}
    expect(sorted(there) == ["no-capture.csv", "older.csv", "slow.csv"] and there["older.csv"] == content["bank2-late.csv"], "nothing in the folder is moved or changed")


def removed(browser):
    rows = browser.run("return document.querySelectorAll('#list tbody tr').length")
    browser.run("const row = [...document.querySelectorAll('#list tbody tr')].at(-1); row.querySelector('button').click()")
    browser.wait("its report", "return !document.getElementById('report-part').hidden")
    browser.run("const row = [...document.querySelectorAll('#list tbody tr')].at(-1); row.querySelectorAll('button')[1].click()")
    browser.wait("it to go", "return document.querySelectorAll('#list tbody tr').length === arguments[0] - 1", rows)
    expect(browser.run("return document.getElementById('report-part').hidden"), "a result that is removed leaves no report standing")


def little_memory(browser, program, work):
    """Captures leave where there is no room, the oldest first, and the page says so."""
    page = Program(program, os.path.join(work, "little"), "--memory", "1400k")
    try:
        begun(browser, page.address)
        for name in ("sound.csv", "repaired.csv"):
            drop(browser, os.path.join(DEMO, name))
        words = browser.wait("the words", "const e = document.getElementById('left'); return !e.hidden && e.textContent")
        held = browser.run("return [...document.getElementById('again').options].map((one) => one.text.split(',')[0])")
        expect("sound.csv" in words and "sound.csv" not in held and "repaired.csv" in held, f"{words} Held: {held}")
    finally:
        page.close()


def points(browser, program, work, folder):
    """Every point. Gives the page, to be looked at further, with the addresses of its two sheets."""
    work = os.path.join(work, "points")
    os.makedirs(work)
    page = Program(program, work, "--watch", os.path.join(work, "scope"))
    host, port = page.host.split(":")
    slow = socket.create_connection((host, int(port)))
    slow.sendall(b"GET / HTTP/1.1\r\nhost: ")
    asked = time.monotonic()
    try:
        two_clicks(browser, page)
        nothing_stale(browser)
        asked_fields(browser)
        without_an_engine(browser, folder)
        alike(browser)
        told_apart(browser)
        joined(browser)
        part(browser)
        engines(browser)
        late = os.path.join(work, "late.csv")
        with open(late, "w", encoding="utf-8") as file:
            file.write(columns("bank2-late.csv", (0, 1, 2, 3)))
        places(browser, late)
        shelf(browser, page)
        learn(browser, page)
        practice(browser)
        plan, sheet = sheets(browser)
        watch(browser, page)
        removed(browser)
        slow.settimeout(max(0.1, 15 - (time.monotonic() - asked)))
        try:
            let_go = slow.recv(1000) == b"" or slow.recv(1000) == b""
        except ConnectionResetError:
            let_go = True
        expect(let_go, "whoever begins a request and does not go on is let go")
        strangers(browser, page)
        return page, plan, sheet
    except BaseException:
        page.close()
        raise
