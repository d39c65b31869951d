"""A real Chromium, cut off from every network, and what its pages show.

It is driven through its DevTools protocol over a pipe: no port, no package.
"""

from __future__ import annotations

import base64
import fcntl
import itertools
import json
import os
import re
import select
import shutil
import subprocess
import time
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(
    BROWSER is None, reason="no chromium or chromium-browser on PATH"
)
needs_pdftoppm = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm on PATH")

PATIENCE = 240.0
"""Seconds to wait for the browser, or for a command that it waits for: machines can be busy."""


class Chromium:
    """A browser with one tab, its profile in a folder of its own."""

    def __init__(self, profile: Path) -> None:
        theirs, self._write = os.pipe()
        to_browser = fcntl.fcntl(theirs, fcntl.F_DUPFD_CLOEXEC, 10)
        self._read, back = os.pipe()
        from_browser = fcntl.fcntl(back, fcntl.F_DUPFD_CLOEXEC, 10)

        def speak_on_3_and_4() -> None:
            os.dup2(to_browser, 3)
            os.dup2(from_browser, 4)

        self._process = subprocess.Popen(
            [
                BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
                "--disable-background-networking", "--hide-scrollbars", "--remote-debugging-pipe",
                "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
                "--proxy-server=127.0.0.1:9",
                f"--user-data-dir={profile}", "about:blank",
            ],
            preexec_fn=speak_on_3_and_4, close_fds=False, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for handle in (theirs, to_browser, back, from_browser):
            os.close(handle)
        self._numbers = itertools.count(1)
        self._held = b""
        self._events: list[dict[str, Any]] = []
        self._session: str | None = None
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def __enter__(self) -> Chromium:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait(120)
        os.close(self._write)
        os.close(self._read)

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Ask for something, and give the answer."""
        number = next(self._numbers)
        message = {"id": number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + PATIENCE
        while True:
            answer = self._next(until)
            if answer.get("id") == number:
                assert "error" not in answer, answer
                return answer["result"]
            self._events.append(answer)

    def _next(self, until: float) -> dict[str, Any]:
        while b"\0" not in self._held:
            ready, _, _ = select.select([self._read], [], [], max(0.0, until - time.monotonic()))
            assert ready, "the browser does not answer"
            part = os.read(self._read, 1 << 20)
            assert part, "the browser has ended"
            self._held += part
        text, self._held = self._held.split(b"\0", 1)
        return json.loads(text)

    def await_event(self, method: str) -> dict[str, Any]:
        """Wait for the next event of a kind that has not been taken yet."""
        until = time.monotonic() + PATIENCE
        while True:
            for event in self._events:
                if event["method"] == method:
                    self._events.remove(event)
                    return event
            self._events.append(self._next(until))

    def events(self, *methods: str) -> list[dict[str, Any]]:
        """The events of these kinds so far that nobody has waited for."""
        self.call("Runtime.evaluate", expression="0")
        return [event["params"] for event in self._events if event["method"] in methods]

    def forget(self) -> None:
        """Forget all events so far."""
        self.call("Runtime.evaluate", expression="0")
        self._events = []

    def said(self) -> list[dict[str, Any]]:
        """What the console was told, and what went wrong."""
        return self.events("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded")

    def open(self, address: str) -> None:
        """Open an address, and wait until it has loaded."""
        self._forget_loads()
        self.call("Page.navigate", url=address)
        self.await_event("Page.loadEventFired")

    def _forget_loads(self) -> None:
        self._events = [one for one in self._events if one["method"] != "Page.loadEventFired"]

    def run(self, script: str) -> Any:
        """Run a script in the page, and give its value, awaited."""
        answer = self.call(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True
        )
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def go(self, script: str) -> None:
        """Run a script that leads to another page, and wait until that has loaded."""
        self._forget_loads()
        self.run(script)
        self.await_event("Page.loadEventFired")

    def until_done(self) -> None:
        """Wait for the work in progress: the page shows itself anew when it is done."""
        while self.run("!!document.querySelector('[data-wait]')"):
            self.await_event("Page.loadEventFired")

    def until(self, selector: str) -> None:
        """Wait until there is an element in the page."""
        self.run(
            f"new Promise(found => {{ const look = () => document.querySelector({selector!r})"
            " && found(true); new MutationObserver(look).observe(document,"
            " {childList: true, subtree: true}); look(); })"
        )

    def choose(self, selector: str, *paths: Path) -> None:
        """Choose files in a form."""
        document = self.call("DOM.getDocument")["root"]["nodeId"]
        found = self.call("DOM.querySelector", nodeId=document, selector=selector)["nodeId"]
        self.call("DOM.setFileInputFiles", nodeId=found, files=[str(path) for path in paths])

    def key(self, name: str, text: str = "") -> None:
        """Press a key."""
        codes = {"Tab": 9, "Enter": 13, " ": 32, "ArrowRight": 39, "ArrowLeft": 37}
        common = {"key": name, "windowsVirtualKeyCode": codes.get(name, 0)}
        self.call("Input.dispatchKeyEvent", type="keyDown", text=text, **common)
        self.call("Input.dispatchKeyEvent", type="keyUp", **common)

    def tab_to(self, selector: str) -> None:
        """Go with the Tab key to what a selector names."""
        for _ in range(200):
            self.key("Tab")
            if self.run(f"document.activeElement.matches({selector!r})"):
                return
        raise AssertionError(f"the Tab key does not lead to {selector}")

    def enter(self, selector: str) -> None:
        """Go to a button or a link with the Tab key, press Enter, and wait for the page."""
        self.tab_to(selector)
        self.press_enter()

    def press_enter(self) -> None:
        """Press Enter where one is, and wait for the page."""
        self._forget_loads()
        self.key("Enter", "\r")
        self.await_event("Page.loadEventFired")

    def click(self, selector: str) -> None:
        """Press the mouse on an element, where it is seen."""
        self.run(f"document.querySelector({selector!r}).scrollIntoView({{block: 'center'}})")
        x, y = self.point(selector, 0.5)
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def follow(self, selector: str) -> None:
        """Press the mouse on a button or a link, and wait for the page."""
        self._forget_loads()
        self.click(selector)
        self.await_event("Page.loadEventFired")

    def drop(self, path: Path) -> None:
        """Drop a file on the page, and wait for the page."""
        self._forget_loads()
        data = {"items": [], "files": [str(path)], "dragOperationsMask": 1}
        for kind in ("dragEnter", "dragOver", "drop"):
            self.call("Input.dispatchDragEvent", type=kind, x=200, y=200, data=data)
        self.await_event("Page.loadEventFired")

    def point(self, selector: str, across: float) -> tuple[float, float]:
        """Move the mouse over an element, to a share of its width; give where that is."""
        box = self.run(
            f"(box => [box.left, box.top, box.width, box.height])"
            f"(document.querySelector({selector!r}).getBoundingClientRect())"
        )
        x, y = box[0] + across * box[2], box[1] + box[3] / 2
        self.call("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)
        return x, y

    def size(self, width: int, height: int = 900) -> None:
        """Let the window have a size."""
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height,
            deviceScaleFactor=1, mobile=False,
        )  # fmt: skip

    def darkness(self, dark: bool) -> None:
        """Let the screen be a dark one, or a light one."""
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])

    def printed(self, path: Path) -> None:
        """Save the page as it is printed."""
        sheets = self.call("Page.printToPDF", printBackground=True, preferCSSPageSize=True)
        path.write_bytes(base64.b64decode(sheets["data"]))

    def picture(self, path: Path, *, whole: bool = True) -> None:
        """Save the page as it looks: the whole of it, or what the window shows."""
        shot = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(shot["data"]))

    def violations(self) -> list[str]:
        """What axe-core finds against everyone being able to use the page."""
        self.call("Runtime.evaluate", expression=axe_source())
        return self.run(
            "axe.run({resultTypes: ['violations']}).then(result => result.violations.map("
            "one => one.id + ': ' + one.nodes[0].html.slice(0, 200) + one.nodes[0].failureSummary))"
        )


_LOOK = """(() => {
  const shown = [...document.querySelectorAll("figure svg")].filter(
    figure => getComputedStyle(figure).display !== "none" && figure.checkVisibility());
  const words = document.querySelectorAll("p, td, dd, dt, li, figcaption");
  return {
    width: innerWidth,
    scroll: document.documentElement.scrollWidth,
    title: document.title,
    ground: getComputedStyle(document.body).backgroundColor,
    shown: shown.map(figure => figure.getAttribute("class")),
    empty: shown.filter(figure => !figure.getBBox().width).length,
    smallest: Math.min(...[...words].map(word => parseFloat(getComputedStyle(word).fontSize))),
  };
})()"""


def look(
    browser: Chromium, text: str, width: int, folder: Path, *, accessibility: bool = False
) -> dict[str, Any]:
    """Open a page at a width, with scripts let run: hostile ones would, too.

    Parameters
    ----------
    accessibility
        Whether it is checked, which takes long.

    Returns
    -------
    What is seen, what the page asked for, and the console's messages.
    """
    page, count = re.subn(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    assert count == 1
    file = folder / "looked-at.html"
    file.write_text(page, encoding="utf-8")
    browser.forget()
    browser.size(width)
    browser.open(file.as_uri())
    # A request or an error may come a moment after a page has loaded.
    browser.run("new Promise(done => requestAnimationFrame(() => setTimeout(done, 60)))")
    seen = browser.run(_LOOK)
    asked = [one["request"]["url"] for one in browser.events("Network.requestWillBeSent")]
    seen["requests"] = [url for url in asked if url != file.as_uri()]
    seen["console"] = browser.said()
    if accessibility:
        # Only the names of figures matter here; to walk all their lines would take its time.
        browser.run("document.querySelectorAll('svg > *').forEach(part => part.remove())")
        seen["violations"] = browser.violations()
    return seen


def axe_source() -> str:
    """Give the script of axe-core, which checks pages by WCAG; it comes with a Python package."""
    spec = find_spec("axe_core_python")
    assert spec is not None
    return (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")
