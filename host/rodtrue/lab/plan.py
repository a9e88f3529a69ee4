"""Who measures what in which order, shuffled so that drift does not pass for a part or an operator."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random


@dataclass(frozen=True)
class PlannedReading:
    """One reading to take, in the order of the plan."""

    order: int
    operator: str
    part: str
    trial: int


def plan_study(parts: Sequence[str], operators: Sequence[str], trials: int, seed: int) -> list[PlannedReading]:
    """Return the readings of a crossed study: trial by trial, operators and parts of a trial in random order.

    Each operator has measured every part once before anyone sees a part again, so nobody remembers a value.
    """
    random = Random(seed)
    planned: list[tuple[str, str, int]] = []
    for trial in range(1, trials + 1):
        turn = list(operators)
        random.shuffle(turn)
        for operator in turn:
            order = list(parts)
            random.shuffle(order)
            planned.extend((operator, part, trial) for part in order)
    return [PlannedReading(i, *reading) for i, reading in enumerate(planned, start=1)]
