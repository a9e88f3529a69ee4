"""What a host sees of the firmware through the virtual fixture: identity, samples, times."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import rodtrue_protocol as wire
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.motion import guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import load_scenario
from virtual.bench import Host, RulePlant, firmware_with, ramp_codes

TICKS_PERIOD_US = 1 << 30


def test_nothing_is_said_before_the_host_asks() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        fixture.run_for(2.0)
        assert host.is_silent()


def test_identity_says_virtual_and_names_the_real_interpreter() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        identity = host.greet()
    assert identity.kind == wire.Kind.VIRTUAL
    assert identity.interpreter.startswith("micropython")
    assert identity.table_digest == wire.TABLE.digest
    assert identity.reset_cause == wire.ResetCause.POWER_ON
    assert (identity.rate_min_hz, identity.rate_max_hz) == (100, 1000)


@pytest.mark.parametrize(
    ("rate_hz", "period_us", "block"), [(100, 10000, 4), (300, 3332, 12), (500, 2000, 20), (1000, 1000, 32)]
)
def test_every_sample_comes_once_at_the_tables_period(rate_hz: int, period_us: int, block: int) -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream(rate_hz)
        fixture.run_for(3.0)
        assert isinstance(host.ask("stop"), wire.Ack)
        blocks = host.of(wire.SampleBlock)
    samples = -(-3_000_000 // period_us)
    assert [b.index for b in blocks] == list(range(0, blocks[-1].index + 1, block))
    assert sum(len(b.codes) for b in blocks) in (samples - 1, samples)
    assert {b.period_us for b in blocks} == {period_us}
    assert {b.time_us - blocks[0].time_us - b.index * period_us for b in blocks} == {0}
    assert [len(b.codes) for b in blocks[:-1]] == [block] * (len(blocks) - 1)
    assert host.counters.frames > 0 and host.counters.skipped_bytes == 0


def test_code_is_four_times_the_sum_of_four_conversions() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(4.0)
        host.ask("stop")
        codes = host.codes()
    assert len(codes) == 2000
    np.testing.assert_array_equal(codes[:, 0], ramp_codes(2000))
    np.testing.assert_array_equal(codes[:, 1], 16 * 500)


def test_device_time_runs_on_evenly_where_the_ticks_wrap() -> None:
    start_us = TICKS_PERIOD_US - 5_000_000
    with VirtualFixture(RulePlant(), pace="manual", ticks_start_us=start_us) as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(10.0)
        status = host.status()
        blocks = host.of(wire.SampleBlock)
    assert blocks[0].time_us < TICKS_PERIOD_US < blocks[-1].time_us
    assert set(np.diff([b.time_us for b in blocks])) == {40_000}
    assert (status.lost_samples, status.overruns, status.dropped_blocks) == (0, 0, 0)
    np.testing.assert_array_equal(host.codes()[:, 0], ramp_codes(len(host.codes())))


def test_stop_sends_the_unfilled_block_before_its_answer() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(0.05)
        ack = host.ask("stop")
        assert [len(b.codes) for b in host.of(wire.SampleBlock)] == [20, 5]
        assert host.events.index(ack) == len(host.events) - 1
        fixture.run_for(1.0)
        assert host.is_silent()


def test_status_comes_unasked_once_a_second_while_streaming() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(5.1)
        host.status()
        unasked = host.of(wire.Status)[:-1]
    assert len(unasked) == 5
    assert all(status.flags & wire.StatusFlags.STREAMING for status in unasked)
    assert not any(status.flags & wire.StatusFlags.ANSWER for status in unasked)
    assert unasked[-1].supply_code == 16 * 2458
    assert unasked[-1].thermistor_code == 16 * 2048


@pytest.mark.parametrize("seed", [1, 7])
def test_firmware_gives_the_same_codes_as_the_plant_read_directly(seed: int) -> None:
    scenario = load_scenario()
    plants = [Plant(scenario, seed) for _ in range(2)]
    for plant in plants:
        plant.handle.schedule_steps(guided_run(plant.hand, sweeps=3), 0)
    with VirtualFixture(plants[0], pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(20.0)
        host.ask("stop")
        codes = host.codes()
    direct = plants[1].samples(500, 20.0)
    assert len(np.unique(direct[:, 0])) > 500, "the pin must have moved"
    np.testing.assert_array_equal(codes, direct)


def test_same_seed_gives_the_same_bytes() -> None:
    runs = []
    for _ in range(2):
        with VirtualFixture(Plant(load_scenario(), 5), pace="manual") as fixture, Host(fixture.port) as host:
            host.stream()
            fixture.run_for(2.0)
            host.ask("stop")
            runs.append([event.raw for event in host.events])
    assert runs[0] == runs[1]


def test_a_changed_constant_of_the_firmware_shows_in_the_stream(tmp_path: Path) -> None:
    """The bytes come from the firmware files as MicroPython runs them, from nowhere else."""
    changed = firmware_with(tmp_path, "sampler.py", "travel = self._travel << 2", "travel = self._travel << 1")
    with VirtualFixture(RulePlant(), pace="manual", firmware=changed) as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(1.0)
        host.ask("stop")
        codes = host.codes()
    np.testing.assert_array_equal(codes[:, 0], ramp_codes(500) // 2)


def test_steering_in_real_pace_shows_within_a_tenth_of_a_second_of_device_time() -> None:
    plant = Plant(load_scenario(), 3)
    with VirtualFixture(plant) as fixture, Host(fixture.port) as host:
        host.stream()
        first = host.wait_for(lambda event: isinstance(event, wire.SampleBlock))
        rest_code = int(first.codes[0, 0])
        steered_s = fixture.device_time_s
        fixture.handle.throttle_mm = 40.0
        moved = host.wait_for(
            lambda event: isinstance(event, wire.SampleBlock) and int(event.codes[-1, 0]) > rest_code + 600
        )
    arrived_s = (moved.time_us - first.time_us + len(moved.codes) * moved.period_us) * 1e-6
    assert arrived_s - steered_s < 0.1
