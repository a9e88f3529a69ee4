"""From frames to samples: times derived from ticks, gaps kept, steps and conditions from the entries."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from capture.captures import IDENTITY, PERIOD_US, block, write_blocks
from rodtrue.capture.csv_out import write_csv
from rodtrue.capture.reader import Capture, read_capture
from rodtrue.capture.writer import CaptureWriter
from rodtrue.model.conditions import Plan
from rodtrue.model.samples import STEPS


def _capture(path: Path, indices: list[int], start_us: int = 0) -> Capture:
    write_blocks(path, indices, start_us=start_us)
    return read_capture(path)


def test_gaps_stay_gaps_in_time_and_are_listed(tmp_path: Path) -> None:
    capture = _capture(tmp_path / "a.capture", [0, 4, 16, 20, 30])
    assert [(gap.index, gap.missing) for gap in capture.gaps] == [(16, 8), (30, 6)]
    assert capture.gaps[0].time_s == pytest.approx(16 * PERIOD_US / 1e6)
    times = capture.samples().time_s
    assert times[8] - times[7] == pytest.approx(9 * PERIOD_US / 1e6)
    assert len(times) == 20


def test_device_time_runs_on_over_its_wrap(tmp_path: Path) -> None:
    capture = _capture(tmp_path / "a.capture", [0, 4, 8], start_us=2**32 - 5 * PERIOD_US)
    times = capture.samples().time_s
    assert times.tolist() == pytest.approx([k * PERIOD_US / 1e6 for k in range(12)])
    assert capture.gaps == []


def test_a_repeated_block_counts_once(tmp_path: Path) -> None:
    capture = _capture(tmp_path / "a.capture", [0, 4, 4, 8])
    assert capture.stream.index.tolist() == list(range(12))
    assert capture.stream.repeated_blocks == 1
    assert len(capture.items) == 5


def test_codes_become_units_by_the_nominal_scaling(tmp_path: Path) -> None:
    """Ratio 0.1 to 0.9 of the supply is 0 to 100 mm and 0 to 2068 kPa: 0.5 to 4.5 V at 5 V."""
    with CaptureWriter(tmp_path / "a.capture") as writer:
        writer.entry("identity", 0, **IDENTITY)
        writer.received(block(0, 0, [[6553, 6554], [58982, 58982], [32768, 32768]]), 0)
    samples = read_capture(tmp_path / "a.capture").samples()
    assert samples.travel_mm == pytest.approx([0.0, 100.0, 50.0], abs=0.002)
    assert samples.pressure_kpa == pytest.approx([0.0, 2068.0, 1034.0], abs=0.04)
    assert samples.travel_step_mm == pytest.approx(125.0 / 4096)


def test_a_calibration_read_at_the_start_is_used(tmp_path: Path) -> None:
    channel = {"r0": 0.5, "c0": 20.0, "c1": 100.0, "c2": 8.0, "scale_half_width": 0, "nonlinearity_half_width": 0}
    held = {"generation": 3, "fixture_id": IDENTITY["unique_id"], "due": None, "channels": [channel, channel]}
    with CaptureWriter(tmp_path / "a.capture") as writer:
        writer.entry("identity", 0, **IDENTITY)
        writer.entry("calibration", 0, calibration=held)
        writer.received(block(0, 0, [[32768, 49152]]), 0)
    capture = read_capture(tmp_path / "a.capture")
    samples = capture.samples()
    assert samples.travel_mm == pytest.approx([20.0])
    assert samples.pressure_kpa == pytest.approx([20.0 + 25.0 + 0.5])
    assert capture.fixture().calibration == capture.calibration


def test_steps_begin_at_their_first_sample(tmp_path: Path) -> None:
    with CaptureWriter(tmp_path / "a.capture") as writer:
        writer.entry("identity", 0, **IDENTITY)
        writer.received(block(0, 0, [[7000, 7000]] * 12), 0)
        writer.entry("step", 2, step="zero")
        writer.entry("step", 4, step="")
        writer.entry("step", 6, step="sweep")
        writer.entry("adjusted", 9, moved="slid 1 mm longer")
    steps = [STEPS[step] for step in read_capture(tmp_path / "a.capture").samples().step]
    assert steps == ["", "", "zero", "zero", "", "", "sweep", "sweep", "sweep", "adjusted", "sweep", "sweep"]


def test_conditions_are_what_was_answered_and_silence_is_not_unhooked(tmp_path: Path) -> None:
    write_blocks(tmp_path / "silent.capture", [0])
    silent = read_capture(tmp_path / "silent.capture").conditions()
    assert (silent.rod_unhooked, silent.drive, silent.plan) == (None, None, None)
    with CaptureWriter(tmp_path / "told.capture") as writer:
        writer.entry("identity", 0, **IDENTITY)
        writer.entry("conditions", 0, drive="slide", reference="curb_idle", operator="A", unit="U 1")
        writer.entry("plan", 0, sweeps=6, extended_sweeps=12)
        writer.entry("rod_unhooked", 0, answer=False)
        writer.entry("rod_unhooked", 5, answer=True)
        writer.entry("look", 9, number=1, sweeps=6)
        writer.entry("look", 12, number=2, sweeps=12)
    told = read_capture(tmp_path / "told.capture").conditions()
    assert (told.kind, told.drive, told.rod_unhooked) == ("virtual", "slide", True)
    assert told.plan == Plan(6, 12, looks=2)


def test_a_capture_without_samples_gives_none(tmp_path: Path) -> None:
    with CaptureWriter(tmp_path / "a.capture") as writer:
        writer.entry("identity", 0, **IDENTITY)
    assert len(read_capture(tmp_path / "a.capture").samples()) == 0


def test_csv_out_holds_times_units_and_steps(tmp_path: Path) -> None:
    with CaptureWriter(tmp_path / "a.capture") as writer:
        writer.entry("identity", 0, **IDENTITY)
        writer.received(block(0, 0, [[6554, 6554], [32768, 32768]]), 0)
        writer.entry("step", 1, step="sweep")
    samples = read_capture(tmp_path / "a.capture").samples()
    write_csv(samples, tmp_path / "a.csv")
    head, first, second = (tmp_path / "a.csv").read_text().splitlines()
    assert head == "time_s,travel_mm,pressure_kpa,step"
    assert first.split(",")[3] == ""
    assert second.split(",")[3] == "sweep"
    assert np.allclose([float(value) for value in second.split(",")[:3]], [0.002, 50.0, 1034.0], atol=0.05)
