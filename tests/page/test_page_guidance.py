"""What the page says and offers at each step, in a real browser: the safe way first, the pace, stops said at once."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from bench.study.page_driver import Visitor, page_process
from page.audit import faint_parts, faint_texts, small_targets, unnamed_controls
from page.real_page import chromium
from rodtrue.capture.reader import read_capture
from rodtrue.profiles import profile_text

pytestmark = pytest.mark.slow

LARGE_PX = 18.0
SETTLES_MS = 15_000
Enter = Callable[..., Visitor]


@contextmanager
def _page(out: Path, profile: str = "example-direct") -> Iterator[Enter]:
    """A way to open a page in a browser."""
    with page_process(out, "--port", "virtual", "--profile", profile) as page, chromium() as browser:

        def open_page(**how: Any) -> Visitor:
            return Visitor(browser.new_context(**how).new_page(), page.address)

        yield open_page


@pytest.fixture
def enter(tmp_path: Path) -> Iterator[Enter]:
    with _page(tmp_path / "out") as open_page:
        yield open_page


@pytest.fixture
def enter_with_a_low_limit(tmp_path: Path) -> Iterator[Enter]:
    """The profile's pressure limit is within reach of a wide opening."""
    text = profile_text("example-direct")[0]
    assert "pressure_limit_kpa = 2000.0" in text
    profile = tmp_path / "low-limit.toml"
    profile.write_text(text.replace("pressure_limit_kpa = 2000.0", "pressure_limit_kpa = 350.0"))
    with _page(tmp_path / "out", str(profile)) as open_page:
        yield open_page


def _capture(tmp_path: Path) -> Path:
    (folder,) = (tmp_path / "out").iterdir()
    return folder / "as-found.capture"


def _to_own_hands(visitor: Visitor, stage: str) -> None:
    visitor.go_on(lambda: visitor.stage() == stage)
    visitor.tab.get_by_label("Whose hands").select_option("mine")
    visitor.tab.locator(".rt-now .rt-needed").first.wait_for()


def _in_view(visitor: Visitor, selector: str) -> bool:
    """Whether the first such element comes to be wholly on the screen, nothing scrolled and nothing over it."""
    with contextlib.suppress(PlaywrightTimeout):
        visitor.tab.wait_for_function(
            """(selector) => {
                scrollTo(0, 0);
                const element = document.querySelector(selector), box = element?.getBoundingClientRect();
                if (!box) return false;
                const at = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
                return box.top >= 0 && box.bottom <= innerHeight && element.contains(at);
            }""",
            arg=selector,
            timeout=SETTLES_MS,
        )
        return True
    return False


def _wrong_with(visitor: Visitor) -> list[str]:
    tab = visitor.tab
    return [*faint_texts(tab), *faint_parts(tab), *unnamed_controls(tab), *small_targets(tab)]


def test_where_the_rod_is_said_to_be_on_its_pin_the_large_first_key_is_the_safe_way(
    enter: Enter, tmp_path: Path
) -> None:
    visitor = enter()
    visitor.begin()
    visitor.go_on(lambda: visitor.asked().endswith("Is the rod off the pin?"))
    visitor.press("No, it is on the pin")
    visitor.wait(lambda: visitor.asked().startswith("A long rod left on its pin"))
    keys = visitor.tab.locator(".rt-now .rt-answers button")
    assert keys.all_inner_texts() == ["Off now: take zero and baseline", "Leave it on, unproven"]
    assert "rt-main-key" in str(keys.nth(0).get_attribute("class"))
    assert "rt-main-key" not in str(keys.nth(1).get_attribute("class"))
    warning = visitor.tab.locator(".rt-said .rt-finding-warning").first.inner_text()
    assert "neither correct nor long" in warning and "`" not in warning
    assert visitor.tab.get_by_text("End this run", exact=False).count() == 1, "one way out, at one place"
    keys.nth(0).click()
    visitor.wait(lambda: visitor.stage() != "Unhook the rod")
    assert read_capture(_capture(tmp_path)).last("rod_unhooked") == {"answer": True}


def test_a_run_ended_early_ticks_only_what_was_done(enter: Enter) -> None:
    visitor = enter(viewport={"width": 1024, "height": 768})
    visitor.begin()
    visitor.go_on(lambda: visitor.stage() == "Baseline")
    visitor.tab.get_by_text("End this run before it is done").click()
    visitor.press("End it now")
    visitor.wait(visitor.is_over)
    assert visitor.stage() == "Ended early"
    done = visitor.tab.locator(".rt-step-done .rt-step-name").all_inner_texts()
    assert done[-2:] == ["Make pressure", "Travel zero"]
    assert visitor.tab.locator(".rt-step-ended-here .rt-step-name").all_inner_texts() == ["Baseline"]
    assert visitor.tab.locator(".rt-step-not-done .rt-step-name").first.inner_text() == "Lever answers"
    assert visitor.tab.locator(".rt-steps .rt-part-name").inner_text() == "As found: ended early"


def test_in_the_sweeps_the_band_is_explained_and_the_pace_is_large_and_in_view(enter: Enter) -> None:
    visitor = enter(viewport={"width": 360, "height": 740})
    visitor.begin(speed="4")
    visitor.go_on(lambda: visitor.stage() == "Sweeps")
    visitor.tab.locator("#rt-band").get_by_text("Left of it: rod long").wait_for()
    words = visitor.tab.locator("#rt-pace-word")
    words.get_by_text("in/s").wait_for()
    assert float(words.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= LARGE_PX
    assert _in_view(visitor, "#rt-pace")


def test_the_sweeps_can_be_ended_early_only_once_there_are_enough(enter: Enter, tmp_path: Path) -> None:
    visitor = enter()
    visitor.begin(speed="1")
    visitor.go_on(lambda: visitor.stage() == "Sweeps")
    offered: dict[str, bool] = {}

    def enough() -> bool:
        count, shown = visitor.tab.evaluate(
            """() => [document.querySelector(".rt-count-number")?.innerText || "",
              document.querySelector(".rt-enough button") !== null]"""
        )
        offered[count[:1]] = offered.get(count[:1], False) or shown
        return offered.get("4", False)

    visitor.wait(enough)
    assert not any(offered.get(count) for count in "01")
    key, count = visitor.tab.locator(".rt-enough button"), visitor.tab.locator(".rt-count-number")
    key.evaluate("key => { key.markedBefore = true }")
    visitor.wait(lambda: count.inner_text().startswith("5"))
    assert key.evaluate("key => key.markedBefore"), "a sweep that is counted draws no key anew under a press"
    visitor.press("Enough sweeps: judge now")
    visitor.wait(lambda: "Is it off?" in visitor.asked())
    (look,) = [entry for entry in read_capture(_capture(tmp_path)).entries if entry.name == "look"]
    assert look.fields["sweeps"] == 5


def test_with_reduced_motion_the_pace_is_said_and_nothing_leads_the_eye(enter: Enter) -> None:
    visitor = enter(reduced_motion="reduce")
    visitor.begin()
    visitor.go_on(lambda: visitor.stage() == "Sweeps")
    visitor.tab.locator("#rt-pace-plan").get_by_text("seconds to open").wait_for()
    assert not visitor.tab.locator("#rt-pace-guide").is_visible()
    assert visitor.tab.locator("#rt-pace-pin").is_visible()
    assert visitor.tab.locator("#rt-pace-pin").evaluate("e => getComputedStyle(e).transitionDuration") == "0s"


@pytest.mark.parametrize(("width", "height"), [(360, 740), (1024, 768)])
def test_what_a_step_needs_is_in_view_without_scrolling(enter: Enter, width: int, height: int) -> None:
    visitor = enter(viewport={"width": width, "height": height})
    visitor.begin()
    visitor.go_on(lambda: visitor.stage() == "Before the run")
    assert _in_view(visitor, ".rt-now .rt-main-key")
    _to_own_hands(visitor, "Unhook the rod")
    assert _in_view(visitor, ".rt-now .rt-main-key")
    assert _in_view(visitor, ".rt-now .rt-needed")
    assert _wrong_with(visitor) == []
    visitor.tab.get_by_label("Whose hands").select_option("helper")
    visitor.go_on(lambda: "Adjust, tighten" in visitor.asked())
    assert _in_view(visitor, ".rt-now .rt-main-key")
    assert visitor.tab.locator(".rt-how-drawing svg").count() >= 3
    _to_own_hands(visitor, "Adjust")
    assert _in_view(visitor, ".rt-now .rt-needed")
    assert _in_view(visitor, ".rt-now .rt-main-key")
    assert visitor.tab.locator(".rt-needed").all_inner_texts() == ["Half a turn shorter", "Half a turn longer"]
    assert _wrong_with(visitor) == []


def test_over_pressure_is_said_at_once_and_large_with_what_to_do_and_recovers(
    enter_with_a_low_limit: Enter, tmp_path: Path
) -> None:
    visitor = enter_with_a_low_limit(viewport={"width": 1024, "height": 768})
    visitor.begin(speed="4")
    _to_own_hands(visitor, "Sweeps")
    visitor.tab.get_by_label("Throttle pin, by hand").fill("40")
    alarm = visitor.tab.get_by_role("alert").get_by_text("is over the limit of")
    alarm.first.wait_for()
    assert "stop the pump, keep away from the hose" in alarm.first.inner_text()
    assert visitor.tab.get_by_role("alert").get_by_text("STOP", exact=True).first.is_visible()
    assert float(alarm.first.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= LARGE_PX
    assert _in_view(visitor, ".rt-alarm")
    visitor.tab.get_by_label("Throttle pin, by hand").fill("0")
    alarm.first.wait_for(state="detached")
    visitor.tab.get_by_label("Whose hands").select_option("autopilot")
    visitor.tab.get_by_role("heading", name="Verdict").wait_for(timeout=120_000)
    noted = [e.fields["code"] for e in read_capture(_capture(tmp_path)).entries if e.name == "notice"]
    assert "pressure_over_limit" in noted


def test_a_linkage_that_binds_is_said_at_once_and_large_with_what_to_do_and_recovers(
    enter: Enter, tmp_path: Path
) -> None:
    visitor = enter(viewport={"width": 360, "height": 740})
    visitor.begin(speed="4")
    _to_own_hands(visitor, "Sweeps")
    visitor.tab.get_by_label("Fault").first.select_option("binding")
    visitor.press("One quick sweep")
    alarm = visitor.tab.get_by_role("alert").get_by_text("binds and can hold a throttle open")
    alarm.first.wait_for()
    assert "stop the engine, do not drive" in alarm.first.inner_text()
    assert float(alarm.first.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= LARGE_PX
    assert _in_view(visitor, ".rt-alarm")
    visitor.tab.get_by_label("Fault").first.select_option("")
    visitor.press("One quick sweep")
    alarm.first.wait_for(state="detached")
    assert "travel_not_returned" in [
        e.fields["code"] for e in read_capture(_capture(tmp_path)).entries if e.name == "notice"
    ]


def test_a_linkage_that_binds_with_the_engine_off_keeps_it_off(enter: Enter) -> None:
    visitor = enter()
    visitor.begin({"Fault": "binding"})
    visitor.go_on(lambda: "do not start the engine" in visitor.asked())
    assert visitor.tab.locator(".rt-now .rt-main-key").inner_text() == "Check again"
