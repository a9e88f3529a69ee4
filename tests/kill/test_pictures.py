"""A picture that cannot be written whole leaves the one that stands under its name."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rodtrue.cli import app


@pytest.mark.parametrize("command", ["shifts", "lab chart", "calibrate fit"])
def test_where_the_disk_is_full_the_old_picture_stands_alone(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data, picture = tmp_path / "data.csv", tmp_path / "a.png"
    data.write_text("value,x\n" + "".join(f"{10 + row % 3 / 10 + row},{row}\n" for row in range(20)))
    options = {"shifts": ["--rod-error", "2"], "lab chart": [str(data)]}.get(
        command, [str(data), "--x", "x", "--y", "value"]
    )
    picture.write_bytes(b"old")

    def full(_number: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    done = CliRunner().invoke(app, [*command.split(), *options, "--plot", str(picture)])
    assert "No space left on device" in str(done.exception)
    assert picture.read_bytes() == b"old"
    assert sorted(tmp_path.iterdir()) == [picture, data]
