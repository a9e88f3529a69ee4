"""The samples behind a kept run, written out as a table."""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pyarrow.parquet
import pytest
from typer.testing import CliRunner

from capture.captures import write_blocks
from records.made_up_jobs import job
from rodtrue.capture.csv_file import read_table
from rodtrue.capture.reader import read_capture
from rodtrue.cli import app
from rodtrue.model.errors import InputError
from rodtrue.model.result import CaptureRef, Fixture
from rodtrue.records import open_records
from rodtrue.records.backup import back_up, restore
from rodtrue.records.samples import export_samples


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """Records of one job, whose as-found run has a capture of twelve samples in a folder beside them."""
    folder = tmp_path / "shop"
    folder.mkdir()
    write_blocks(folder / "as-found.capture", [0, 4, 8])
    digest = sha256((folder / "as-found.capture").read_bytes()).hexdigest()
    made = job(1, as_left=False)
    made = replace(made, as_found=replace(made.as_found, capture=CaptureRef("as-found.capture", digest)))
    with open_records(str(tmp_path / "r.sqlite")) as records:
        records.save(made, folder=folder)
    return tmp_path / "r.sqlite"


def test_csv_and_parquet_hold_what_the_capture_holds(kept: Path, tmp_path: Path) -> None:
    truth = read_capture(tmp_path / "shop" / "as-found.capture").samples()
    assert len(truth) == 12
    for file in (tmp_path / "s.csv", tmp_path / "s.parquet"):
        ended = CliRunner().invoke(app, ["records", "samples", "1", str(file), "--records", str(kept)])
        assert ended.exit_code == 0 and "12 samples" in ended.stdout
    (time_s, travel_mm, pressure_kpa), _, _ = read_table(
        tmp_path / "s.csv", ["time_s", "travel_mm", "pressure_kpa"], ["step"]
    )
    table = pyarrow.parquet.read_table(tmp_path / "s.parquet")
    assert table.schema.metadata[b"fixture"] == b"board"
    assert table.schema.metadata[b"calibration"] == b"missing"
    assert (tmp_path / "s.csv").read_text().splitlines()[1].endswith(",missing,board")
    for name, written in (("time_s", time_s), ("travel_mm", travel_mm), ("pressure_kpa", pressure_kpa)):
        assert np.array_equal(table.column(name).to_numpy(), getattr(truth, name))
        assert np.allclose(written, getattr(truth, name), atol=1e-4)


@pytest.mark.parametrize("name", ["s.csv", "s.parquet"])
def test_nothing_is_written_over(kept: Path, tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    with open_records(str(kept)) as records, pytest.raises(InputError, match="is there already"):
        export_samples(records, 1, "as_found", tmp_path / name)
    assert (tmp_path / name).read_text() == "mine"


def test_a_capture_that_is_gone_changed_or_never_was_is_said(kept: Path, tmp_path: Path) -> None:
    capture, out = tmp_path / "shop" / "as-found.capture", tmp_path / "s.csv"
    with open_records(str(kept)) as records:
        bare = records.save(job(2, as_left=False)).job
        for number, role, says in (
            (bare, "as_found", "names no capture"),
            (1, "as_left", "no as-left run"),
            (77, "as_found", "no job 77"),
        ):
            with pytest.raises(InputError, match=says):
                export_samples(records, number, role, out)  # type: ignore[arg-type]
        with pytest.raises(InputError, match="neither"):
            export_samples(records, 1, "as_found", tmp_path / "s.txt")
        capture.write_bytes(capture.read_bytes()[:-3])
        with pytest.raises(InputError, match="no longer the capture that was judged"):
            export_samples(records, 1, "as_found", out)
    assert not out.exists()


def test_a_restored_capture_is_found(kept: Path, tmp_path: Path) -> None:
    with open_records(str(kept)) as records:
        back_up(records, tmp_path / "b.backup")
    (tmp_path / "shop" / "as-found.capture").unlink()
    with open_records(str(tmp_path / "elsewhere.sqlite")) as records:
        restore(records, tmp_path / "b.backup", tmp_path / "captures")
        assert export_samples(records, 1, "as_found", tmp_path / "s.csv", tmp_path / "captures") == 12


def test_samples_of_a_virtual_fixture_say_so(tmp_path: Path) -> None:
    write_blocks(tmp_path / "a.capture", [0, 4])
    digest = sha256((tmp_path / "a.capture").read_bytes()).hexdigest()
    made = job(1, as_left=False, fixture=Fixture("virtual"), capture=CaptureRef("a.capture", digest))
    with open_records(str(tmp_path / "r.sqlite")) as records:
        records.save(made, folder=tmp_path)
        for file in (tmp_path / "s.csv", tmp_path / "s.parquet"):
            export_samples(records, 1, "as_found", file)
    lines = (tmp_path / "s.csv").read_text().splitlines()
    assert lines[0].endswith(",fixture") and all(line.endswith(",virtual") for line in lines[1:])
    assert pyarrow.parquet.read_table(tmp_path / "s.parquet").schema.metadata[b"fixture"] == b"virtual"
