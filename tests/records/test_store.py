"""Saving, finding and deleting jobs: in SQLite and in PostgreSQL alike."""

from dataclasses import replace
from hashlib import sha256

import msgspec
import pytest

from records.made_up_jobs import RESULT, job
from rodtrue.model.errors import InputError
from rodtrue.model.result import CaptureRef, Fixture
from rodtrue.records import RunFilter, open_records
from rodtrue.records.store import Kept


@pytest.fixture(params=["sqlite", "postgresql"])
def records(request, tmp_path):
    place = str(tmp_path / "records.sqlite")
    if request.param == "postgresql":
        place = request.getfixturevalue("postgresql_database")
    with open_records(place) as opened:
        yield opened


def test_a_job_comes_back_as_it_was_saved(records):
    kept = job(1)
    number = records.save(kept).job
    assert records.job(number) == kept


def test_the_same_job_again_is_found_and_not_doubled(records):
    first, again = records.save(job(1)), records.save(job(1))
    assert (first.was_there, again.was_there) == (False, True)
    assert again.job == first.job
    assert records.count() == 2


def test_runs_come_newest_first_with_what_a_list_shows(records):
    records.save(job(1, taken_at="2026-10-01T08:00:00+00:00"))
    records.save(job(2, taken_at="2026-10-03T08:00:00+00:00", as_left=False), tag="check standard")
    rows = records.runs()
    assert [row.unit for row in rows] == ["invented unit 2", "invented unit 1", "invented unit 1"]
    newest = rows[0]
    assert (newest.verdict, newest.rod_error_mm, newest.role) == ("short", -2.44, "as_found")
    assert (newest.customer, newest.tag, newest.fixture_id) == (
        "Invented Garage",
        "check standard",
        "00c0ffee00c0ffee",
    )


FILTERS = [
    (RunFilter(since="2026-10-02T00:00:00+00:00"), {2, 3}),
    (RunFilter(until="2026-10-02T00:00:00+00:00"), {1}),
    (RunFilter(unit="UNIT 3"), {3}),
    (RunFilter(unit="%"), set()),
    (RunFilter(customer="garage"), {1, 2, 3}),
    (RunFilter(customer="nobody"), set()),
    (RunFilter(profile="bell"), {2}),
    (RunFilter(verdict="correct"), {1, 2, 3}),
    (RunFilter(verdict="long"), set()),
    (RunFilter(body_verdict="conforming"), {1, 2}),
    (RunFilter(body_verdict="nonconforming"), {3}),
    (RunFilter(reference="lever_stop"), {2}),
    (RunFilter(not_tag="check standard"), {2, 3}),
    (RunFilter(not_tag="another"), {1, 2, 3}),
    (RunFilter(fixture="00c0ffee00c0ffee"), {1, 2}),
    (RunFilter(tag="check standard"), {1}),
    (RunFilter(virtual=True), {3}),
    (RunFilter(virtual=False), {1, 2}),
    (RunFilter(since="2026-10-02T00:00:00+00:00", virtual=False), {2}),
]


@pytest.mark.parametrize(("wanted", "units"), FILTERS, ids=lambda value: str(value) if isinstance(value, set) else "")
def test_each_filter_finds_its_runs_and_no_other(records, wanted, units):
    virtual = Fixture("virtual", "micropython", {"unique_id": "5649525455414c01"})
    records.save(job(1, taken_at="2026-10-01T08:00:00+00:00"), tag="check standard")
    changes = {"profile": "example-one-bell-crank", "reference": "lever_stop"}
    records.save(job(2, taken_at="2026-10-03T08:00:00+00:00", **changes))
    records.save(job(3, taken_at="2026-10-05T08:00:00+00:00", fixture=virtual, body_verdict="nonconforming"))
    found = records.runs(wanted)
    assert {int(row.unit.split()[-1]) for row in found} == units
    assert records.count(wanted) == len(found)


def test_a_jobs_last_run_is_the_as_left_one_or_the_only_one(records):
    records.save(job(1))
    records.save(job(2, as_left=False))
    last = {(row.unit, row.role) for row in records.runs(RunFilter(role="last"))}
    assert last == {("invented unit 1", "as_left"), ("invented unit 2", "as_found")}
    assert {row.role for row in records.runs(RunFilter(role="as_found"))} == {"as_found"}


def test_values_leave_virtual_runs_out_unless_asked_for(records):
    records.save(job(1, as_left=False))
    records.save(job(2, as_left=False, fixture=Fixture("virtual")))
    assert [value.unit for value in records.values("slope", RunFilter())] == ["invented unit 1"]
    assert [value.unit for value in records.values("slope", RunFilter(virtual=True))] == ["invented unit 2"]
    assert records.values("slope", RunFilter())[0].value == 11.1


def test_a_run_without_a_rod_error_or_a_time_is_kept_too(records):
    bare = replace(
        RESULT, rod_error=None, taken_at=None, unit=None, verdict="no result", capture=CaptureRef(None, None)
    )
    kept = replace(job(1, as_left=False), as_found=bare)
    number = records.save(kept).job
    assert records.job(number) == kept
    assert records.runs()[0].rod_error_mm is None


def test_text_of_any_kind_comes_back_unchanged(records):
    said = "'; DROP TABLE jobs; -- \"<b>é漢字</b>\n=1+1\0"
    number = records.save(job(1, customer=said, operator=said)).job
    assert records.job(number).customer == said
    assert records.runs()[0].operator == said.replace("\0", "")


def test_a_deleted_job_is_gone_with_all_its_runs(records):
    number = records.save(job(1)).job
    other = records.save(job(2)).job
    records.delete(number)
    assert {row.job for row in records.runs()} == {other}
    assert len(records.values("slope", RunFilter())) == 2
    with pytest.raises(InputError, match="no job"):
        records.job(number)
    with pytest.raises(InputError, match="no job"):
        records.delete(number)


def test_a_job_kept_before_results_had_all_of_todays_fields_is_found_and_not_doubled(records):
    made = job(1)
    document = msgspec.to_builtins(made)
    for role in ("as_found", "as_left"):
        del document[role]["checked"], document[role]["adjusted"]
    older = msgspec.json.encode(document)
    first = records.put_back(Kept(older.decode(), sha256(older).hexdigest()))
    again = records.save(made)
    assert (again.job, again.was_there) == (first.job, True)
    other = replace(made, as_found=replace(made.as_found, operator="C.D."))
    assert not records.save(other).was_there
