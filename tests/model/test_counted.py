"""A count and what is counted agree."""

from __future__ import annotations

import pytest

from rodtrue.model.counted import counted


@pytest.mark.parametrize(("number", "told"), [(0, "0 sweeps"), (1, "1 sweep"), (2, "2 sweeps")])
def test_one_is_one_and_all_else_are_many(number: int, told: str) -> None:
    assert counted(number, "sweep") == told


def test_a_plural_that_an_s_does_not_make_is_named() -> None:
    assert [counted(number, "reply", "replies") for number in (1, 3)] == ["1 reply", "3 replies"]
