"""The plot beside a job: one panel a run, the same picture whatever a person has set for other plots."""

from __future__ import annotations

import struct
from pathlib import Path

import matplotlib
import pytest

from report.stored import result
from rodtrue.cli.outputs import write_plot
from rodtrue.model.errors import InputError


def size_of(picture: Path) -> tuple[int, int]:
    """Width and height of a PNG, from its first chunk (Portable Network Graphics, section 11.2.2)."""
    content = picture.read_bytes()
    assert content[:8] == b"\x89PNG\r\n\x1a\n" and content[12:16] == b"IHDR"
    width, height = struct.unpack(">II", content[16:24])
    return width, height


def test_as_left_stands_in_a_panel_beside_as_found(tmp_path: Path) -> None:
    as_found, as_left = result(rod_error_mm=-2.0), result(rod_error_mm=0.1)
    alone = size_of(write_plot(tmp_path, as_found, None))
    assert size_of(write_plot(tmp_path, as_found, as_left)) == (2 * alone[0], alone[1])


def test_settings_of_other_plots_change_nothing(tmp_path: Path) -> None:
    as_found = result("virtual", rod_error_mm=-2.0)
    plain = write_plot(tmp_path, as_found, None).read_bytes()
    with matplotlib.rc_context({"lines.linewidth": 9, "font.size": 30, "axes.facecolor": "red"}):
        assert write_plot(tmp_path, as_found, None).read_bytes() == plain


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"plot\.png: cannot be written"):
        write_plot(tmp_path / "gone", result(rod_error_mm=0.1), None)
