"""Drift watch: whether the newest value of a check standard still fits the ones before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rodtrue.lab.charts import LEAST_POINTS, individuals
from rodtrue.model.errors import InputError

LEAST_WATCHED = 8
"""Fewer values than this are not watched: the rule of eight in a row needs so many."""


@dataclass(frozen=True)
class DriftState:
    """`unknown`: nothing can be said; reasons say why. `alarm`: reasons are the run rules the newest value breaks."""

    word: Literal["ok", "alarm", "unknown"]
    reasons: tuple[str, ...] = ()


def drift_state(values: NDArray[np.float64], set_from: int) -> DriftState:
    """Return what the individuals chart's run rules say at the newest value.

    values: shape (n,), one unit, in order of time. set_from: how many of the first set centre and limits, five or
    more and fewer than all, so that the newest value never widens its own limits. Only the newest value raises the
    alarm, with the up to seven before it that a rule looks at: one bad measurement, measured again and found right,
    is past. Raises: InputError where set_from is not so.
    """
    count = len(values)
    if count < LEAST_WATCHED:
        return DriftState("unknown", (f"{count} values; from {LEAST_WATCHED} on they are watched",))
    if not LEAST_POINTS <= set_from < count:
        raise InputError(
            f"limits from the first {set_from} of {count} values",
            f"Set them from {LEAST_POINTS} or more, and leave the newest out.",
        )
    if not np.all(np.isfinite(values)):
        return DriftState("unknown", ("a value is not a number",))
    if not np.ptp(values[:set_from]) > 0:
        return DriftState("unknown", ("the values that would set the limits are all equal",))
    level = individuals(values, set_from).tracks[0]
    reasons = tuple(signal.rule for signal in level.signals if signal.point == count - 1)
    return DriftState("alarm" if reasons else "ok", reasons)
