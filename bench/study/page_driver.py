"""The bench page in a real browser: started as a person would, looked at and worked through its own controls."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from bench.study.soaking import children_of

CHROMIUM = os.environ.get("RODTRUE_CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE_S = 60.0
"""Safety only: nothing is judged by it."""

MOST_TICKS, SHORT_MS, ARRIVES_MS = 60, 2000, 20000
_OPEN = """() => [
    ...[...document.querySelectorAll(".rt-checks input")].filter((e) => !e.value),
    ...document.querySelectorAll(".rt-checks > .rt-check[aria-checked=false]"),
    ...[...document.querySelectorAll(".rt-check-many")].filter((e) => !e.querySelector("[aria-checked=true]"))
        .map((e) => e.querySelector(".rt-check")),
].map((e) => e.id)"""
_COMES_TO_REST = """(key) => new Promise((done) => {
    const begun = performance.now();
    let place = "", since = begun;
    const look = () => {
        const box = key.getBoundingClientRect(), now = performance.now();
        if (place !== `${box.x} ${box.y}`) { place = `${box.x} ${box.y}`; since = now; }
        if (!key.isConnected || now - since > 200 || now - begun > 5000) done();
        else requestAnimationFrame(look);
    };
    look();
})"""
_ASKS_ANOTHER = '(number) => (document.querySelector("#rt-asked")?.dataset.number || "") !== number'
_IS_NO_LONGER_OPEN = f"(id) => !({_OPEN})().includes(id)"


class PageProcess:
    """`rodtrue page` in a process of its own, at a terminal. said: what it printed there; address: its own.

    settings: of its environment, beside this process's own.
    """

    def __init__(self, out: Path, *arguments: str, settings: dict[str, str] | None = None) -> None:
        command = [sys.executable, "-m", "rodtrue", "page", "--no-open", "--http", "0", "--out", str(out), *arguments]
        self.log = out.with_suffix(".log")
        self._log = self.log.open("w")
        near, far = os.openpty()
        self._terminal = os.fdopen(near, encoding="utf-8")
        environment = {**os.environ, "PYTHONUNBUFFERED": "1", **(settings or {})}
        self.process = subprocess.Popen(command, stdout=far, stderr=self._log, env=environment)
        os.close(far)
        self.said = [self._line()]
        while not self.said[-1].startswith("Ctrl-C"):
            self.said.append(self._line())
        self.address = self.said[0].removeprefix("The bench page: ")

    def _line(self) -> str:
        try:
            return self._terminal.readline().strip()
        except OSError as error:  # nobody is at the other end any more
            self.stop()
            raise RuntimeError(f"the page did not start: {self.log.read_text()}") from error

    def stop(self) -> int:
        """End it as Ctrl-C does and return its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        code = self.process.wait(timeout=PATIENCE_S)
        self._terminal.close()
        self._log.close()
        return code


@contextmanager
def page_process(out: Path, *arguments: str) -> Iterator[PageProcess]:
    """Run it for a while."""
    process = PageProcess(out, *arguments)
    try:
        yield process
    finally:
        process.stop()


@contextmanager
def chromium() -> Iterator[Any]:
    """Run the system's Chromium: a playwright `Browser`."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        try:
            yield browser
        finally:
            with contextlib.suppress(PlaywrightError):  # it has been ended
                browser.close()


def end_browsers() -> None:
    """End every browser of this process, from whatever thread: what waits for one of them is told so."""
    for driver in children_of(os.getpid()):
        if "playwright" in Path(f"/proc/{driver}/cmdline").read_text():
            for browser in children_of(driver):
                os.kill(browser, signal.SIGKILL)


class Visitor:
    """A person before the page. tab: the browser's page."""

    def __init__(self, tab: Any, address: str) -> None:
        self.tab = tab
        tab.set_default_timeout(1000 * PATIENCE_S)
        tab.goto(address)
        tab.wait_for_selector("#rt-asked")

    def asked(self) -> str:
        """What the page says or asks."""
        return str(self.tab.locator("#rt-asked").first.inner_text())

    def number(self) -> str:
        """Which question that is; "" before and after a run."""
        return self.tab.locator("#rt-asked").first.get_attribute("data-number") or ""

    def stage(self) -> str:
        """The name of the step under way."""
        return str(self.tab.locator(".rt-stage-name").first.inner_text())

    def begin(self, fields: dict[str, str] | None = None, *, speed: str = "12") -> None:
        """Fill the form in for a virtual fixture and begin. fields: what to write or pick, by label."""
        form = self.tab.locator(".rt-form").first
        form.get_by_label("Virtual fixture", exact=False).check()
        form.get_by_label("Time passes").select_option(speed)
        for label, text in (fields or {}).items():
            field = form.get_by_label(label, exact=True)
            if field.evaluate("e => e.tagName") == "SELECT":
                field.select_option(text)
            else:
                field.fill(text)
        self.press("Begin")
        self.tab.wait_for_selector("#rt-asked[data-number]")

    def press(self, name: str) -> None:
        """Press the button of that name, no sooner than a person could.

        What comes with a new question moves the keys once more, and pressed here and let go there is no press.
        """
        button = self.tab.get_by_role("button", name=name, exact=True).first
        button.evaluate(_COMES_TO_REST)
        button.click()

    def step(self, number: str | None = None) -> None:
        """Do what is asked now, if anything is, by the first answer; number: only if it is still that question."""
        number = self.number() if number is None else number
        self._tick_all()
        main = self.tab.locator(".rt-now .rt-main-key")
        if main.count() and self.number() == number:
            with contextlib.suppress(PlaywrightTimeout):  # another question came under the finger
                main.first.click(timeout=SHORT_MS)
                self.tab.wait_for_function(_ASKS_ANOTHER, arg=number, timeout=SHORT_MS)

    def go_on(self, until: Callable[[], bool], patience_s: float = 4 * PATIENCE_S) -> None:
        """Answer by the first answer until something holds."""
        ends = time.monotonic() + patience_s
        while True:
            number = self.number()  # before looking: what comes after the look is not answered unseen
            if until():
                return
            if time.monotonic() > ends:
                raise TimeoutError(self._where())
            self.step(number)
            time.sleep(0.03)

    def wait(self, until: Callable[[], bool]) -> None:
        """Wait until something holds."""
        ends = time.monotonic() + PATIENCE_S
        while not until():
            if time.monotonic() > ends:
                raise TimeoutError(self._where())
            time.sleep(0.03)

    def is_over(self) -> bool:
        """Whether the run is over."""
        return self.stage() in ("Done", "Ended early")

    def verdicts(self) -> list[str]:
        """The verdicts that are shown, as found first."""
        return [str(word) for word in self.tab.locator(".rt-verdict-name").all_inner_texts()]

    def _where(self) -> str:
        said = self.tab.locator(".rt-alarms, .rt-complaint, .rt-said").all_inner_texts()
        return f"still at {self.stage()}, question {self.number()}: {self.asked()} Said: {said}"

    def _tick_all(self) -> None:
        """Tick what is open of a checklist, one after the other; others may do so at the same time."""
        for _ in range(MOST_TICKS):
            still_open = self.tab.evaluate(_OPEN)
            if not still_open:
                return
            with contextlib.suppress(PlaywrightTimeout):
                item = self.tab.locator(f"#{still_open[0]}")
                if item.evaluate("e => e.tagName", timeout=SHORT_MS) == "INPUT":
                    item.fill("side port, tee, invented hose", timeout=SHORT_MS)
                else:
                    item.click(timeout=SHORT_MS)
                # Patient: a second press on what is only slow to arrive would take the tick back.
                self.tab.wait_for_function(_IS_NO_LONGER_OPEN, arg=still_open[0], timeout=ARRIVES_MS)
        raise TimeoutError(f"still open at {self.asked()}: {self.tab.evaluate(_OPEN)}")
