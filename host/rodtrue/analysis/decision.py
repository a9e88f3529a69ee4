"""The decision rule: guarded acceptance on a closed tolerance, and the probabilities beside it.

Source: JCGM 106:2012, clauses 8.3 (guard bands) and 7.4 (conformance probability of an interval).
The guard is a parameter: a published case runs with its own; a verdict uses the expanded
uncertainty. Probabilities inform and never decide.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal, Protocol, TypeVar

from scipy.special import stdtr, stdtrit

from rodtrue.model.conditions import Plan
from rodtrue.model.result import Decision, Probability, Settle

ONE_LOOK = 0.95
TWO_LOOKS = 0.975
"""With a second look allowed each takes half of the 5 % (Bonferroni), so that both together keep it."""

RodState = Literal["long", "short", "correct", "undecided"]


def decide(value: float, lower: float, upper: float, guard: float) -> RodState:
    """Return the state of a rod error against the closed tolerance [lower, upper].

    `correct` when value -+ guard lies inside, `long` or `short` when value -+ guard lies wholly
    beyond a limit, else `undecided`. All in one unit; guard 0 or more.
    Raises: ValueError: not finite, lower above upper, or a negative guard.
    """
    if not all(map(math.isfinite, (value, lower, upper, guard))):
        raise ValueError("value, limits and guard must be finite")
    if lower > upper or guard < 0:
        raise ValueError("lower must not be above upper and the guard not negative")
    if value - guard > upper:
        return "long"
    if value + guard < lower:
        return "short"
    if value - guard >= lower and value + guard <= upper:
        return "correct"
    return "undecided"


class Looked(Protocol):
    """What a look gives: at least a verdict."""

    @property
    def verdict(self) -> str: ...


Look = TypeVar("Look", bound=Looked)


def look_by_plan(plan: Plan, sweeps: int, look: Callable[[int], Look]) -> Look:
    """Return what the plan's looks give: the first after the planned sweeps, the extension's while undecided.

    sweeps: how many there are. look: judges the first so many sweeps, with the factor of `TWO_LOOKS`. A plan
    that took one look only (it was decided, or the run ended there) is repeated with one.
    """
    first = look(min(plan.sweeps, sweeps))
    further = min(plan.extended_sweeps, sweeps)
    if first.verdict == "undecided" and further > plan.sweeps and plan.looks != 1:
        return look(further)
    return first


def decide_characteristic(
    value: float | None, guard: float | None, limits: tuple[float | None, float | None]
) -> Decision:
    """Return the decision on a characteristic by the same rule; an absent limit is infinitely far.

    `not judged` where there is no value, no guard or no limit at all.
    """
    lower, upper = limits
    if value is None or guard is None or (lower is None and upper is None):
        return "not judged"
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if value - guard > high:
        return "above"
    if value + guard < low:
        return "below"
    if value - guard >= low and value + guard <= high:
        return "within"
    return "undecided"


def probabilities(
    value: float, standard_uncertainty: float, degrees_of_freedom: float, lower: float, upper: float
) -> Probability:
    """Return the probabilities of the three states for a scaled t about the value; they sum to 1.

    Raises: ValueError: standard uncertainty or degrees of freedom not above 0.
    """
    if not (standard_uncertainty > 0 and degrees_of_freedom > 0):
        raise ValueError("standard uncertainty and degrees of freedom must be above 0")
    freedom = min(degrees_of_freedom, 1e9)
    long = float(stdtr(freedom, (value - upper) / standard_uncertainty))
    short = float(stdtr(freedom, (lower - value) / standard_uncertainty))
    return Probability(long=long, short=short, correct=max(0.0, 1.0 - long - short))


def coverage_factor(probability: float, degrees_of_freedom: float) -> float:
    """Return the two-sided Student t factor for a coverage probability (0 to 1, exclusive)."""
    return float(stdtrit(min(degrees_of_freedom, 1e9), 0.5 + probability / 2))


def settle(
    value: float,
    statistical: float,
    systematic: float,
    freedom: float,
    freedom_a_sweep: int,
    sweeps: int,
    probability: float,
    limits: tuple[float, float],
    limiting_row: str | None,
    most_sweeps: int = 60,
) -> Settle:
    """Return what would decide: whether more sweeps can, and how many more.

    The value is taken to stay. The statistical standard uncertainty shrinks with the square root
    of the sweeps, and its degrees of freedom, now `freedom`, grow by `freedom_a_sweep` with each; the
    systematic one stays. mm throughout.
    """
    lower, upper = limits
    floor = coverage_factor(probability, 1e9) * systematic
    if decide(value, lower, upper, floor) == "undecided":
        return Settle(possible=False, sweeps=None, limiting_row=limiting_row)
    for total in range(sweeps, most_sweeps + 1):
        random = statistical * math.sqrt(sweeps / total)
        combined = math.hypot(random, systematic)
        then = max(1, freedom + freedom_a_sweep * (total - sweeps))
        effective = then * (combined / random) ** 4 if random > 0 else 1e9
        if decide(value, lower, upper, coverage_factor(probability, effective) * combined) != "undecided":
            return Settle(possible=True, sweeps=total - sweeps, limiting_row=limiting_row)
    return Settle(possible=True, sweeps=None, limiting_row=limiting_row)
