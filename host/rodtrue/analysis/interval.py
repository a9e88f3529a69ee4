"""The statistical part of the lever start's uncertainty.

It is the largest of three: a jackknife, an autocorrelation-consistent estimate, and the resolution of the
travel. The jackknife sees scatter from stroke to stroke and lag that differs by direction, which residuals
cannot. It leaves out one stroke at a time and one sweep at a time, the larger counts: an opening and the closing
after it share slow wander. The second estimate sees wander within a stroke when strokes are few; the floor
keeps very quiet data, which repeat their quantisation, from claiming more than the converter tells.
Sources: B. Efron and C. Stein, Ann. Statist. 9 (1981) 586 (jackknife); W. Newey and K. West, Econometrica
55 (1987) 703 (Bartlett weights); JCGM 100:2008, F.2.2.1 (resolution). The first two from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rodtrue.analysis.ramp import Ramp, StrokeData, pooled_normal, solve_normal

_Array = NDArray[np.float64]

WANDER_S = 0.050


@dataclass(frozen=True)
class Spread:
    """Standard uncertainty in mm and its degrees of freedom; `of` names the estimate that won."""

    standard_uncertainty_mm: float
    degrees_of_freedom: float
    of: str


def start_spread(ramp: Ramp, period_s: float, travel_step_mm: float) -> Spread:
    """Return the statistical standard uncertainty of the middle of the onsets.

    period_s: sample period. travel_step_mm: one step of the travel's converter. Degrees of freedom: strokes
    less 2 (one direction) or less 3 (both); where the sweeps decide, sweeps less 1; at least 0.
    """
    estimates = {
        "strokes": jackknife(ramp),
        "sweeps": jackknife(ramp, by_sweep=True),
        "wander": autocorrelated(ramp, period_s),
        "resolution": travel_step_mm / math.sqrt(12),
    }
    of = max(estimates, key=lambda name: estimates[name])
    freedom = sum(stroke.used for stroke in ramp.strokes) - 1 - len(ramp.directions)
    if of == "sweeps":
        freedom = min(freedom, len(_sweeps(ramp)) - 1)
    return Spread(estimates[of], max(0, freedom), of)


def jackknife(
    ramp: Ramp, quantity: Callable[[_Array], float] | None = None, *, by_sweep: bool = False
) -> float:
    """Return the jackknife standard error of a quantity of the coefficients, strokes left out in turn.

    quantity: by default the middle of the onsets, in mm. by_sweep: leave out whole sweeps, an opening with the
    closing after it, instead of strokes.

    0 where leaving one out would empty a direction (the degrees of freedom then say so).
    """
    of = ramp.middle if quantity is None else quantity
    groups = _sweeps(ramp) if by_sweep else [[stroke] for stroke in ramp.strokes if stroke.used]
    used = [stroke for group in groups for stroke in group]
    counts = {d: sum(s.span.direction == d for s in used) for d in ramp.directions}
    if any(sum(s.span.direction == d for s in group) == counts[d] for group in groups for d in ramp.directions):
        return 0.0
    gram, moment = pooled_normal(used)
    values = []
    for group in groups:
        less_gram, less_moment = pooled_normal(group)
        values.append(of(solve_normal(gram - less_gram, moment - less_moment)))
    n = len(values)
    return float(math.sqrt((n - 1) * np.var(values)))


def _sweeps(ramp: Ramp) -> list[list[StrokeData]]:
    """Return the used strokes sweep by sweep; a sweep begins with an opening."""
    sweeps: dict[int, list[StrokeData]] = {}
    number = 0
    for stroke in ramp.strokes:
        number += stroke.span.direction == "opening"
        if stroke.used:
            sweeps.setdefault(number, []).append(stroke)
    return list(sweeps.values())


def autocorrelated(ramp: Ramp, period_s: float) -> float:
    """Return the Newey-West standard error in mm of the middle of the onsets, within strokes."""
    used = [stroke for stroke in ramp.strokes if stroke.used]
    gram, _ = pooled_normal(used)
    weight = solve_normal(gram, _gradient(ramp))
    reach = max(1, round(WANDER_S / period_s))
    total = 0.0
    for columns, residual in zip(ramp.columns, ramp.residual_kpa, strict=True):
        share = (columns @ weight) * residual
        total += float(share @ share)
        for k in range(1, min(reach, len(share))):
            total += 2 * (1 - k / reach) * float(share[k:] @ share[:-k])
    return math.sqrt(max(total, 0.0))


def _gradient(ramp: Ramp) -> _Array:
    """Derivative of the middle of the onsets by each coefficient (central differences)."""
    beta = ramp.coefficients
    gradient = np.zeros(len(beta))
    for i in range(len(beta)):
        step = 1e-6 * max(abs(float(beta[i])), 1e-3)
        up, down = beta.copy(), beta.copy()
        up[i] += step
        down[i] -= step
        gradient[i] = (ramp.middle(up) - ramp.middle(down)) / (2 * step)
    return gradient
