"""A stream across the wrap of the ticks and of the 32-bit time, as the host records it, and a clock that is off."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

from bench.study import soaking
from rodtrue.link.client import Client
from rodtrue.link.port import Port
from rodtrue.run.recorder import Recorder
from rodtrue.virtual import pace
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import RulePlant, ramp_codes

TICKS_PERIOD_US = 1 << 30
BEFORE_S, LASTS_S = 5.0, 45.0


def _in_the_last_quarter_of_its_time(firmware: Path) -> Path:
    """Have the fixture begin where it would be after three wraps of its ticks."""
    sampler = firmware / "sampler.py"
    begins = "self.time_high = ticks >> 16"
    text = sampler.read_text("utf-8")
    assert text.count(begins) == 1
    sampler.write_text(text.replace(begins, f"{begins} | 0xC000"), "utf-8")
    return firmware


@pytest.mark.slow
def test_across_the_wrap_of_ticks_and_time_no_sample_is_lost_and_no_heap_grows(tmp_path: Path) -> None:
    firmware = _in_the_last_quarter_of_its_time(soaking.firmware_that_tells_its_heap(tmp_path))
    path = tmp_path / "wraps.capture"
    start_us = TICKS_PERIOD_US - round(BEFORE_S * 1e6)
    told_us = []
    with (
        VirtualFixture(RulePlant(), pace="manual", firmware=firmware, ticks_start_us=start_us) as fixture,
        Port(fixture.port) as port,
    ):
        client = Client(port)
        recorder = Recorder(client, client.hello())
        recorder.open_capture(path, soaking.RATE_HZ)
        while fixture.device_time_s < LASTS_S:
            fixture.run_for(0.25)
            recorder.poll()
            told_us.append(client.status().time_us)
        recorder.close_capture()
    assert sum(later < earlier for earlier, later in itertools.pairwise(told_us)) == 1, "the time wrapped, once"
    kept = soaking.kept_in(path)
    assert kept.samples >= soaking.RATE_HZ * LASTS_S - 50
    assert (kept.missing, kept.unreported, kept.repeated_blocks, kept.damages) == (0, 0, 0, 0)
    assert (kept.lost_samples, kept.dropped_blocks, kept.overruns) == (0, 0, 0)
    assert round(kept.worst_us) == 0
    assert len(kept.heap_bytes) >= 3 and np.ptp(kept.heap_bytes[1:]) <= soaking.FLAT_BYTES


def test_the_codes_across_the_wrap_are_the_plants(tmp_path: Path) -> None:
    path = tmp_path / "wraps.capture"
    with (
        VirtualFixture(RulePlant(), pace="manual", ticks_start_us=TICKS_PERIOD_US - 2_000_000) as fixture,
        Port(fixture.port) as port,
    ):
        client = Client(port)
        recorder = Recorder(client, client.hello())
        recorder.open_capture(path, soaking.RATE_HZ)
        fixture.run_for(4.0)
        recorder.close_capture()
    codes = soaking.read_capture(path).stream.codes
    np.testing.assert_array_equal(codes[:, 0], ramp_codes(len(codes)))


def test_a_crystal_that_is_off_lets_device_time_run_by_as_much(monkeypatch: pytest.MonkeyPatch) -> None:
    now_s = 100.0
    monkeypatch.setattr(pace.time, "monotonic", lambda: now_s)
    clock = pace.RealPace(clock_error=1e-3)
    clock.begin()
    granted_us = 0
    for _ in range(2000):
        now_s += 0.5
        granted_us = clock.limit_us(granted_us)
    assert granted_us == pytest.approx(1000.0 * 1.001 * 1e6, abs=pace.STEP_US)
    now_s += 10.0
    assert clock.limit_us(granted_us) - granted_us <= pace.LONGEST_LAG_US + pace.STEP_US, "it stood still meanwhile"


def test_the_fitted_drift_is_the_clocks_across_its_wrap_and_its_error_is_that_of_the_looks() -> None:
    rng = np.random.default_rng(7)
    host_s = np.arange(0.0, 1800.0, 10.0) + 5000.0
    scatter_us = rng.normal(0.0, 2000.0, len(host_s))
    device_us = (soaking.CLOCK_WRAP_US - 600e6 + (host_s - 5000.0) * 1e6 * (1 + 40e-6) + scatter_us).astype(np.int64)
    drift = soaking.fitted_drift(host_s, device_us % soaking.CLOCK_WRAP_US)
    # The textbook's error of a slope: sigma / sqrt(sum of (x - mean)^2).
    expected_ppm = 2000.0 / np.sqrt(np.sum((host_s - host_s.mean()) ** 2))
    assert drift.standard_error_ppm == pytest.approx(expected_ppm, rel=0.2)
    assert drift.ppm == pytest.approx(40.0, abs=4 * expected_ppm)
