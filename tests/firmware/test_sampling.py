"""Blocks as the firmware makes them: carries, late conversions, short writes, a full queue."""

from __future__ import annotations

from typing import Any

import numpy as np

import rodtrue_protocol as wire
from firmware.scripts import run_script


def sampled(case: str) -> tuple[list[wire.Event], dict[str, Any]]:
    answer = run_script("sampling", case)
    decoder = wire.Decoder()
    events = list(decoder.feed(bytes.fromhex(answer["sent"])))
    assert decoder.counters.skipped_bytes == 0
    return events, answer


def blocks(events: list[wire.Event]) -> list[wire.SampleBlock]:
    return [event for event in events if isinstance(event, wire.SampleBlock)]


def test_index_and_time_carry_over_their_halves_and_over_32_bits() -> None:
    taken = blocks(sampled("carry")[0])
    assert [block.index for block in taken] == [2**32 - 8, 12, 32, 52, 72]
    times = [block.time_us for block in taken]
    assert times[0] > 2**32 - 2**16 > times[-1]
    assert set(np.diff(times) % 2**32) == {40_000}


def test_a_late_conversion_costs_its_sample_whose_index_is_skipped() -> None:
    events, answer = sampled("late")
    taken = blocks(events)
    assert answer["lost_samples"] == 1
    assert [(block.index, len(block.codes)) for block in taken] == [
        (0, 20),
        (20, 20),
        (40, 10),
        (51, 20),
        (71, 20),
        (91, 9),
    ]
    assert {block.time_us - 2000 * block.index for block in taken} == {taken[0].time_us}


def test_short_writes_lose_and_repeat_nothing() -> None:
    taken = blocks(sampled("short")[0])
    assert [block.index for block in taken] == [0, 20, 40, 60, 80]


def test_a_full_queue_drops_the_oldest_blocks_counts_them_and_keeps_every_mark() -> None:
    events, answer = sampled("full")
    taken = blocks(events)
    assert answer["dropped_blocks"] == 40
    # The block under way when the line stopped is sent to its end; the 32 newest follow.
    indices = [block.index for block in taken]
    assert indices == [0, *range(20 * 41, 20 * 74, 20)]
    marks = [event for event in events if isinstance(event, wire.Mark)]
    assert [mark.source for mark in marks] == [wire.MarkSource.BUTTON]
    assert answer["feeds"] > 1000, "the watchdog was fed all the while"


def test_jitter_is_how_far_sample_periods_began_from_their_schedule() -> None:
    answer = sampled("jitter")[1]
    assert (answer["early_us"], answer["late_us"]) == (7, 31), "later conversions of a sample do not count"
    assert answer["lost_samples"] == 0


def test_jitter_tells_of_a_sample_that_came_too_late_as_well() -> None:
    """The late conversion is the first of its sample's four: its period began 501 us behind."""
    assert sampled("late")[1]["late_us"] == 501


def test_over_the_travel_limit_the_sounder_beeps_at_once_and_ends_half_a_millimetre_below() -> None:
    """0.5 mm is 262 codes, 16.4 converter steps; a beep is 100 ms on, 100 ms off, 50 samples each."""
    levels = sampled("limit")[1]["levels"]
    at, over, below = levels[:75], levels[75:225], levels[225:]
    assert not any(at), "on the limit nothing sounds"
    beeps = [1] * 50 + [0] * 50
    assert over == (beeps * 2)[:150]
    assert below[:75] == [0] * 50 + [1] * 25, "10 steps below it is still over"
    assert below[75:125] == [1] * 25 + [0] * 25, "20 steps below the beep under way is ended"
    assert not any(below[125:])
