"""Pressure, area and force on a valve in balance.

Source: p = F / A, the definition of pressure, and the sum of forces on a body at rest.
"""

from __future__ import annotations

KPA_MM2_PER_N = 1000.0
"""1 N on 1 mm2 is 1 MPa."""


def pressure_force_n(pressure_kpa: float, area_mm2: float) -> float:
    """Return the force of a pressure on an area, in N."""
    return pressure_kpa * area_mm2 / KPA_MM2_PER_N


def spring_force_n(preload_n: float, rate_n_per_mm: float, compressed_mm: float) -> float:
    """Return a straight spring's force in N, `compressed_mm` beyond the place where it is `preload_n`."""
    return preload_n + rate_n_per_mm * compressed_mm


def balancing_pressure_kpa(area_mm2: float, *against_n: float) -> float:
    """Return the pressure on an area that balances the sum of the forces against it, in kPa."""
    return sum(against_n) / area_mm2 * KPA_MM2_PER_N
