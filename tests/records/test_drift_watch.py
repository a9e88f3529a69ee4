"""The check standard's kept runs are told of before a customer's unit is measured, and again beside the verdict."""

from __future__ import annotations

import io
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from cli.commands import rodtrue
from records.made_up_jobs import CHARACTERISTICS, job
from rodtrue.cli.records_watch import FixtureWatch
from rodtrue.model.result import Fixture
from rodtrue.page.engine import Engine
from rodtrue.page.history import RecordsDesk
from rodtrue.records import RunFilter, open_records
from rodtrue.records.check_standard import CHECK_STANDARD, DriftWatch, drifted_fixtures, judge_drift

STEADY = [11.10, 11.14, 11.06, 11.13, 11.07, 11.12, 11.08, 11.14, 11.06, 11.10]
DRIFTED = [*STEADY, 11.9]
BOARD, OTHER_BOARD, VIRTUAL = "00c0ffee00c0ffee", "0badcafe0badcafe", b"VIRTUAL\x01".hex()
PATIENCE_S = 60.0


def keep(place: Path, slopes: list[float], number: str = BOARD, kind: Any = "board") -> None:
    """Keep check-standard runs, one a day; the baseline scatters and does not drift."""
    with open_records(str(place)) as records:
        for day, slope in enumerate(slopes, start=1):
            measured = {"slope": slope, "baseline": 25.5 + 0.1 * (-1) ** day}
            made = job(
                day,
                as_left=False,
                taken_at=f"2026-10-{day:02}T08:00:00+00:00",
                fixture=Fixture(kind, "micropython", {"unique_id": number}, {"generation": 3}),
                characteristics=[replace(c, value=measured.get(c.name, c.value)) for c in CHARACTERISTICS],
            )
            records.save(made, tag=CHECK_STANDARD)


def said(place: Path, tag: str | None, *, before: bool) -> str:
    shown = io.StringIO()
    watch = FixtureWatch(Console(file=shown, width=80), str(place), tag, BOARD, virtual=False)
    watch.before() if before else watch.after()
    return shown.getvalue()


def test_a_drifted_fixture_is_said_loud_before_a_customers_run_and_beside_its_verdict(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    keep(place, DRIFTED)
    for before in (True, False):
        shown = said(place, None, before=before)
        assert "The fixture may have drifted: slope" in shown and "!!!!!!!!" in shown
        assert max(map(len, shown.splitlines())) <= 80


def test_before_the_check_standards_own_run_it_is_said_quietly_and_afterwards_what_it_came_to(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    keep(place, DRIFTED)
    shown = said(place, CHECK_STANDARD, before=True)
    assert "may have drifted" in shown and "!!" not in shown
    assert "!!!!" in said(place, CHECK_STANDARD, before=False)


def test_a_steady_fixture_is_mentioned_once_and_not_beside_a_customers_verdict(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    keep(place, STEADY)
    assert "fits the 9 before it" in said(place, None, before=True)
    assert said(place, None, before=False) == ""
    assert "fits the 9 before it" in said(place, CHECK_STANDARD, before=False)


def test_the_command_says_it_before_anything_else_is_asked(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    keep(place, DRIFTED, VIRTUAL, "virtual")
    ended = rodtrue("check", "--port", "virtual", "--records", place, "--out", tmp_path / "out")
    assert ended.code == 2  # nobody answers
    assert ended.out.index("may have drifted: slope") < ended.out.index("VIRTUAL FIXTURE")


def test_a_last_run_without_a_value_neither_passes_for_one_that_fits_nor_takes_an_alarm_back() -> None:
    def judged(slopes: list[float | None]) -> DriftWatch:
        results = []
        for day, slope in enumerate(slopes):
            measured = {"slope": slope, "baseline": None if slope is None else 25.5 + 0.1 * (-1) ** day}
            found = [replace(c, value=measured.get(c.name, c.value)) for c in CHARACTERISTICS]
            results.append(replace(job(day).as_found, characteristics=found))
        return judge_drift(results)

    silent = judged([*STEADY, None])
    assert not silent.alarm
    assert "slope: the last run gave none; baseline: the last run gave none" in silent.text
    assert "fits" not in silent.text
    assert judged([*DRIFTED, None]).alarm


def test_records_out_of_reach_stop_no_run(tmp_path: Path) -> None:
    broken = tmp_path / "broken.sqlite"
    broken.write_text("no database at all" * 100)
    assert "could not be read" in said(broken, None, before=True)
    assert not drifted_fixtures(str(broken)).alarm


def test_each_real_fixture_that_may_have_drifted_is_named_and_no_other(tmp_path: Path) -> None:
    place = tmp_path / "r.sqlite"
    keep(place, DRIFTED)
    keep(place, STEADY, OTHER_BOARD)
    keep(place, DRIFTED, VIRTUAL, "virtual")
    watch = drifted_fixtures(str(place))
    assert watch.alarm and watch.text.startswith(f"Fixture {BOARD} may have drifted: slope")
    assert OTHER_BOARD not in watch.text and VIRTUAL not in watch.text
    with open_records(str(place)) as records:
        assert records.fixtures(RunFilter(virtual=False)) == [BOARD, OTHER_BOARD]


@pytest.mark.parametrize(("slopes", "alarm"), [(DRIFTED, True), (STEADY, False)])
def test_the_page_knows_of_a_drifted_fixture_before_a_run_is_begun(
    tmp_path: Path, slopes: list[float], alarm: bool
) -> None:
    place = tmp_path / "r.sqlite"
    keep(place, slopes)
    engine = Engine(tmp_path / "out", desk=RecordsDesk(str(place)))
    engine.start()
    try:
        deadline = time.monotonic() + PATIENCE_S
        while engine.shown.drift is None and time.monotonic() < deadline:
            time.sleep(0.02)
        assert engine.shown.phase == "choose"
        assert engine.shown.drift is not None and engine.shown.drift.alarm is alarm
    finally:
        engine.stop()
