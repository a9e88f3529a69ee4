"""Jobs of the page in the records: kept, found again, and the check standard watched."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pytest_mock import MockerFixture

from bench.study.page_driver import Visitor, page_process
from page.audit import faint_parts, faint_texts, small_targets, unnamed_controls
from page.real_page import chromium
from records.made_up_jobs import CHARACTERISTICS, job
from rodtrue.capture.reader import Capture
from rodtrue.judging import judge_capture
from rodtrue.model.result import Fixture, Result
from rodtrue.page.choice import Choice, VirtualUnit
from rodtrue.page.engine import Engine
from rodtrue.page.history import CHECK_STANDARD, RecordsDesk
from rodtrue.records import open_records

PATIENCE_S = 120.0
HOSTILE = '<img src=x onerror="document.title=1"><b>truck</b>'
BOARD, OTHER_BOARD = "00c0ffee00c0ffee", "0badcafe0badcafe"
SLOPES = [11.10, 11.14, 11.06, 11.13, 11.07, 11.12, 11.08, 11.14, 11.06, 11.10]


_VERDICTS_ON_ONE_LINE = """() => [...document.querySelectorAll(".rt-history-verdict strong")].every(
  (word) => word.getClientRects().length === 1 && word.scrollWidth <= word.clientWidth + 1)"""


def _standards(slopes: list[float], kind: str = "board", generation: int = 3, day: int = 1) -> list[Any]:
    """Check-standard jobs, one a day; the baseline scatters and does not drift."""
    made = []
    for place, slope in enumerate(slopes):
        measured = {"slope": slope, "baseline": 25.5 + 0.1 * (-1) ** place}
        made.append(
            job(
                place,
                as_left=False,
                taken_at=f"2026-10-{day + place:02}T08:00:00+00:00",
                fixture=Fixture(kind, "micropython", {"unique_id": BOARD}, {"generation": generation}),  # type: ignore[arg-type]
                characteristics=[replace(c, value=measured.get(c.name, c.value)) for c in CHARACTERISTICS],
            )
        )
    return made


def _keep(place: Path, jobs: list[Any], tag: str | None = CHECK_STANDARD) -> RecordsDesk:
    with open_records(str(place)) as records:
        for each in jobs:
            records.save(each, tag=tag)
    return RecordsDesk(str(place))


def test_a_slope_that_has_moved_alarms_for_its_own_fixture_alone(tmp_path: Path) -> None:
    desk = _keep(tmp_path / "r.sqlite", _standards([*SLOPES, 11.9]))
    watch = desk.drift_of(BOARD, virtual=False)
    assert watch.alarm
    assert watch.text.startswith("The fixture may have drifted: slope: beyond the limit, above the centre line.")
    assert "check standard again, or calibrate" in watch.text
    for fixture, virtual in ((OTHER_BOARD, False), (BOARD, True)):
        quiet = desk.drift_of(fixture, virtual=virtual)
        assert (quiet.alarm, quiet.text) == (False, "")


def test_a_steady_check_standard_a_short_record_and_customers_units_raise_no_alarm(tmp_path: Path) -> None:
    assert not _keep(tmp_path / "steady.sqlite", _standards(SLOPES)).drift_of(BOARD, virtual=False).alarm
    few = _keep(tmp_path / "few.sqlite", _standards([*SLOPES[:6], 14.0])).drift_of(BOARD, virtual=False)
    assert not few.alarm and "7 of 8" in few.text
    customers = _keep(tmp_path / "customers.sqlite", _standards([*SLOPES, 14.0]), tag=None)
    assert customers.drift_of(BOARD, virtual=False).text == ""


def test_a_body_alone_is_watched_beside_bodies_alone_and_not_beside_units_with_rods(tmp_path: Path) -> None:
    with_rods, alone = _standards(SLOPES), _standards([slope + 5.0 for slope in SLOPES], day=15)
    alone = [replace(each, as_found=replace(each.as_found, reference="lever_stop")) for each in alone]
    watch = _keep(tmp_path / "r.sqlite", [*with_rods, *alone]).drift_of(BOARD, virtual=False)
    assert not watch.alarm, watch.text
    assert "fits the 9 before it" in watch.text


def test_a_new_calibration_begins_the_watch_anew(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    _keep(place, _standards([*SLOPES, 11.9]))
    desk = _keep(place, _standards([11.9], generation=4, day=20))
    watch = desk.drift_of(BOARD, virtual=False)
    assert not watch.alarm and "1 of 8" in watch.text


def test_records_that_cannot_be_opened_are_said_and_the_job_is_still_pointed_to(tmp_path: Path) -> None:
    broken = tmp_path / "broken.sqlite"
    broken.write_text("no database at all" * 100)
    desk, said = RecordsDesk(str(broken)), []
    desk.keep(job(1), tmp_path / "job.json", None, said.append)
    desk.close()
    assert said[0].startswith("Not kept:") and str(tmp_path / "job.json") in said[0]
    watch = desk.drift_of(BOARD, virtual=False)
    assert not watch.alarm and "could not be read" in watch.text


def test_jobs_are_listed_whole_newest_first_and_older_ones_are_said_to_be_there(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    days = [f"2026-10-{1 + k:02}T08:00:00+00:00" for k in range(7)]
    made = [job(k, unit=f"unit {k}", taken_at=day, as_left=k % 2 == 0) for k, day in enumerate(days)]
    desk = _keep(place, made, tag=None)
    jobs, older = desk.newest("", "", 3)
    assert [kept.first.unit for kept in jobs] == ["unit 6", "unit 5", "unit 4"] and older
    assert [set(kept.runs) for kept in jobs] == [{"as_found", "as_left"}, {"as_found"}, {"as_found", "as_left"}]
    every, older = desk.newest("", "", 7)
    assert len(every) == 7 and not older
    left_correct, _ = desk.newest("", "correct", 7)
    assert [kept.first.unit for kept in left_correct] == ["unit 6", "unit 4", "unit 2", "unit 0"]
    assert all(kept.first.verdict == "short" for kept in left_correct), "as found stands beside as left"


@pytest.mark.slow
@pytest.mark.parametrize("broken", [False, True])
def test_a_finished_run_is_kept_or_said_not_to_be_and_its_job_file_stays(tmp_path: Path, broken: bool) -> None:
    place = tmp_path / "r.sqlite"
    if broken:
        place.write_text("no database at all" * 100)
    engine = Engine(tmp_path / "out", desk=RecordsDesk(str(place)))
    engine.start()
    try:
        choice = Choice(unit="unit 7", tag=CHECK_STANDARD, virtual=VirtualUnit(speed=12.0), checklists=False)
        engine.ask(lambda: engine.begin(choice)).result(PATIENCE_S)
        engine.ask(lambda: engine.set_hands("autopilot")).result(PATIENCE_S)
        ends = time.monotonic() + PATIENCE_S
        while not engine.shown.kept:
            assert time.monotonic() < ends
            time.sleep(0.05)
        assert engine.shown.phase == "over"
        assert engine.shown.files["job"].is_file()
        assert engine.shown.kept.startswith("Not kept:" if broken else f"Kept: job 1 in {place}")
        assert engine.offered.tag is None  # the next unit is a customer's unless said otherwise
        engine.ask(engine.end).result(PATIENCE_S)
    finally:
        engine.stop()
    if not broken:
        with open_records(str(place)) as records:
            rows = records.runs()
        assert {(row.job, row.unit, row.tag, row.fixture_kind) for row in rows} == {
            (1, "unit 7", CHECK_STANDARD, "virtual")
        }


@pytest.mark.slow
def test_a_check_standard_whose_fixture_did_not_say_who_it_is_is_kept_too(
    tmp_path: Path, mocker: MockerFixture
) -> None:
    def nameless(capture: Capture) -> Result:
        result = judge_capture(capture)
        return replace(result, fixture=replace(result.fixture, identity=None))

    mocker.patch("rodtrue.run.under_way.judge_capture", nameless)
    place = tmp_path / "r.sqlite"
    engine = Engine(tmp_path / "out", desk=RecordsDesk(str(place)))
    engine.start()
    try:
        choice = Choice(tag=CHECK_STANDARD, virtual=VirtualUnit(speed=12.0), checklists=False)
        engine.ask(lambda: engine.begin(choice)).result(PATIENCE_S)
        engine.ask(lambda: engine.set_hands("autopilot")).result(PATIENCE_S)
        ends = time.monotonic() + PATIENCE_S
        while "job" not in engine.shown.files:
            assert time.monotonic() < ends
            time.sleep(0.05)
        engine.ask(engine.end).result(PATIENCE_S)
    finally:
        engine.stop()
    with open_records(str(place)) as records:
        assert [(row.tag, row.fixture_id) for row in records.runs()] == [(CHECK_STANDARD, None)]


@pytest.mark.slow
def test_kept_runs_are_found_opened_and_printed_from_the_history(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    _keep(
        place,
        [
            job(1, taken_at="2026-10-01T08:00:00+00:00", as_left=False),
            job(2, taken_at="2026-10-02T08:00:00+00:00", unit=HOSTILE, fixture=Fixture("virtual", "micropython")),
        ],
        tag=None,
    )
    with page_process(tmp_path / "out", "--port", "virtual", "--records", str(place)) as page, chromium() as browser:
        tab = browser.new_page(viewport={"width": 1024, "height": 800}, color_scheme="light")
        trouble: list[str] = []
        tab.on("pageerror", lambda error: trouble.append(str(error)))
        tab.goto(page.address)
        tab.get_by_role("link", name="History").click()
        rows = tab.locator(".rt-history-row")
        rows.nth(1).wait_for()
        texts = rows.all_inner_texts()
        assert len(texts) == 2, "one row a job"
        assert HOSTILE in texts[0] and "not a measurement" in texts[0] and "not a measurement" not in texts[1]
        assert "SHORT" in texts[1] and "-0.096 in (-2.44 mm)" in texts[1] and "invented unit 1" in texts[1]
        assert "SHORT" in texts[0] and "CORRECT" in texts[0] and "not measured" in texts[1]
        assert tab.locator(".rt-history img, .rt-history b").count() == 0
        rows.nth(0).focus()
        tab.keyboard.press("Enter")
        tab.locator("#rt-opened").wait_for()
        labels = tab.locator(".rt-verdict-label").all_inner_texts()
        assert [label.lower() for label in labels] == ["as found", "as left"]
        assert HOSTILE in tab.locator("#rt-opened").inner_text()
        left, right = (tab.locator(".rt-verdict").nth(at).bounding_box() for at in (0, 1))
        assert left["y"] == right["y"] and left["x"] < right["x"]
        address = tab.get_by_role("link", name="Report (PDF)").get_attribute("href")
        report = tab.request.get(page.address.rstrip("/") + address)
        assert report.ok and report.body().startswith(b"%PDF")
        assert tab.request.get(page.address + "history/99/report.pdf").status == 404
        for width in (360, 1024, 1920):
            tab.set_viewport_size({"width": width, "height": 800})
            tab.screenshot(path=tmp_path / f"history-{width}.png", full_page=True)
            assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
            assert tab.evaluate(_VERDICTS_ON_ONE_LINE), width
            assert [*faint_texts(tab), *faint_parts(tab), *unnamed_controls(tab), *small_targets(tab)] == []
        tab.get_by_role("button", name="Close").press("Enter")
        tab.wait_for_function("document.activeElement === document.querySelector('.rt-history-row')")
        assert tab.locator("#rt-opened").count() == 0
        rows.first.evaluate("row => { row.markedBefore = true }")
        tab.get_by_label("Verdict").select_option("correct")
        tab.wait_for_function("document.querySelectorAll('.rt-history-row').length === 1")
        assert rows.first.evaluate("row => row.markedBefore"), "a row that says the same stays under a press"
        assert HOSTILE in rows.first.inner_text() and "SHORT" in rows.first.inner_text(), "the job, whole"
        tab.get_by_label("Verdict").select_option("short")
        rows.nth(1).wait_for()
        assert rows.all_inner_texts() == texts, "newest first again"
        tab.get_by_label("Verdict").select_option("undecided")
        tab.get_by_text("No job is kept that fits.").wait_for()
        tab.get_by_label("Verdict").select_option("")
        rows.nth(1).wait_for()
        assert rows.all_inner_texts() == texts
        tab.get_by_label("Unit").fill("UNIT 1")
        rows.first.filter(has_text="invented unit 1").wait_for()
        tab.wait_for_function("document.querySelectorAll('.rt-history-row').length === 1")
        tab.get_by_label("Unit").fill("nobody's")
        tab.get_by_text("No job is kept that fits.").wait_for()
        assert tab.title() == "Rodtrue: history" and trouble == []


@pytest.mark.slow
@pytest.mark.parametrize(("kept_as", "banners"), [("", 1), (CHECK_STANDARD, 0)])
def test_a_drifted_fixture_is_said_large_before_a_customers_run_and_quietly_before_the_check_standards(
    tmp_path: Path, kept_as: str, banners: int
) -> None:
    place, virtual = tmp_path / "r.sqlite", Fixture("virtual", "micropython", {"unique_id": b"VIRTUAL\x01".hex()})
    drifted = _standards([*SLOPES, 11.9])
    _keep(place, [replace(each, as_found=replace(each.as_found, fixture=virtual)) for each in drifted])
    with page_process(tmp_path / "out", "--port", "virtual", "--records", str(place)) as page, chromium() as browser:
        tab = browser.new_page(viewport={"width": 360, "height": 800})
        visitor = Visitor(tab, page.address)
        tab.get_by_label("Kept as").select_option(kept_as)
        visitor.begin({"Unit": "unit 12"})
        tab.locator(".rt-drift").get_by_text("The fixture may have drifted: slope").wait_for()
        assert visitor.stage() == "Cautions"
        assert tab.locator(".rt-drift .rt-alarm").count() == banners
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert [*faint_texts(tab), *faint_parts(tab), *unnamed_controls(tab), *small_targets(tab)] == []
