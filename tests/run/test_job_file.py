"""What a job leaves on the disk: its file whole or not at all, its capture closed even where the disk fails."""

import errno
import os
from pathlib import Path

import pytest

from records.made_up_jobs import job
from rodtrue.capture.reader import read_capture
from rodtrue.model.errors import InputError
from rodtrue.report import read_job
from rodtrue.run.job import write_job
from run.runs import bench


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


def test_a_disk_that_fails_as_the_capture_is_closed_is_said_once_and_nothing_is_written_after_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(_: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    run = bench(tmp_path).run
    run.update(0.04)
    with monkeypatch.context() as disk:
        disk.setattr(os, "fsync", fails)
        with pytest.raises(InputError, match=r"as-found\.capture: cannot be written"):
            run.close()
    run.note("late")
    run.close()
    assert read_capture(tmp_path / "as-found.capture").entries[-1].name == "end"
