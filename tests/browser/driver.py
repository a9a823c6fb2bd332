"""A browser for the tests: headless Chromium, driven over WebDriver with nothing but Python, and what every test of the page
does with it."""

import base64, json, os, re, subprocess, time, urllib.error, urllib.request

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
DEMO = os.path.join(ROOT, "demo-data")
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the key of W3C WebDriver, section 12
# (capture of demo-data, finding)
DEMONSTRATION = [("sound.csv", "in_time"), ("bank2-late.csv", "jumped"), ("repaired.csv", "in_time")]
SIZES = {"desktop": (1280, 720), "tablet": (820, 1180), "phone": (390, 844)}


def resident(pid):
    """Megabytes that a process and all it has started hold in memory (/proc of Linux)."""
    parents, held = {}, {}
    for name in filter(str.isdigit, os.listdir("/proc")):
        try:
            with open(f"/proc/{name}/stat", encoding="utf-8", errors="replace") as file:
                fields = file.read().rsplit(")", 1)[1].split()
        except OSError:
            continue
        parents[int(name)], held[int(name)] = int(fields[1]), int(fields[21]) * os.sysconf("SC_PAGE_SIZE") / 1e6
    def below(one):
        while one and one != pid:
            one = parents.get(one)
        return one == pid
    return sum(size for one, size in held.items() if below(one))


# Chromium drops what a page asks for beyond ten downloads in a second (seen in version 156; nobody presses so fast).
BETWEEN_DOWNLOADS = 0.15


def save_all(browser, folder):
    """Presses every "Save" of a report, its pictures' too: the files' names. Each is waited for, in the folder of downloads."""
    browser.run("document.querySelector('#downloads details').open = true")
    names = browser.run("return [...document.querySelectorAll('#downloads a[download]')].map((link) => link.download)")
    for name in names:
        browser.run("[...document.querySelectorAll('#downloads a[download]')].find((link) => link.download === arguments[0]).click()", name)
        pressed = time.time()
        while name not in os.listdir(folder):
            if time.time() - pressed > 30:
                raise SystemExit(f"{name} never arrives, only {sorted(os.listdir(folder))}")
            time.sleep(0.02)
        time.sleep(max(0.0, BETWEEN_DOWNLOADS - (time.time() - pressed)))
    return names


class Browser:
    """As much of WebDriver as is needed."""

    def __init__(self):
        self.driver = subprocess.Popen(
            ["chromedriver", "--port=0"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        for line in self.driver.stdout:
            found = re.search(r"success\w* on port ([1-9]\d*)", line)
            if found:
                break
        self.base = f"http://127.0.0.1:{found.group(1)}"
        options = {"args": ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]}
        wanted = {"capabilities": {"alwaysMatch": {"goog:chromeOptions": options, "goog:loggingPrefs": {"browser": "ALL"}}}}
        about = self.call("POST", "/session", wanted)
        self.base += "/session/" + about["sessionId"]
        self.version = about["capabilities"]["browserVersion"]

    def call(self, method, path, body=None):
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.base + path, data, {"Content-Type": "application/json"}, method=method)
        try:
            with urllib.request.urlopen(request, timeout=120) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            raise SystemExit(f"browser: {json.load(error)['value']['message'][:400]}")

    def go(self, address):
        self.call("POST", "/url", {"url": address})

    def run(self, script, *args):
        return self.call("POST", "/execute/sync", {"script": script, "args": list(args)})

    def find(self, css):
        return self.call("POST", "/element", {"using": "css selector", "value": css})[ELEMENT]

    def click(self, css):
        self.call("POST", f"/element/{self.find(css)}/click", {})

    def type(self, css, text):
        self.call("POST", f"/element/{self.find(css)}/value", {"text": text})

    def press(self, *keys):
        actions = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        self.call("POST", "/actions", {"actions": [{"type": "key", "id": "keys", "actions": actions}]})

    def wait(self, what, script, *args):
        for _ in range(900):  # a machine with other work is waited for
            value = self.run(script, *args)
            if value:
                return value
            time.sleep(0.1)
        raise SystemExit(f"waited in vain for {what}")

    def size(self, width, height):
        self.call("POST", "/window/rect", {"width": width, "height": height})
        inner = self.run("return [innerWidth, innerHeight]")
        self.call("POST", "/window/rect", {"width": 2 * width - inner[0], "height": 2 * height - inner[1]})

    def shape(self, width=None, height=None):
        """A screen of that size, smaller than a window may be; without one, the window's again."""
        if width is None:
            return self.cdp("Emulation.clearDeviceMetricsOverride")
        return self.cdp("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def scheme(self, name):
        self.cdp("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": name}])

    def cdp(self, command, **params):
        return self.call("POST", "/goog/cdp/execute", {"cmd": command, "params": params})

    def text(self, css):
        return self.run("return document.querySelector(arguments[0]).innerText", css)

    def set(self, css, value):
        """Chooses or types, as far as the page's scripts can tell."""
        self.run("""
            const e = document.querySelector(arguments[0]);
            e.value = arguments[1];
            for (const kind of ["input", "change"]) e.dispatchEvent(new Event(kind, { bubbles: true }));
        """, css, value)

    def drag(self, css, start, end):
        """Presses on an element, moves and lets go; where is given as shares of its width."""
        origin = {ELEMENT: self.find(css)}
        self.run("arguments[0].scrollIntoView({ block: 'center' })", origin)
        width = self.run("return arguments[0].getBoundingClientRect().width", origin)
        at = lambda share: {"type": "pointerMove", "origin": origin, "x": round((share - 0.5) * width), "y": 0, "duration": 50}
        steps = [at(start), {"type": "pointerDown", "button": 0}, at((start + end) / 2), at(end), {"type": "pointerUp", "button": 0}]
        self.call("POST", "/actions", {"actions": [{"type": "pointer", "id": "hand", "actions": steps}]})

    def close(self):
        try:
            self.call("DELETE", "", None)
        finally:
            self.driver.terminate()


def expect_quietly(true, what):
    if not true:
        raise SystemExit(f"not as it should be: {what}")


def expect(true, what):
    expect_quietly(true, what)
    print("ok  ", what)


def keep(folder, name, encoded):
    if folder:
        with open(os.path.join(folder, name), "wb") as out:
            out.write(base64.b64decode(encoded))


def drop(browser, path):
    """Drops a file on the zone, as a hand does: a drop event with the file in it."""
    name = os.path.basename(path)
    with open(path, encoding="utf-8") as text:
        content = text.read()
    browser.run("""
        const data = new DataTransfer();
        data.items.add(new File([arguments[1]], arguments[0]));
        document.getElementById("capture-about").textContent = "";
        document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
    """, name, content)
    browser.wait(f"the channels of {name}", """
        const error = document.getElementById("capture-error").textContent;
        return error || (document.getElementById("capture-about").textContent.startsWith(arguments[0]) && "read");
    """, name)


def drop_all(browser, files):
    """Drops several files at once: names with their texts."""
    browser.run("""
        const data = new DataTransfer();
        for (const [name, text] of arguments[0]) data.items.add(new File([text], name));
        document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
    """, files)


def read_text(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def measure(browser):
    before = browser.run("return document.getElementById('report').getAttribute('src')")
    browser.click("#run")
    done = browser.wait("the report", """
        const error = document.getElementById("run-error").textContent;
        const now = document.getElementById("report").getAttribute("src");
        return error || (now && now !== arguments[0]);
    """, before)
    expect(done is True, f"measured {'' if done is True else done}")
    return browser.run("return document.getElementById('finding').dataset.state")


def no_overflow(browser, what):
    wide = browser.run("return document.documentElement.scrollWidth - innerWidth")
    expect(wide <= 0, f"{what}: nothing runs out at the side ({wide} px)")


def drop_too_large(browser):
    """Drops a file that says it has 2 GB; gives what is said of it."""
    browser.run("""
        const big = new File(["time,crank"], "big.csv");
        Object.defineProperty(big, "size", { value: 2e9 });
        const dropped = new DragEvent("drop", { bubbles: true, cancelable: true });
        Object.defineProperty(dropped, "dataTransfer", { value: { files: [big] } });
        document.getElementById("drop").dispatchEvent(dropped);
    """)
    return browser.run("return document.getElementById('capture-error').textContent")
