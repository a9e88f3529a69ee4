"""After a kill nobody knows whether the job was kept: adding its file to the records again must not double it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from records.made_up_jobs import job
from rodtrue.records import open_records
from rodtrue.report.reading import read_job
from rodtrue.run.job import write_job


def test_a_job_kept_at_the_end_of_a_run_is_found_again_from_its_file(tmp_path: Path) -> None:
    made = job(1)
    error = made.as_found.rod_error
    assert error is not None
    # Limits out of a profile are often whole numbers, which a file gives back as 1.0.
    whole = replace(made, as_found=replace(made.as_found, rod_error=replace(error, limits_mm=(-1, 1))))
    file = write_job(tmp_path, whole)
    with open_records(str(tmp_path / "records.sqlite")) as records:
        first = records.save(whole)
        again = records.save(read_job(file))
        assert (again.job, again.was_there) == (first.job, True)
        assert sum(1 for _ in records.kept()) == 1
