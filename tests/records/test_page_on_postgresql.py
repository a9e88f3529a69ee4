"""Several benches on one PostgreSQL: the page keeps and reads there, and shows it to nobody without the code."""

from __future__ import annotations

import os
import re
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from bench.study.page_driver import page_process
from page.real_page import chromium
from records.made_up_jobs import CHARACTERISTICS, job
from rodtrue.model.result import Fixture
from rodtrue.page.access import shop_addresses
from rodtrue.page.choice import Choice, VirtualUnit
from rodtrue.page.engine import Engine
from rodtrue.page.history import RecordsDesk
from rodtrue.records import open_records
from rodtrue.records.check_standard import CHECK_STANDARD
from rodtrue.run.job import write_job

PATIENCE_S = 240.0
BOARD = "00c0ffee00c0ffee"
SLOPES = [11.10, 11.14, 11.06, 11.13, 11.07, 11.12, 11.08, 11.14, 11.06, 11.10, 11.9]


def keep_drifted(place: str) -> None:
    with open_records(place) as records:
        for day, slope in enumerate(SLOPES, start=1):
            measured = {"slope": slope, "baseline": 25.5 + 0.1 * (-1) ** day}
            made = job(
                day,
                as_left=False,
                taken_at=f"2026-09-{day:02}T08:00:00+00:00",
                fixture=Fixture("board", "micropython", {"unique_id": BOARD}, {"generation": 3}),
                characteristics=[replace(c, value=measured.get(c.name, c.value)) for c in CHARACTERISTICS],
            )
            records.save(made, tag=CHECK_STANDARD)


def wait_for(seen: Any) -> None:
    ends = time.monotonic() + PATIENCE_S
    while not seen():
        assert time.monotonic() < ends
        time.sleep(0.05)


def test_two_benches_share_what_they_keep_and_each_hears_of_the_drift(
    postgresql_database: str, tmp_path: Path
) -> None:
    keep_drifted(postgresql_database)
    said: list[str] = []
    here, there = RecordsDesk(postgresql_database), RecordsDesk(postgresql_database)
    here.keep(job(50, unit="unit of bench 1"), tmp_path / "1.json", None, said.append)
    there.keep(job(51, unit="unit of bench 2"), tmp_path / "2.json", None, said.append)
    for desk in (here, there):
        desk.close()
        assert desk.drift_of(BOARD, virtual=False).alarm
    assert len(said) == 2 and all(line.startswith("Kept: job") for line in said)
    with open_records(postgresql_database) as records:
        assert {"unit of bench 1", "unit of bench 2"} < {row.unit for row in records.runs()}


def test_a_server_that_is_gone_costs_no_job_and_it_is_kept_once_the_server_is_back(
    postgresql_server: Any, postgresql_database: str, tmp_path: Path
) -> None:
    made, said = job(60), []
    desk = RecordsDesk(postgresql_database)
    file = write_job(tmp_path, made)
    postgresql_server.stop()
    try:
        desk.keep(made, file, None, said.append)
        desk.close()
    finally:
        postgresql_server.start()
    assert said[0].startswith("Not kept:")
    assert f"rodtrue records add {file} --records {postgresql_database}" in said[0]
    again = RecordsDesk(postgresql_database)
    again.keep(made, file, None, said.append)
    again.close()
    assert said[1].startswith("Kept: job ")


@pytest.mark.slow
def test_a_whole_run_at_the_page_ends_in_the_database(postgresql_database: str, tmp_path: Path) -> None:
    engine = Engine(tmp_path / "out", desk=RecordsDesk(postgresql_database))
    engine.start()
    try:
        choice = Choice(unit="unit 7", virtual=VirtualUnit(speed=12.0), checklists=False)
        engine.ask(lambda: engine.begin(choice)).result(PATIENCE_S)
        engine.ask(lambda: engine.set_hands("autopilot")).result(PATIENCE_S)
        wait_for(lambda: engine.shown.kept)
        assert engine.shown.kept.startswith("Kept: job ")
    finally:
        engine.stop()
    with open_records(postgresql_database) as records:
        assert {(row.unit, row.fixture_kind) for row in records.runs()} == {("unit 7", "virtual")}


@pytest.mark.slow
def test_over_the_network_the_history_and_its_reports_open_with_the_code_alone(
    postgresql_database: str, tmp_path: Path
) -> None:
    if not shop_addresses():
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail("this computer has no network address, and RODTRUE_REQUIRE_REAL=1")
        pytest.skip("this computer has no network address: the page was not looked at over one")
    keep_drifted(postgresql_database)
    words = ("--port", "virtual", "--listen", "--records", postgresql_database)
    with page_process(tmp_path / "out", *words) as page, chromium() as browser:
        code, shop = (
            next(found.group(1) for line in page.said if (found := re.search(pattern, line)))
            for pattern in (r"code: (\S+)", r"not encrypted: (\S+)")
        )
        context = browser.new_context()
        guest = context.new_page()
        guest.set_default_timeout(1000 * PATIENCE_S)
        for path in ("history", "history/1/report.pdf"):
            answer = context.request.get(f"{shop}{path}", max_redirects=0)
            assert answer.status in (302, 303, 307, 401, 403), (path, answer.status)
            assert b"invented" not in answer.body() and not answer.body().startswith(b"%PDF")
        guest.goto(shop)
        guest.get_by_label("Access code").fill(code)
        guest.keyboard.press("Enter")
        guest.get_by_role("button", name="Begin", exact=True).wait_for()
        guest.locator(".rt-drift .rt-alarm").get_by_text(f"Fixture {BOARD} may have drifted: slope").wait_for()
        guest.goto(f"{shop}history")
        guest.locator(".rt-history-row").first.wait_for()
        assert guest.locator(".rt-history-row").count() == len(SLOPES)
        report = context.request.get(f"{shop}history/1/report.pdf", timeout=1000 * PATIENCE_S)
        assert report.status == 200 and report.body().startswith(b"%PDF")
        assert context.request.get(f"{shop}history/999/report.pdf").status == 404
