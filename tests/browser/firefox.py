"""Headless Firefox for the tests, driven over Marionette, its own remote protocol, with nothing but Python: messages are
`length:JSON` over a socket, the commands those of WebDriver (Firefox Source Docs, "Marionette", "Protocol")."""

import json, os, shutil, socket, subprocess, tempfile, time

from driver import Browser

# WebDriver's commands as the tests ask for them, and as Marionette names them.
NAMES = {
    "/url": "WebDriver:Navigate", "/execute/sync": "WebDriver:ExecuteScript", "/execute/async": "WebDriver:ExecuteAsyncScript",
    "/element": "WebDriver:FindElement", "/actions": "WebDriver:PerformActions", "/screenshot": "WebDriver:TakeScreenshot",
    "/window/rect": "WebDriver:SetWindowRect",
}


class Firefox(Browser):
    """The same browser to the tests, without what only Chromium has: `cdp` and the log."""

    def __init__(self, downloads):
        self.profile = tempfile.mkdtemp()
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        wishes = {
            "marionette.port": port, "browser.download.folderList": 2, "browser.download.dir": downloads,
            "browser.shell.checkDefaultBrowser": False, "datareporting.policy.dataSubmissionEnabled": False,
            "app.update.enabled": False, "toolkit.telemetry.reportingpolicy.firstRun": False, "network.captive-portal-service.enabled": False,
            "network.connectivity-service.enabled": False, "browser.download.always_ask_before_handling_new_types": False,
        }
        with open(os.path.join(self.profile, "user.js"), "w", encoding="utf-8") as file:
            for name, value in wishes.items():
                file.write(f"user_pref({json.dumps(name)}, {json.dumps(value)});\n")
        self.driver = subprocess.Popen(
            ["firefox", "--headless", "--marionette", "--no-remote", "--profile", self.profile, "about:blank"],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, "MOZ_HEADLESS_WIDTH": "1280", "MOZ_HEADLESS_HEIGHT": "900"})
        self.asked = 0
        for _ in range(900):
            try:
                self.socket = socket.create_connection(("127.0.0.1", port), timeout=120)
                break
            except OSError:
                time.sleep(0.1)
        else:
            raise SystemExit("Firefox does not answer")
        self.take()  # who it is
        about = self.say("WebDriver:NewSession", {})["capabilities"]
        self.version = about["browserVersion"]

    def take(self):
        length = b""
        while not length.endswith(b":"):
            length += self.some(1)
        return json.loads(self.some(int(length[:-1])))

    def some(self, count):
        got = b""
        while len(got) < count:
            piece = self.socket.recv(count - len(got))
            if not piece:
                raise SystemExit("Firefox has gone")
            got += piece
        return got

    def say(self, name, params):
        self.asked += 1
        message = json.dumps([0, self.asked, name, params]).encode()
        self.socket.sendall(str(len(message)).encode() + b":" + message)
        _, number, error, result = self.take()
        assert number == self.asked, f"an answer to another question: {number}"
        if error:
            raise SystemExit(f"browser: {error['message'][:400]}")
        return result

    def call(self, method, path, body=None):
        parts = path.split("/")
        if len(parts) == 4 and parts[1] == "element":
            return self.say({"click": "WebDriver:ElementClick", "value": "WebDriver:ElementSendKeys"}[parts[3]], {"id": parts[2], **body})
        result = self.say(NAMES[path], {"full": False, **(body or {})} if path == "/screenshot" else body or {})
        return result["value"] if set(result) == {"value"} else result

    def close(self):
        try:
            self.say("Marionette:Quit", {"flags": ["eForceQuit"]})
            self.driver.wait(30)
        except (SystemExit, OSError, subprocess.TimeoutExpired):
            self.driver.terminate()
            self.driver.wait()
        shutil.rmtree(self.profile, ignore_errors=True)
