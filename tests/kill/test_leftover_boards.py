"""The folders that stand for virtual boards' flash: gone with their fixture, or with the next one after a kill."""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path

import pytest

from rodtrue.virtual.flash import LEFT_AFTER_S, PREFIX, PassingFlash


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


def _aged(folder: Path) -> Path:
    (folder / "calibration_a.bin").write_bytes(b"flash")
    then = time.time() - 2 * LEFT_AFTER_S
    os.utime(folder, (then, then))
    return folder


def test_a_folder_goes_with_its_fixture(temporary: Path) -> None:
    flash = PassingFlash()
    (flash.path / "calibration_a.bin").write_bytes(b"flash")
    flash.remove()
    flash.remove()
    assert list(temporary.iterdir()) == []


def test_what_a_killed_program_left_goes_with_the_next_fixture(temporary: Path) -> None:
    left = temporary / f"{PREFIX}left"
    left.mkdir()
    _aged(left)
    flash = PassingFlash()
    assert list(temporary.iterdir()) == [flash.path]
    flash.remove()


def test_a_folder_in_use_stays_however_old_and_so_does_one_just_made(temporary: Path) -> None:
    used = PassingFlash()
    _aged(used.path)
    fresh = temporary / f"{PREFIX}fresh"
    fresh.mkdir()
    other = PassingFlash()
    assert {used.path, fresh, other.path} == set(temporary.iterdir())
    assert (used.path / "calibration_a.bin").read_bytes() == b"flash"
    for flash in (used, other):
        flash.remove()


def test_a_link_of_that_name_is_not_followed(temporary: Path) -> None:
    elsewhere = temporary / "elsewhere"
    elsewhere.mkdir()
    _aged(elsewhere)
    (temporary / f"{PREFIX}link").symlink_to(elsewhere)
    PassingFlash().remove()
    assert (elsewhere / "calibration_a.bin").exists()
