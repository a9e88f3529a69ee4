"""The calibration slots: power cuts, damage, and what an earlier version wrote."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from firmware.scripts import run_script
from rodtrue_protocol import decode_calibration

GOLDEN = json.loads((Path(__file__).parents[1] / "data" / "calibration_version_1.json").read_text("utf-8"))


def test_a_power_cut_at_any_byte_of_a_write_keeps_the_old_calibration(tmp_path: Path) -> None:
    answer = run_script("storage", folder=tmp_path)
    assert answer["cuts"] == 7 + 160 + 4
    assert answer["kept_old"]


def test_a_flipped_bit_anywhere_in_a_slot_makes_the_other_one_count(tmp_path: Path) -> None:
    assert run_script("storage", folder=tmp_path)["flipped"]


def test_on_littlefs_a_power_cut_at_any_byte_loses_at_most_the_new_copy() -> None:
    """MicroPython's own littlefs on a flash in memory, through enough writes that it erases and moves blocks."""
    told = run_script("littlefs")
    assert not any(told["broken"].values()), told["broken"]
    assert told["cuts"] > 5000 and told["erases"] >= 1
    assert told["old"] + told["new"] == told["cuts"] and told["old"] and told["new"]


@pytest.mark.parametrize("slot", ["calibration_a.bin", "calibration_b.bin"])
def test_the_fixture_reads_what_version_1_stored(tmp_path: Path, slot: str) -> None:
    (tmp_path / slot).write_bytes(bytes.fromhex(GOLDEN["slot_file"]))
    told = run_script("read_slots", folder=tmp_path)
    assert (told["generation"], told["data"]) == (GOLDEN["generation"], GOLDEN["record"])
    assert told["over_pressure_code"] == GOLDEN["fields"]["over_pressure_code"]
    assert told["valid"] == [slot.endswith("a.bin"), slot.endswith("b.bin")]


def test_the_host_reads_the_record_of_version_1() -> None:
    fields = GOLDEN["fields"]
    record = decode_calibration(bytes.fromhex(GOLDEN["record"]))
    assert (record.layout, record.over_pressure_code) == (1, fields["over_pressure_code"])
    assert record.fixture_id.hex() == fields["fixture_id"]
    assert [record.done_year, record.done_month, record.done_day] == fields["done"]
    assert [record.due_year, record.due_month, record.due_day] == fields["due"]
    assert record.references == fields["references"]
    for channel, golden in zip(record.channels, fields["channels"], strict=True):
        found = [channel.degree, channel.r0, channel.c0, channel.c1, channel.c2, channel.scale_half_width]
        found += [channel.nonlinearity_half_width, channel.residual_sd, channel.temperature_c]
        assert found == pytest.approx(golden, rel=1e-6), "32-bit floats keep seven digits"
