"""Heap in steady state, measured under MicroPython with collections off: gc.mem_alloc() around each frame.

The script also runs every interrupt with the heap locked, where an allocation raises, and twenty frames
with the main loop's heap locked too.
"""

from __future__ import annotations

import pytest

from firmware.scripts import run_script

BLOCKS_PER_SECOND = {500: 25, 1000: 31}


@pytest.mark.parametrize("rate_hz", BLOCKS_PER_SECOND)
def test_a_block_in_steady_state_takes_at_most_32_bytes_of_heap(rate_hz: int) -> None:
    answer = run_script("heap", rate_hz)
    taken = answer["taken"]
    assert len(taken) == 150
    with_status = [size for size in taken if size > 32]
    assert len(with_status) <= len(taken) // BLOCKS_PER_SECOND[rate_hz] + 1, "only the second's status takes more"
    assert sum(taken) / len(taken) <= 32, "statuses included"
    assert answer["locked_blocks"] == 20
