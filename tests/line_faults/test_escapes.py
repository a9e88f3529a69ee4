"""Damaged frames that the decoder takes for good: none with the whole check, 1 in 256 with an 8-bit one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from line_faults.escapes import Count, bit_errors, eight_bit_check, random_bodies, sound_frames


@pytest.mark.parametrize("rate", [1e-5, 1e-4, 1e-3, 1e-2])
def test_no_damaged_frame_escapes_and_no_sound_one_is_lost(rate: float) -> None:
    rng = np.random.default_rng(5)
    count = bit_errors(rng, sound_frames(rng, 2000), rate)
    assert count.damaged > 0
    assert (count.escaped, count.lost_sound) == (0, 0)


def test_an_eight_bit_check_lets_one_in_256_random_frames_escape() -> None:
    count = Count()
    rng = np.random.default_rng(6)
    with eight_bit_check():
        for _ in range(8):
            count.add(random_bodies(rng, 4000))
    expected = count.damaged / 256
    assert abs(count.escaped - expected) < 3 * math.sqrt(expected * 255 / 256)


def test_the_whole_check_lets_no_random_frame_escape() -> None:
    count = random_bodies(np.random.default_rng(7), 5000)
    assert (count.damaged, count.escaped, count.salvaged) == (5000, 0, 0)
