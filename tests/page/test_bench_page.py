"""The bench page in a real browser, from first load to saved report, on the virtual fixture."""

from __future__ import annotations

import contextlib
import json
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from bench.study.page_driver import PageProcess, Visitor, page_process
from page.audit import faint_parts, faint_texts, small_targets, unnamed_controls, walk_by_tab
from page.real_page import chromium
from rodtrue.capture.reader import read_capture

pytestmark = pytest.mark.slow

HOSTILE = '#read("/etc/passwd") <img src=x onerror="document.title=1"> </script><b>'
Enter = Callable[..., Visitor]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[PageProcess, Enter]]:
    """A page, and a way for another visitor to open it in a browser of their own."""
    with page_process(tmp_path / "out", "--port", "virtual") as page, chromium() as browser:

        def enter(**how: Any) -> Visitor:
            return Visitor(browser.new_context(**how).new_page(), page.address)

        yield page, enter


def _folder(tmp_path: Path) -> Path:
    (folder,) = (tmp_path / "out").iterdir()
    return folder


def _wrong_with(tab: Any) -> list[str]:
    wrong = [*faint_texts(tab), *faint_parts(tab), *unnamed_controls(tab), *small_targets(tab)]
    if not tab.evaluate("document.documentElement.scrollWidth <= innerWidth"):
        wrong.append("the page is wider than the screen")
    return wrong


@pytest.mark.parametrize(("width", "scheme"), [(360, "dark"), (1024, "light"), (1920, "dark")])
def test_a_check_and_a_correction_are_finished_from_the_page_alone(
    bench: tuple[PageProcess, Enter], tmp_path: Path, width: int, scheme: str
) -> None:
    page, enter = bench
    visitor = enter(viewport={"width": width, "height": 800}, color_scheme=scheme)
    asked_for: list[str] = []
    trouble: list[str] = []
    visitor.tab.on("request", lambda request: asked_for.append(request.url))
    visitor.tab.on("pageerror", lambda error: trouble.append(str(error)))
    visitor.tab.on("console", lambda line: trouble.append(line.text) if line.type == "error" else None)
    visitor.tab.reload()
    visitor.tab.wait_for_selector("#rt-asked")
    assert _wrong_with(visitor.tab) == []
    visitor.begin({"Customer": HOSTILE, "Unit": "invented truck 12"})
    assert _wrong_with(visitor.tab) == []
    visitor.go_on(lambda: visitor.stage() == "Before the run")
    assert _wrong_with(visitor.tab) == []
    visitor.go_on(lambda: bool(visitor.verdicts()))
    assert visitor.verdicts() == ["SHORT"]
    assert _wrong_with(visitor.tab) == []
    visitor.go_on(lambda: "Adjust, tighten" in visitor.asked())
    assert "Lengthen the rod" in visitor.tab.locator(".rt-now .rt-correction").first.inner_text()
    assert visitor.tab.locator(".rt-how-drawing svg").count() >= 3
    assert _wrong_with(visitor.tab) == []
    visitor.go_on(visitor.is_over)
    assert visitor.verdicts() == ["SHORT", "CORRECT"]
    assert [text.lower() for text in visitor.tab.locator(".rt-verdict-label").all_inner_texts()] == [
        "as found",
        "as left",
    ]
    assert _wrong_with(visitor.tab) == []
    report = visitor.tab.request.get(page.address + "job/report.pdf")
    assert report.ok and report.body().startswith(b"%PDF")
    folder = _folder(tmp_path)
    assert (folder / "report.pdf").read_bytes() == report.body()
    job = json.loads((folder / "job.json").read_bytes())
    assert job["customer"] == HOSTILE
    assert job["as_left"]["verdict"] == "correct"
    assert visitor.tab.title() == "Rodtrue"
    assert trouble == []
    assert {url.split("/")[2] for url in asked_for if not url.startswith("data:")} == {page.address.split("/")[2]}
    _report_says(folder / "report.pdf", '#read("/etc/passwd")', "not a measurement")


def _report_says(report: Path, *expected: str) -> None:
    if shutil.which("pdftotext") is None:
        return
    text = subprocess.run(["pdftotext", report, "-"], capture_output=True, text=True, check=True).stdout
    plain = " ".join(text.split()).replace("“", '"').replace("”", '"')
    for words in expected:
        assert words in plain
    assert "root:" not in plain


def test_a_cable_pulled_in_a_sweep_is_said_large_and_the_run_comes_to_its_verdict_all_the_same(
    bench: tuple[PageProcess, Enter], tmp_path: Path
) -> None:
    _page, enter = bench
    visitor = enter()
    visitor.begin(speed="4")
    visitor.go_on(lambda: visitor.stage() == "Sweeps")
    visitor.tab.get_by_text("1 of 6").wait_for()
    visitor.press("Pull the cable")
    alarm = visitor.tab.get_by_role("alert").get_by_text("The fixture is gone")
    alarm.wait_for()
    assert "plug the fixture in again" in alarm.inner_text()
    assert float(alarm.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= 18
    assert visitor.asked() == "Plug the fixture in again"
    visitor.press("Plug the cable in")
    alarm.wait_for(state="detached")
    visitor.tab.locator(".rt-said").get_by_text("Earlier: The fixture is gone").wait_for()
    visitor.tab.get_by_label("Whose hands").select_option("autopilot")
    visitor.tab.get_by_role("heading", name="Verdict").wait_for(timeout=120_000)
    folder = _folder(tmp_path)
    kept = read_capture(folder / "as-found.capture")
    assert len(kept.samples().time_s) > 1000
    assert "fixture_lost" in [entry.name for entry in kept.entries]
    assert (folder / "as-found-2.capture").exists()


def test_two_browsers_see_one_run_and_closing_one_disturbs_nothing(bench: tuple[PageProcess, Enter]) -> None:
    _page, enter = bench
    one, other = enter(), enter()
    one.begin()
    other.wait(lambda: other.number() != "" and other.asked() == one.asked())
    other.go_on(lambda: other.stage() == "Before the run")
    one.wait(lambda: one.asked() == other.asked())
    first = ".rt-checks > .rt-check >> nth=0"
    other.tab.locator(first).click()
    one.tab.locator(f"{first} >> css=[aria-checked=true]").or_(
        one.tab.locator(".rt-checks > .rt-check[aria-checked=true]")
    ).first.wait_for()
    other.tab.context.close()
    one.go_on(lambda: one.stage() == "Sweeps")
    third = enter()
    third.wait(lambda: third.stage() == "Sweeps")
    assert third.tab.evaluate("rodtrueLive.store.series") == one.tab.evaluate("rodtrueLive.store.series")


def test_an_answer_to_a_question_that_is_gone_answers_nothing(bench: tuple[PageProcess, Enter]) -> None:
    _page, enter = bench
    one, other = enter(), enter()
    one.begin()
    other.wait(lambda: other.number() != "")
    before = int(one.number())
    for visitor in (one, other):
        visitor.tab.evaluate("document.querySelector('.rt-now .rt-main-key').click()")
    one.tab.wait_for_timeout(600)
    assert int(one.number()) - before in (1, 2)  # one caution each at most, never one question twice answered
    assert one.asked() == other.asked()


def test_a_browser_that_takes_nothing_delays_neither_the_port_nor_the_others(
    bench: tuple[PageProcess, Enter], tmp_path: Path
) -> None:
    page, enter = bench
    visitor = enter()
    host, port = page.address.split("/")[2].split(":")
    deaf = socket.create_connection((host, int(port)))
    deaf.sendall(
        (
            f"GET /live HTTP/1.1\r\nHost: {host}:{port}\r\nOrigin: http://{host}:{port}\r\nConnection: Upgrade\r\n"
            "Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
        ).encode()
    )
    with contextlib.closing(deaf):
        visitor.begin(speed="1")
        visitor.tab.get_by_label("Whose hands").select_option("autopilot")
        visitor.wait(lambda: visitor.stage() == "Travel zero")
        visitor.tab.wait_for_timeout(2000)
    (capture,) = _folder(tmp_path).glob("*.capture")
    assert read_capture(capture).gaps == []
    assert len(read_capture(capture).samples().time_s) > 2000


def test_the_foot_switch_and_the_enter_key_answer_for_greasy_hands(bench: tuple[PageProcess, Enter]) -> None:
    _page, enter = bench
    visitor = enter()
    visitor.begin(speed="1")
    number = visitor.number()
    visitor.tab.locator("#rt-asked").focus()
    visitor.tab.keyboard.press("Enter")
    visitor.wait(lambda: visitor.number() != number)
    visitor.go_on(lambda: visitor.asked().startswith("Pin on its stop"))
    number = visitor.number()
    visitor.press("Press the foot switch")
    visitor.wait(lambda: visitor.number() != number)


def test_a_dead_sensor_is_said_large_while_it_lasts(bench: tuple[PageProcess, Enter]) -> None:
    _page, enter = bench
    visitor = enter()
    visitor.begin(speed="4")
    visitor.tab.locator(".rt-unit").get_by_label("Fault").select_option("unplugged-sensor")
    alarm = visitor.tab.get_by_role("alert").get_by_text("pressure sensor reads at the end of its range")
    alarm.wait_for()
    assert "plug and lead" in alarm.inner_text()
    visitor.tab.locator(".rt-unit").get_by_label("Fault").select_option("")
    alarm.wait_for(state="detached")


def test_past_the_running_limit_and_not_coming_back_it_says_stop(bench: tuple[PageProcess, Enter]) -> None:
    _page, enter = bench
    visitor = enter()
    visitor.tab.get_by_label("The throttle itself", exact=False).check()
    visitor.begin(speed="4")
    # The limit holds from this question on, and it waits, however slow the browser.
    visitor.go_on(lambda: visitor.asked().startswith("Check that the throttle has come back fully."))
    visitor.tab.get_by_label("Whose hands").select_option("mine")
    visitor.tab.get_by_label("Throttle pin, by hand").fill("12")
    stop = visitor.tab.get_by_role("alert").get_by_text("running travel limit")
    stop.wait_for()
    assert "hand slide" in stop.inner_text()
    visitor.tab.get_by_label("Throttle pin, by hand").fill("5")
    stop.wait_for(state="detached")
    assert visitor.tab.get_by_label("Throttle pin, by hand").input_value() == "5", "the slider stays where it is put"
    visitor.tab.get_by_role("alert").get_by_text("stays", exact=False).wait_for()  # somebody holds it off its stop
    visitor.tab.get_by_label("Throttle pin, by hand").fill("0")
    visitor.wait(lambda: not visitor.tab.locator(".rt-alarm").count())


def test_ended_before_its_time_the_page_says_how_to_leave_it_safe(
    bench: tuple[PageProcess, Enter], tmp_path: Path
) -> None:
    _page, enter = bench
    visitor = enter()
    visitor.begin()
    visitor.go_on(lambda: visitor.stage() == "Travel zero")
    visitor.tab.get_by_text("End this run before it is done").click()
    visitor.press("End it now")
    visitor.wait(visitor.is_over)
    assert "Stop the engine" in visitor.asked() and "port plugged" in visitor.asked()
    assert (_folder(tmp_path) / "as-found.capture").stat().st_size > 1000
    visitor.press("Another run")
    visitor.tab.get_by_role("button", name="Begin", exact=True).wait_for()


def test_what_cannot_be_begun_is_said_with_what_to_do(bench: tuple[PageProcess, Enter]) -> None:
    _page, enter = bench
    visitor = enter()
    form = visitor.tab.locator(".rt-form").first
    form.get_by_label("Customer").fill("invented shop")
    form.get_by_label("Rod error, in (short: negative)").fill("4")
    visitor.press("Begin")
    visitor.tab.get_by_text("outside what the virtual fixture covers").first.wait_for()
    visitor.tab.get_by_text("-0.591 in (-15.00 mm) to +0.472 in (+12.00 mm)", exact=False).first.wait_for()
    assert form.get_by_label("Customer").input_value() == "invented shop", "what was filled in is not lost"


def test_the_invented_rod_error_is_asked_for_in_inches_or_mm_and_shown_in_both(
    bench: tuple[PageProcess, Enter],
) -> None:
    _page, enter = bench
    visitor = enter()
    form = visitor.tab.locator(".rt-form").first
    form.get_by_label("Unit", exact=True).fill("invented truck 12")
    error = form.get_by_label("Rod error, in (short: negative)")
    assert error.input_value() == "-0.09843"
    error.fill("0.1")
    form.get_by_text("+0.100 in (+2.54 mm)", exact=True).wait_for()
    error.fill("0.1 and some")
    form.get_by_text("no number yet; what counts is +0.100 in (+2.54 mm)").wait_for()
    assert error.input_value() == "0.1 and some", "what is being typed stays"
    visitor.press("Show mm, kPa first")
    assert form.get_by_label("Rod error, mm (short: negative)").input_value() == "2.54"
    form.get_by_text("+2.54 mm (+0.100 in)", exact=True).wait_for()
    assert form.get_by_label("Unit", exact=True).input_value() == "invented truck 12"
    form.get_by_label("Rod error, mm (short: negative)").fill("-15,1")
    visitor.press("Begin")
    visitor.tab.get_by_text("-15.10 mm (-0.594 in): outside what").first.wait_for()


def test_every_control_of_a_run_is_reached_by_the_tab_key_and_seen_there(bench: tuple[PageProcess, Enter]) -> None:
    _page, enter = bench
    visitor = enter(viewport={"width": 1024, "height": 800})
    visitor.begin()
    visitor.go_on(lambda: visitor.stage() == "Before the run")
    way = walk_by_tab(visitor.tab)
    assert way.unreached == []
    assert way.unseen == []


def test_a_port_that_is_taken_is_refused_in_words(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        number = taken.getsockname()[1]
        ended = subprocess.run(
            [sys.executable, "-m", "rodtrue", "page", "--no-open", "--http", str(number), "--port", "virtual"],
            capture_output=True,
            text=True,
            cwd=tmp_path,
        )
    assert ended.returncode == 2
    assert str(number) in ended.stderr and "--http" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_ctrl_c_is_the_ordinary_end(tmp_path: Path) -> None:
    page = PageProcess(tmp_path / "out", "--port", "virtual")
    assert page.stop() == 0
    assert page.log.read_text() == ""
