"""Pictures of every stage of the bench page at three widths, light and dark: `python -m bench.page_screens OUT`."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from bench.study.page_driver import Visitor, chromium, page_process

WIDTHS = {360: 740, 1024: 768, 1920: 1080}
THEMES = ("light", "dark")


class Gallery:
    """Tabs of all widths and themes before one page; the first one is worked with."""

    def __init__(self, browser: Any, address: str, out: Path, count: int = 0) -> None:
        self._out = out
        self.count = count
        self.tabs: dict[str, Any] = {}
        for theme in THEMES:
            for width, height in WIDTHS.items():
                context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=theme)
                tab = context.new_page()
                Visitor(tab, address)
                self.tabs[f"{width}-{theme}"] = tab
        self.visitor = Visitor(self.tabs["1024-light"], address)

    def shoot(self, name: str) -> None:
        """Take the same moment from every tab."""
        self.count += 1
        self.visitor.tab.wait_for_timeout(400)
        for look, tab in self.tabs.items():
            tab.screenshot(path=self._out / f"{self.count:02d}-{name}-{look}.png", full_page=True)
        print(f"{self.count:2d} {name}")


def _at(visitor: Visitor, stage: str) -> bool:
    return visitor.stage() == stage


def main() -> None:
    """Take all pictures into a folder: the one named, else rodtrue-out/screens."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("rodtrue-out/screens")
    out.mkdir(parents=True, exist_ok=True)
    with (
        TemporaryDirectory() as scratch,
        page_process(Path(scratch) / "page", "--port", "virtual", *_own_records(Path(scratch))) as page,
        chromium() as browser,
    ):
        gallery = Gallery(browser, page.address, out)
        _a_whole_job(gallery)
        _the_history(gallery)
    with (
        TemporaryDirectory() as scratch,
        page_process(Path(scratch) / "page", "--port", "virtual", *_own_records(Path(scratch))) as page,
        chromium() as browser,
    ):
        _an_exercise(Gallery(browser, page.address, out, gallery.count))


def _own_records(scratch: Path) -> list[str]:
    """Pictures leave nothing in the records of whoever takes them."""
    return ["--records", str(scratch / "records.sqlite")]


def _a_whole_job(gallery: Gallery) -> None:
    visitor = gallery.visitor
    gallery.shoot("choose")
    said = {"Operator": "A. B.", "Unit": "invented truck 12", "Customer": "Invented Yard Ltd"}
    visitor.begin(said, speed="4")
    gallery.shoot("caution")
    visitor.go_on(lambda: visitor.stage() == "Before the run")
    gallery.shoot("checklist-fitting")
    visitor.go_on(lambda: visitor.asked().startswith("Does each"))
    gallery.shoot("checklist-preconditions")
    for stage in ("Travel zero", "Baseline", "Lever answers", "Hook up"):
        visitor.go_on(partial(_at, visitor, stage))
        gallery.shoot(stage.lower().replace(" ", "-"))
    visitor.go_on(lambda: visitor.stage() == "Sweeps")
    visitor.wait(lambda: visitor.tab.locator(".rt-count-number").inner_text().startswith("2 of"))
    gallery.shoot("sweeps")
    visitor.press("Pull the cable")
    visitor.tab.wait_for_selector(".rt-alarm")
    gallery.shoot("cable-pulled")
    visitor.press("Plug the cable in")
    visitor.wait(lambda: not visitor.tab.locator(".rt-alarm").count())
    visitor.go_on(lambda: bool(visitor.verdicts()))
    gallery.shoot("verdict")
    visitor.go_on(lambda: "Adjust, tighten" in visitor.asked())
    gallery.shoot("adjusting")
    visitor.tab.get_by_label("Whose hands").select_option("mine")
    visitor.go_on(lambda: visitor.stage() == "Unhook the rod")
    gallery.shoot("unhook-own-hands")
    visitor.tab.get_by_label("Whose hands").select_option("helper")
    visitor.go_on(lambda: visitor.stage() == "Leave it safe")
    gallery.shoot("closing")
    visitor.go_on(visitor.is_over)
    gallery.shoot("over")


def _the_history(gallery: Gallery) -> None:
    for tab in gallery.tabs.values():
        tab.get_by_role("link", name="History").click()
        tab.get_by_role("heading", name="History").wait_for()
    gallery.shoot("history")


def _an_exercise(gallery: Gallery) -> None:
    tab = gallery.visitor.tab
    trainer = tab.get_by_role("region", name="Trainer")
    trainer.get_by_label("Exercise number").fill("7")
    trainer.get_by_label("Layout").select_option("example-direct")
    trainer.get_by_label("Time passes").select_option("12")
    tab.get_by_role("button", name="Begin the exercise").click()
    tab.get_by_label("Whose hands").select_option("autopilot")
    tab.get_by_role("heading", name="What is wrong with this unit?").wait_for(timeout=180_000)
    gallery.shoot("exercise-asked")
    tab.get_by_role("radio", name="Short pressure").check()
    tab.get_by_label("Fault").select_option("low-supply")
    tab.get_by_role("radio", name="Lengthen the rod").check()
    tab.get_by_label("By how much, in inches").fill("0.080")
    tab.get_by_role("button", name="Answer, and see the truth").click()
    tab.get_by_role("heading", name="Truth").wait_for()
    gallery.shoot("exercise-answered")


if __name__ == "__main__":
    main()
