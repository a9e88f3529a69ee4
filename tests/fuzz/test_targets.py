"""Each reader of what others wrote, for a few seconds: nothing but documented outcomes. Longer: `bench.fuzz`."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from fuzz.file_targets import change_item
from fuzz.target import outcome
from fuzz.targets import TARGETS
from rodtrue.capture.framing import TEXT, Item, encode_item

INPUTS = {
    "decoder": 400,
    "firmware": 400,
    "capture": 60,
    "damaged-capture": 40,
    "csv": 60,
    "profile": 150,
    "records": 60,
    "tables": 150,
    "calibration": 300,
}


def test_every_target_has_its_share_here() -> None:
    assert INPUTS.keys() == TARGETS.keys()


def test_a_capture_changed_again_where_it_was_changed_is_still_an_input() -> None:
    items = [Item(TEXT, 2**64 - 1, 2**32 - 1, b"said")]
    for seed in range(300):
        change_item(Random(seed), changed := list(items))
        assert all(encode_item(item) for item in changed)


@pytest.mark.parametrize("name", TARGETS)
def test_changed_inputs_are_read_or_refused_in_words(tmp_path: Path, name: str) -> None:
    target, rng = TARGETS[name], Random(20260101)
    outcomes = set()
    with target.open(tmp_path) as tell:
        for _ in range(INPUTS[name]):
            outcomes.add(outcome(tell, target.make(rng)))
    assert len(outcomes) >= 2, f"all inputs came to the same, {outcomes}: nothing is tried"
