"""No integer of the sampling path passes 2^30 - 1: a longer one would be allocated on a 32-bit board."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware.instrumented import instrument
from firmware.scripts import run_script


def test_every_integer_in_the_sampling_path_fits_in_31_bits(tmp_path: Path) -> None:
    told = run_script("integers", firmware=instrument(tmp_path))
    assert told["checks"] > 500_000, "the checks were made"
    assert told["wrapped"], "the ticks went past 2^30"
    assert told["marks"] >= 9, "contacts and both alarms took part"
    assert told["travel_seen"]
    assert told["largest"] <= 2**30 - 1
    assert told["smallest"] >= -(2**30)


TIME = "self.time_high = (self.time_high + (low >> 16)) & _HALF"
TRAVEL = "travel = self._travel << 2"
BEEP = "self._beeping_us += period_us"
LATENESS = "self.late_us = lateness_us"


@pytest.mark.parametrize(
    ("file", "before", "after"),
    [
        ("sampler.py", TIME, f"{TIME}; whole = self.time_high << 16"),
        ("sampler.py", TRAVEL, f"{TRAVEL}; scaled = travel * 16400"),
        ("sampler.py", LATENESS, f"{LATENESS} * 1000000"),
        ("alarm.py", BEEP, f"{BEEP}; squared = self._beeping_us * self._beeping_us"),
    ],
    ids=["time in one piece", "a product too long", "lateness in other units", "a time squared"],
)
def test_the_check_finds_an_integer_that_is_too_long(tmp_path: Path, file: str, before: str, after: str) -> None:
    firmware = instrument(tmp_path, (file, before, after))
    with pytest.raises(AssertionError, match="does not fit in 31 bits"):
        run_script("integers", firmware=firmware)
