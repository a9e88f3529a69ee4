"""Marks of the button and the foot switch, and the over-pressure alarm."""

from __future__ import annotations

import numpy as np

import rodtrue_protocol as wire
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import Host, RulePlant, Times, during
from virtual.test_commands import DATA

BURST_CODE = 3700
CALIBRATED_CODE = 1400


def burst(from_s: float, to_s: float, code: int = BURST_CODE):  # type: ignore[no-untyped-def]
    inside = during((from_s, to_s))
    return lambda times: np.where(inside(times), code, 500)


def bouncing(close_s: float, open_s: float):  # type: ignore[no-untyped-def]
    """Return a contact that bounces for 25 ms, every 5 ms, at closing and at opening."""

    def rule(times: Times) -> np.ndarray:
        seconds = times * 1e-6
        closed = (seconds >= close_s) & (seconds < open_s)
        for edge_s in (close_s, open_s):
            near = (seconds >= edge_s) & (seconds < edge_s + 0.025)
            closed = np.where(near, (np.floor((seconds - edge_s) / 0.005) % 2 == 0), closed)
        return closed

    return rule


def test_a_bouncing_contact_makes_one_mark_at_the_sample_where_it_settled() -> None:
    plant = RulePlant(button=bouncing(1.0, 1.5))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(3.0)
        host.status()
        marks = host.of(wire.Mark)
    assert [(mark.counter, mark.source) for mark in marks] == [(1, wire.MarkSource.BUTTON)]
    assert 500 <= marks[0].sample_index <= 513


def test_a_contact_shorter_than_30_ms_makes_no_mark() -> None:
    plant = RulePlant(button=during((1.0, 1.025)), foot_switch=during((2.0, 2.045)))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(3.0)
        host.status()
        assert [mark.source for mark in host.of(wire.Mark)] == [wire.MarkSource.FOOT_SWITCH]
        assert host.of(wire.Mark)[0].sample_index == 1000


def test_status_repeats_the_last_four_marks_newest_first() -> None:
    presses = [(second, second + 0.2) for second in range(1, 7)]
    plant = RulePlant(foot_switch=during(*presses))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(7.0)
        status = host.status()
        assert len(host.of(wire.Mark)) == 6
    assert [mark.counter for mark in status.marks] == [6, 5, 4, 3]
    assert [mark.sample_index for mark in status.marks] == [3000, 2500, 2000, 1500]


def test_marks_before_a_session_are_kept_but_not_said() -> None:
    plant = RulePlant(button=during((1.0, 1.5)))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        fixture.run_for(2.0)
        host.greet()
        status = host.status()
        assert not host.of(wire.Mark)
    assert (status.marks[0].counter, status.marks[0].source) == (1, wire.MarkSource.BUTTON)
    assert status.marks[0].sample_index == 0xFFFF_FFFF


def test_over_pressure_sounds_within_a_sample_with_no_host_at_all() -> None:
    with VirtualFixture(RulePlant(pressure=burst(1.0, 1.2)), pace="manual") as fixture:
        fixture.run_for(0.9)
        assert not fixture.sounder
        fixture.run_for(0.2)
        assert fixture.sounder
        on = fixture.sounder_changes[0]
        assert on.level and 1.0 <= on.time_s <= 1.0 + 2 * 0.002
        fixture.run_for(1.0)
        assert not fixture.sounder


def test_over_pressure_sounds_at_once_while_a_write_is_stuck() -> None:
    plant = RulePlant(pressure=burst(1.2, 1.4))
    with VirtualFixture(plant, pace="manual", stalls_s=[(1.0, 2.0)]) as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(1.3)
        assert fixture.sounder
        assert fixture.sounder_changes[0].time_s <= 1.2 + 2 * 0.002
        fixture.run_for(3.0)
        status = host.status()
    assert [mark.source for mark in host.of(wire.Mark)] == [wire.MarkSource.OVER_PRESSURE]
    assert status.flags & wire.StatusFlags.OVER_PRESSURE_SEEN
    assert not status.flags & wire.StatusFlags.OVER_PRESSURE


def test_below_the_nominal_threshold_nothing_sounds() -> None:
    """2000 kPa on the nominal transducer is 12-bit code 3578.6: 0.1 + 0.8 x 2000 / 2068."""
    for code, sounds in ((3578, False), (3579, True)):
        with VirtualFixture(RulePlant(pressure=burst(0.5, 1.5, code)), pace="manual") as fixture:
            fixture.run_for(1.0)
            assert fixture.sounder == sounds


def test_a_calibrations_threshold_takes_the_nominal_ones_place_at_once() -> None:
    plant = RulePlant(pressure=burst(5.0, 9.0, CALIBRATED_CODE), button=during((1.0, 3.5)))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(6.0)
        assert not fixture.sounder
        assert isinstance(host.ask("write_calibration", generation=1, data=DATA), wire.Ack)
        fixture.run_for(0.1)
        assert fixture.sounder
