"""What sensors and converter add to the uncertainty, wherever the figures come from: parts or a calibration."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class InstrumentTerms:
    """Rectangular half-widths, in place of a profile's own.

    source: a parts' budget, or a calibration on top of it. travel_scale, pressure_gain: relative.
    travel_near_mm: of a distance of at most `travel_near_reach_mm`; travel_far_mm: of a longer one.
    travel_constant_mm: of every distance besides (play at the pin, converter). pressure_offset_kpa: of every
    pressure. pressure_local_kpa: of a pressure against one near it, as the ramp is against the baseline.
    """

    source: Literal["parts", "calibration"]
    travel_scale: float
    travel_near_mm: float
    travel_near_reach_mm: float
    travel_far_mm: float
    travel_constant_mm: float
    pressure_gain: float
    pressure_offset_kpa: float
    pressure_local_kpa: float

    def travel_nonlinearity_mm(self, distance_mm: float) -> float:
        """Return the half-width of the travel's nonlinearity over a distance."""
        return self.travel_near_mm if abs(distance_mm) <= self.travel_near_reach_mm else self.travel_far_mm
