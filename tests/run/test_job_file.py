"""The job file: whole or not at all."""

import os
from pathlib import Path

import pytest

from records.made_up_jobs import job
from rodtrue.model.errors import InputError
from rodtrue.report import read_job
from rodtrue.run.job import write_job


def test_a_disk_that_fills_while_the_job_is_written_anew_leaves_the_earlier_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = job(1, as_left=False)
    path = write_job(tmp_path, first)

    def full(_file: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as disk:
        disk.setattr(os, "fsync", full)
        with pytest.raises(InputError, match="No space left"):
            write_job(tmp_path, job(1))
    assert read_job(path) == first
    assert [entry.name for entry in tmp_path.iterdir()] == ["job.json"]
    write_job(tmp_path, job(1))
    assert read_job(path) == job(1)
