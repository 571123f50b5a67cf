"""A headless Chromium led over a pipe: pages opened, measured, printed, looked at.

The protocol is the browser's own (Chrome DevTools Protocol): JSON messages that end in a zero byte.
"""

import base64
import contextlib
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

PROGRAM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("chrome")
FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-dev-shm-usage --hide-scrollbars "
    "--no-first-run --disable-extensions --disable-background-networking --remote-debugging-pipe"
)


class Browser:
    """One browser with one page. `noise` holds what the console said, `asked` what was fetched."""

    def __init__(self, folder: Path) -> None:
        read, self._out = os.pipe()
        self._in, write = os.pipe()
        command = [PROGRAM, *FLAGS.split(), f"--user-data-dir={folder}", "about:blank"]
        start = (
            f"import os; os.dup2({read}, 23); os.dup2({write}, 24); os.dup2(23, 3); "
            f"os.dup2(24, 4); os.execv({PROGRAM!r}, {command!r})"
        )
        self._process = subprocess.Popen(
            [sys.executable, "-S", "-c", start], pass_fds=(read, write),
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            env={**os.environ, "HOME": str(folder)},
        )  # fmt: skip
        os.close(read)
        os.close(write)
        self._number, self._left, self._session = 0, b"", None
        self._seen: list[dict] = []
        target = self("Target.createTarget", url="about:blank")["targetId"]
        found = self("Target.attachToTarget", targetId=target, flatten=True)
        self._session = found["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self(f"{domain}.enable")
        self("Page.setBypassCSP", enabled=True)  # for what a test puts into the page

    def __enter__(self) -> "Browser":
        return self

    def __exit__(self, *_: object) -> None:
        with contextlib.suppress(OSError, EOFError):
            self._session = None
            self("Browser.close")
        for end in (self._in, self._out):
            os.close(end)
        try:
            self._process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            self._process.kill()

    def __call__(self, method: str, **params: object) -> dict:
        """Ask for something and wait for the answer."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]
            self._seen.append(answer)

    def _next(self) -> dict:
        while b"\0" not in self._left:
            more = os.read(self._in, 1 << 16)
            if not more:
                raise EOFError("the browser has gone")
            self._left += more
        message, _, self._left = self._left.partition(b"\0")
        return json.loads(message)

    def open(self, path: Path, width: int = 900, height: int = 800, *, dark: bool = False) -> None:
        """Show a file at this size, and wait until all of it is there."""
        scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
        self("Emulation.setEmulatedMedia", features=scheme)
        self(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1,
            mobile=width < 500,
        )  # fmt: skip
        self._seen.clear()
        self("Page.navigate", url=path.resolve().as_uri())
        while not any(s.get("method") == "Page.loadEventFired" for s in self._seen):
            self._seen.append(self._next())

    def run(self, script: str) -> object:
        """What an expression of the page comes to."""
        found = self(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True
        )  # fmt: skip
        if "exceptionDetails" in found:
            raise RuntimeError(str(found["exceptionDetails"]))
        return found["result"].get("value")

    @property
    def noise(self) -> list[str]:
        """What the page said on the console since it was opened."""
        said = ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown")
        return [json.dumps(s["params"]) for s in self._seen if s.get("method") in said]

    @property
    def asked(self) -> list[str]:
        """The addresses that were asked for since the page was opened, but its own and what
        stands in it."""
        asked = [
            s["params"]["request"]["url"]
            for s in self._seen
            if s.get("method") == "Network.requestWillBeSent"
        ]
        return [url for url in asked[1:] if not url.startswith("data:")]

    def picture(self, path: Path, *, whole: bool = True) -> None:
        """A screenshot."""
        found = self("Page.captureScreenshot", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(found["data"]))

    def pdf(self) -> bytes:
        """The page as it is printed."""
        found = self("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(found["data"])


def sheets(pdf: bytes) -> int:
    """How many sheets of paper a PDF of this browser has."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def violations(browser: Browser, axe: str) -> object:
    """What axe-core finds wrong on the page that is open, all that is folded opened."""
    browser.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    browser.run(f"{axe};0")
    return browser.run(
        "axe.run(document, {resultTypes: ['violations']}).then(r => r.violations.map("
        "v => [v.id, v.nodes.length, v.nodes[0].html, v.nodes[0].failureSummary]))"
    )
