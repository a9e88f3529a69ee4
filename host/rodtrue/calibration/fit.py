"""Straight lines and quadratics by least squares, with their covariance.

Sources: JCGM 100:2008 (GUM), H.3, for the line and its covariance; any textbook of regression for the rest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from rodtrue.model.counted import counted

Array = NDArray[np.float64]


class NoFit(ValueError):
    """The points do not determine the curve; the text says why."""


@dataclass(frozen=True)
class Fit:
    """y = c0 + c1 (x - x0) + c2 (x - x0)^2, regressed y on x, x taken as free of error.

    coefficients: shape (degree + 1,); c0 is 0 without an intercept. covariance: of the coefficients, rows and
    columns of a c0 that was not fitted are 0. r_squared: share of the variation about the mean; without an
    intercept about zero, as the NIST reference data sets have it; None where y does not vary.
    """

    x0: float
    coefficients: Array
    covariance: Array
    residual_sd: float
    r_squared: float | None
    degrees_of_freedom: int
    with_intercept: bool = True

    @property
    def standard_errors(self) -> Array:
        """Standard uncertainties of the coefficients."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), np.float64)

    @property
    def correlation(self) -> Array:
        """Correlation of the coefficients, shape (p, p); nan where one has no uncertainty."""
        errors = self.standard_errors
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(self.covariance / np.outer(errors, errors), np.float64)

    def value(self, x: ArrayLike) -> Array:
        """Return the curve at x, in its shape."""
        powers = np.asarray(x, np.float64) - self.x0
        return np.asarray(np.polynomial.polynomial.polyval(powers, self.coefficients), np.float64)

    def slope(self, x: float) -> float:
        """Return the curve's slope at x."""
        return float(np.polynomial.Polynomial(self.coefficients).deriv()(x - self.x0))

    def slope_uncertainty(self, x: float) -> float:
        """Return the standard uncertainty of the curve's slope at x."""
        powers = np.arange(len(self.coefficients))
        gradient = np.where(powers > 0, powers * (x - self.x0) ** np.maximum(powers - 1, 0), 0.0)
        return math.sqrt(max(0.0, float(gradient @ self.covariance @ gradient)))

    def curve_uncertainty(self, x: float) -> float:
        """Return the standard uncertainty of the curve at x (JCGM 100:2008, H.3.4, equation H.15)."""
        powers = (x - self.x0) ** np.arange(len(self.coefficients))
        return math.sqrt(max(0.0, float(powers @ self.covariance @ powers)))

    def further_uncertainty(self, x: float) -> float:
        """Return the standard uncertainty of one further observation at x."""
        return math.hypot(self.curve_uncertainty(x), self.residual_sd)

    def student_factor(self, probability: float = 0.95) -> float:
        """Return the two-sided Student factor of this fit's degrees of freedom."""
        return float(stats.t.ppf(0.5 + probability / 2, self.degrees_of_freedom))


def fit_polynomial(
    x: ArrayLike, y: ArrayLike, *, degree: int = 1, with_intercept: bool = True, x0: float = 0.0
) -> Fit:
    """Return the least-squares line (degree 1) or quadratic (degree 2) of y on x, in powers of (x - x0).

    x, y: shape (n,), any order. with_intercept: false holds the curve at 0 where x = x0.
    Raises: NoFit: unequal lengths, not finite, too few points, or too few different x.
    """
    xs, ys = np.asarray(x, np.float64), np.asarray(y, np.float64)
    first_power = 0 if with_intercept else 1
    unknowns = degree + 1 - first_power
    _refuse(xs, ys, degree, unknowns, with_intercept, x0)
    # Centred and scaled, so that the digits hold however far x0 lies from the points.
    middle = float(xs.mean()) if with_intercept else x0
    scale = float(np.abs(xs - middle).max())
    powers = np.arange(first_power, degree + 1)
    design = ((xs - middle) / scale)[:, None] ** powers
    q, r = np.linalg.qr(design)
    solved = np.linalg.solve(r, q.T @ ys)
    # One step of refinement with the residuals: the last digits of a line far from its origin.
    solved += np.linalg.solve(r, q.T @ (ys - design @ solved))
    residuals = ys - design @ solved
    freedom = len(xs) - unknowns
    variance = float(residuals @ residuals) / freedom
    inverse = np.linalg.inv(r)
    to_powers = _about(x0, middle, scale, degree)[:, first_power:]
    covariance = to_powers @ (variance * inverse @ inverse.T) @ to_powers.T
    about = ys - ys.mean() if with_intercept else ys
    variation = float(about @ about)
    return Fit(
        x0=x0,
        coefficients=to_powers @ solved,
        covariance=covariance,
        residual_sd=math.sqrt(variance),
        r_squared=None if variation == 0 else 1 - float(residuals @ residuals) / variation,
        degrees_of_freedom=freedom,
        with_intercept=with_intercept,
    )


def _about(x0: float, middle: float, scale: float, degree: int) -> Array:
    """Return the matrix from coefficients in ((x - middle) / scale) to those in (x - x0), by binomials."""
    shift = x0 - middle
    matrix = np.zeros((degree + 1, degree + 1))
    for power in range(degree + 1):
        for kept in range(power + 1):
            matrix[kept, power] = math.comb(power, kept) * shift ** (power - kept) / scale**power
    return matrix


def _refuse(xs: Array, ys: Array, degree: int, unknowns: int, with_intercept: bool, x0: float) -> None:
    if degree not in (1, 2):
        raise NoFit(f"degree {degree}; only a straight line (1) or a quadratic (2) is fitted")
    if xs.ndim != 1 or xs.shape != ys.shape:
        raise NoFit(f"{xs.size} values of x and {ys.size} of y; each point needs one of both")
    if not (np.isfinite(xs).all() and np.isfinite(ys).all() and math.isfinite(x0)):
        raise NoFit("a value is not a finite number")
    if len(xs) <= unknowns:
        given = counted(len(xs), "point")
        raise NoFit(f"{given}; {unknowns + 1} are needed for {unknowns} unknowns and their uncertainty")
    places = np.unique(xs if with_intercept else xs[xs != x0])
    if len(places) < unknowns:
        what = "x is constant" if len(places) == 1 and with_intercept else f"x takes {len(places)} different values"
        raise NoFit(f"{what}; {unknowns} different ones are needed")
