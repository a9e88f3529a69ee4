"""Factors of the normal distribution's range and standard deviation, calculated instead of copied from a table.

Definitions: E. S. Pearson, Biometrika 24 (1932), for mean and standard deviation of the range; W. A. Shewhart's
c4 from the gamma function. Tables of them stand in any book on statistical quality control.
"""

from __future__ import annotations

from functools import cache
from math import exp, lgamma, sqrt

import numpy as np
from scipy.stats import norm

_REACH = 9.0
_NODES = 400


@cache
def d2(size: int) -> float:
    """Mean of the range of `size` standard normal values (size 2 or more)."""
    x, weight = _nodes()
    below = norm.cdf(x)
    return float(np.sum(weight * (1 - below**size - (1 - below) ** size)))


@cache
def d3(size: int) -> float:
    """Standard deviation of the range of `size` standard normal values (size 2 or more)."""
    x, weight = _nodes()
    node, weight_of_range = np.polynomial.legendre.leggauss(200)
    # Density of the range w: n (n - 1) times the integral of phi(x) phi(x + w) (Phi(x + w) - Phi(x))^(n - 2).
    w = (node + 1) * _REACH
    above = x[:, None] + w[None, :]
    inside = norm.pdf(x)[:, None] * norm.pdf(above) * (norm.cdf(above) - norm.cdf(x)[:, None]) ** (size - 2)
    density = size * (size - 1) * (weight @ inside)
    mean_square = float(np.sum(weight_of_range * _REACH * w**2 * density))
    return sqrt(mean_square - d2(size) ** 2)


@cache
def c4(size: int) -> float:
    """Mean of the sample standard deviation of `size` standard normal values (size 2 or more)."""
    return sqrt(2 / (size - 1)) * exp(lgamma(size / 2) - lgamma((size - 1) / 2))


def d2_of_one_range(size: int) -> float:
    """The divisor that makes the square of one single range an unbiased estimate of the variance.

    It is the root of E[W^2], sqrt(d2^2 + d3^2); 1.9116 for three values, the inverse of the factor 0.5231 that
    gauge studies print.
    """
    return sqrt(d2(size) ** 2 + d3(size) ** 2)


@cache
def _nodes() -> tuple[np.ndarray, np.ndarray]:
    x = np.linspace(-_REACH, _REACH, 2 * _NODES + 1)
    weight = np.full_like(x, x[1] - x[0])
    weight[[0, -1]] /= 2
    return x, weight
