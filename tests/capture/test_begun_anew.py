"""A fixture that begins anew in the middle of a capture: what follows is another stream, and is not mixed in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import rodtrue_protocol as wire
from capture.captures import IDENTITY, PERIOD_US
from rodtrue.capture.reader import read_capture
from rodtrue.capture.timeline import BegunAnew, Timeline
from rodtrue.capture.writer import CaptureWriter

SAMPLES = 20


def _block(number: int, begun_us: int, period_us: int = PERIOD_US) -> wire.SampleBlock:
    """Return block `number` of a stream whose first sample was taken at `begun_us`."""
    index = number * SAMPLES
    codes = np.full((SAMPLES, 2), 7000, np.uint16)
    return wire.SampleBlock.of(index, (begun_us + index * period_us) % 2**32, period_us, codes)


def _fed(begun_us: int, blocks: int = 200) -> Timeline:
    timeline = Timeline()
    for number in range(blocks):
        timeline.add(_block(number, begun_us))
    return timeline


@pytest.mark.parametrize("again_us", [0, 20_000_000, 2**32 - 1_000_000], ids=["after reset", "later", "at the wrap"])
def test_an_index_that_starts_again_at_another_time_has_begun_anew(again_us: int) -> None:
    with pytest.raises(BegunAnew):
        _fed(7_000_000).add(_block(0, again_us))


@pytest.mark.parametrize("early_us", [SAMPLES * PERIOD_US, 500_000, -2_000_000], ids=["stands", "back", "leaps"])
def test_a_later_block_whose_time_is_not_where_its_index_puts_it_has_begun_anew(early_us: int) -> None:
    """As where another program started it while this one looked away, and its count has passed ours."""
    timeline = _fed(7_000_000)
    with pytest.raises(BegunAnew):
        timeline.add(_block(200, 7_000_000 - early_us))
    assert timeline.add(_block(200, 7_000_000)) is not None


def test_another_rate_has_begun_anew() -> None:
    with pytest.raises(BegunAnew):
        _fed(0).add(_block(200, 0, period_us=1000))


def test_blocks_repeated_or_late_are_left_out_and_nothing_more() -> None:
    timeline = _fed(2**32 - 3_000_000)
    for number in (199, 150, 0):
        assert timeline.add(_block(number, 2**32 - 3_000_000)) is None
    assert timeline.repeated_blocks == 3
    assert timeline.add(_block(200, 2**32 - 3_000_000)) is not None
    assert timeline.gaps == []


def test_an_hour_without_blocks_is_a_gap_and_no_new_beginning() -> None:
    timeline = _fed(0)
    hour = 3600 * 500 // SAMPLES
    assert timeline.add(_block(hour, 0)) is not None
    assert [gap.missing for gap in timeline.gaps] == [(hour - 200) * SAMPLES]


def test_two_hours_without_blocks_are_as_long_as_the_index_says() -> None:
    """The time as told has gone round more than once."""
    timeline = _fed(0)
    later = 7200 * 500 // SAMPLES
    placed = timeline.add(_block(later, 0))
    assert placed is not None
    assert placed[1][0] == 7200.0


def test_a_stream_whose_first_seconds_are_lost_begins_with_a_gap() -> None:
    timeline = Timeline()
    assert timeline.add(_block(200, 0)) is not None
    assert timeline.add(_block(201, 0)) is not None
    assert [gap.missing for gap in timeline.gaps] == [200 * SAMPLES]


def test_a_capture_ends_where_the_fixture_began_anew_and_says_what_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    with CaptureWriter(path) as writer:
        writer.entry("identity", 0, **IDENTITY)
        for number in range(10):
            writer.received(wire.encode(_block(number, 9_000_000), number)[:-1], number * SAMPLES)
        for number in range(30):
            writer.received(wire.encode(_block(number, 1_000), number)[:-1], number * SAMPLES)
    stream = read_capture(path).stream
    assert len(stream.index) == 10 * SAMPLES
    assert stream.left_out_blocks == 30
