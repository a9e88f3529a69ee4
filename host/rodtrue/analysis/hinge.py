"""The exact least-squares hinge: two straight lines that meet, found without a starting guess.

Model `free`: y = a + b x + c max(0, x - psi). Model `flat`: the same with b = 0.
For a knot fixed in the gap between two neighbouring distinct x the best fit is two separate lines
(or a level and a line); where they cross inside that gap, the crossing is that gap's optimum.
Where they do not, the optimum of the gap lies on one of its ends, so every distinct x is a
candidate too. The candidate with the smallest residual sum of squares is the global optimum.
Source of the argument: D. J. Hudson, "Fitting segmented curves whose join points have to be
estimated", J. Am. Stat. Assoc. 61 (1966) 1097 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rodtrue.analysis.decision import coverage_factor

_Array = NDArray[np.float64]

LARGEST = 1e150
"""Beyond this a square overflows."""


@dataclass(frozen=True)
class Hinge:
    """A fitted hinge, in the units of the data.

    slope_right is the slope itself, not its change. intercept is the left line's value at x = 0.
    standard_error is the asymptotic one of the break point; interval is break point
    -+ t(0.975, n - p) times it. Both are None where the data leave no degree of freedom.
    """

    break_point: float
    standard_error: float | None
    interval: tuple[float, float] | None
    slope_left: float
    slope_right: float
    intercept: float
    rss: float
    n: int


class NoHinge(ValueError):
    """The data hold no hinge; the message says why."""


def fit_hinge(x: ArrayLike, y: ArrayLike, *, flat_left: bool = False) -> Hinge:
    """Return the least-squares hinge of y against x; rows may come in any order.

    Args: x, y: shape (n,), finite. flat_left: hold the left slope at zero.
    Raises: NoHinge: too few distinct x (3 for flat, 4 for free), or data without a bend
        (constant, on one line, or with all x but a few in one place beside these), or values too large
        to square. ValueError: unequal lengths or not finite.
    Source: standard error from the Jacobian [1, x, max(0, x-psi), -c 1(x > psi)] (Seber and Wild,
        Nonlinear Regression, 1989, chapter 9; from memory).
    """
    xs, ys = _sorted_finite(x, y)
    least = 3 if flat_left else 4
    distinct = np.flatnonzero(np.diff(xs) > 0)
    if len(distinct) + 1 < least:
        raise NoHinge(f"{len(distinct) + 1} distinct x values; a hinge needs at least {least}")

    # Scaled to the unit interval and unit range: prefix sums of squares keep their digits then.
    with np.errstate(over="ignore"):
        x0, x_scale = float(xs[0]), float(xs[-1] - xs[0])
    y0 = float(np.mean(ys))
    y_scale = float(np.max(np.abs(ys - y0)))
    if y_scale == 0.0:
        raise NoHinge("y has one value throughout: there is no bend to find")
    if not (x_scale < LARGEST and y_scale < LARGEST):
        raise NoHinge("the values are too large to square; change their unit")
    u, v = (xs - x0) / x_scale, (ys - y0) / y_scale

    knot = _best_knot(u, v, distinct, flat_left)
    # One more solve with the columns themselves: better conditioned than the running sums.
    design = _design(u, knot, flat_left)
    coefficients, *_ = np.linalg.lstsq(design, v, rcond=None)
    residual = v - design @ coefficients
    level = float(coefficients[0])
    slope_left = 0.0 if flat_left else float(coefficients[1])
    change = float(coefficients[-1])
    if abs(change) < 1e-12:
        raise NoHinge("the data lie on one line: there is no bend to find")

    rss = float(residual @ residual)
    parameters = 3 if flat_left else 4
    freedom = len(u) - parameters
    error = _standard_error(u, knot, change, rss, freedom, flat_left)
    break_point = x0 + knot * x_scale
    slope_unit = y_scale / x_scale
    standard_error = None if error is None else error * x_scale
    interval = None
    if standard_error is not None:
        reach = coverage_factor(0.95, freedom) * standard_error
        interval = (break_point - reach, break_point + reach)
    return Hinge(
        break_point=break_point,
        standard_error=standard_error,
        interval=interval,
        slope_left=slope_left * slope_unit,
        slope_right=(slope_left + change) * slope_unit,
        intercept=y0 + level * y_scale - slope_left * slope_unit * x0,
        rss=rss * y_scale**2,
        n=len(u),
    )


def _sorted_finite(x: ArrayLike, y: ArrayLike) -> tuple[_Array, _Array]:
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if xs.ndim != 1 or xs.shape != ys.shape:
        raise ValueError(f"x and y must be one-dimensional and of one length, got {xs.shape} and {ys.shape}")
    if not (np.isfinite(xs).all() and np.isfinite(ys).all()):
        raise ValueError("x and y must be finite")
    order = np.argsort(xs, kind="stable")
    return xs[order], ys[order]


def _design(u: _Array, knot: float, flat_left: bool) -> _Array:
    hinge = np.maximum(0.0, u - knot)
    columns = [np.ones_like(u), hinge] if flat_left else [np.ones_like(u), u, hinge]
    return np.column_stack(columns)


def _standard_error(u: _Array, knot: float, change: float, rss: float, freedom: int, flat_left: bool) -> float | None:
    if freedom < 1:
        return None
    jacobian = np.column_stack([_design(u, knot, flat_left), -change * (u > knot)])
    information = jacobian.T @ jacobian
    if np.linalg.cond(information) > 1e14:
        return None
    return float(np.sqrt(np.linalg.inv(information)[-1, -1] * rss / freedom))


def _best_knot(u: _Array, v: _Array, ends: NDArray[np.intp], flat_left: bool) -> float:
    """Return the knot with the smallest residual sum; `ends` holds the last index of each distinct x but the last."""
    sums = _Sums.of(u, v)
    left, right = sums.up_to(ends), sums.after(ends)
    candidates = [u[ends], _crossings(u, ends, left, right, flat_left)]
    costs = [_cost_at(candidates[0], left, right, flat_left)]
    inside = ~np.isnan(candidates[1])
    crossing_cost = np.full(len(ends), np.inf)
    crossing_cost[inside] = (left.residual(flat_left) + right.residual(False))[inside]
    costs.append(crossing_cost)
    best = [int(np.nanargmin(cost)) for cost in costs]
    winner = 0 if costs[0][best[0]] < costs[1][best[1]] else 1
    if not np.isfinite(costs[winner][best[winner]]):
        raise NoHinge("some x lie so far off that all others count as one place; look for a mistake in these")
    return float(candidates[winner][best[winner]])


@dataclass(frozen=True)
class _Sums:
    """Sums over one side of every split, each of shape (splits,)."""

    n: _Array
    x: _Array
    xx: _Array
    y: _Array
    xy: _Array
    yy: _Array

    @staticmethod
    def of(u: _Array, v: _Array) -> _Sums:
        columns = (np.ones_like(u), u, u * u, v, u * v, v * v)
        return _Sums(*(np.cumsum(column) for column in columns))

    def up_to(self, ends: NDArray[np.intp]) -> _Sums:
        return _Sums(*(getattr(self, name)[ends] for name in self.__dataclass_fields__))

    def after(self, ends: NDArray[np.intp]) -> _Sums:
        totals = {name: getattr(self, name)[-1] for name in self.__dataclass_fields__}
        return _Sums(*(totals[name] - getattr(self, name)[ends] for name in self.__dataclass_fields__))

    def line(self, flat: bool) -> tuple[_Array, _Array]:
        """Return level at x = 0 and slope of the best line (or level) of each side; nan where undetermined."""
        if flat:
            return self.y / self.n, np.zeros_like(self.y)
        spread = self.n * self.xx - self.x**2
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = np.where(spread > 1e-14 * self.n**2, (self.n * self.xy - self.x * self.y) / spread, np.nan)
        return (self.y - slope * self.x) / self.n, slope

    def residual(self, flat: bool) -> _Array:
        level, slope = self.line(flat)
        return self.yy - level * self.y - slope * self.xy


def _crossings(u: _Array, ends: NDArray[np.intp], left: _Sums, right: _Sums, flat_left: bool) -> _Array:
    """Return where each split's two lines meet, nan where that is not inside the split's own gap."""
    level_left, slope_left = left.line(flat_left)
    level_right, slope_right = right.line(False)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = (level_left - level_right) / (slope_right - slope_left)
    inside = (crossing >= u[ends]) & (crossing <= u[ends + 1])
    return np.where(inside, crossing, np.nan)


def _cost_at(knots: _Array, left: _Sums, right: _Sums, flat_left: bool) -> _Array:
    """Return the residual sum with the knot held at each distinct x."""
    total = _Sums(*(getattr(left, name) + getattr(right, name) for name in left.__dataclass_fields__))
    # Moments of h = max(0, x - knot), which is x - knot on the right side and 0 on the left.
    h = right.x - knots * right.n
    hh = right.xx - 2 * knots * right.x + knots**2 * right.n
    xh = right.xx - knots * right.x
    hy = right.xy - knots * right.y
    if flat_left:
        normal = np.stack([np.stack([total.n, h], -1), np.stack([h, hh], -1)], -2)
        moment = np.stack([total.y, hy], -1)
    else:
        normal = np.stack(
            [
                np.stack([total.n, total.x, h], -1),
                np.stack([total.x, total.xx, xh], -1),
                np.stack([h, xh, hh], -1),
            ],
            -2,
        )
        moment = np.stack([total.y, total.xy, hy], -1)
    cost = np.full(len(knots), np.inf)
    good = np.abs(np.linalg.det(normal)) > 1e-14 * total.n[0] ** normal.shape[-1]
    if good.any():
        solution = np.linalg.solve(normal[good], moment[good][..., None])[..., 0]
        cost[good] = total.yy[good] - np.sum(solution * moment[good], axis=-1)
    return cost
