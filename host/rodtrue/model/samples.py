"""Samples: both channels against time, with the step of the run each one belongs to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

STEPS = ("", "zero", "baseline", "response", "sweep", "adjusted")
"""Names of a sample's step; `Samples.step` holds indices into this tuple."""

NO_STEP, ZERO, BASELINE, RESPONSE, SWEEP, ADJUSTED = range(len(STEPS))


@dataclass(frozen=True)
class Samples:
    """One capture's samples, in time order. All arrays have shape (n,).

    time_s: device time in s, strictly increasing; a missing stretch stays a gap in time.
    travel_mm: the pin's displacement, positive towards wide open, from the file's own origin.
    pressure_kpa: gauge pressure at the throttle-pressure port.
    step: uint8 index into `STEPS`.
    travel_step_mm: one step of the travel's converter, for the floor of what can be
        resolved; None where the source does not say (a CSV), then it is taken from the data.
    """

    time_s: NDArray[np.float64]
    travel_mm: NDArray[np.float64]
    pressure_kpa: NDArray[np.float64]
    step: NDArray[np.uint8]
    travel_step_mm: float | None = None

    def __post_init__(self) -> None:
        n = len(self.time_s)
        if not len(self.travel_mm) == len(self.pressure_kpa) == len(self.step) == n:
            raise ValueError("time_s, travel_mm, pressure_kpa and step must have one length")

    def __len__(self) -> int:
        return len(self.time_s)

    def where(self, mask: NDArray[np.bool_]) -> Samples:
        """Return the samples for which `mask`, shape (n,), is true."""
        return Samples(
            self.time_s[mask],
            self.travel_mm[mask],
            self.pressure_kpa[mask],
            self.step[mask],
            self.travel_step_mm,
        )
