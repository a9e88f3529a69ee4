"""The history finds jobs by the verdict on the rod and by that on the valve body."""

from __future__ import annotations

from pathlib import Path

from records.made_up_jobs import job
from rodtrue.page.history import RecordsDesk
from rodtrue.records import open_records


def test_jobs_are_found_by_the_verdict_on_the_valve_body_too(tmp_path: Path) -> None:
    place = str(tmp_path / "r.sqlite")
    with open_records(place) as records:
        records.save(job(1))
        records.save(job(2, body_verdict="nonconforming"))
        records.save(job(3, body_verdict="undecided", verdict="undecided"))
    desk = RecordsDesk(place)

    def units(verdict: str) -> set[str | None]:
        return {kept.first.unit for kept in desk.newest("", verdict, 7)[0]}

    assert units("valve body nonconforming") == {"invented unit 2"}
    assert units("valve body undecided") == {"invented unit 3"} == units("undecided")
    assert units("valve body conforming") == {"invented unit 1"}
    desk.close()
