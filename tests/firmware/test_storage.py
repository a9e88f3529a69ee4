"""The calibration slots."""

from __future__ import annotations

from pathlib import Path

from firmware.scripts import run_script


def test_a_power_cut_at_any_byte_of_a_write_keeps_the_old_calibration(tmp_path: Path) -> None:
    answer = run_script("storage", folder=tmp_path)
    assert answer["cuts"] == 7 + 160 + 4
    assert answer["kept_old"]


def test_a_flipped_bit_anywhere_in_a_slot_makes_the_other_one_count(tmp_path: Path) -> None:
    assert run_script("storage", folder=tmp_path)["flipped"]
