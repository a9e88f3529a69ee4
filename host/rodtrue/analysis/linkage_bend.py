"""What the linkage's own bend does to a lever start that is carried back from the ramp.

Bell cranks turn the lever a little more or less for each further mm of the pin, so the ramp bends by geometry,
where the lever starts too, which for a long rod lies outside the sweep. The profile's kinematics know that bend:
the same curve that was fitted to the pressure is fitted to the lever's travel over the same window, and carried
back just as far. What it misses the lever start by is taken out (JCGM 100:2008, 3.2.4), half of it stays as a
budget row. Assumes the error in the final adjuster's rod and pressure in proportion to the lever's angle.
"""

from __future__ import annotations

import math

import numpy as np

from rodtrue.analysis.ramp import Ramp
from rodtrue.linkage import LinkageError, linkage_of
from rodtrue.model.profile import Profile

POINTS = 101


def start_shift_mm(profile: Profile, ramp: Ramp, start_mm: float) -> float:
    """Return what the linkage's bend moves the fitted lever start by, in mm; 0 for a direct rod.

    start_mm: the lever start as fitted. 0 as well where the profile's linkage cannot have such a start: the
    correction then names no amount.
    """
    if profile.geometry is None:
        return 0.0
    windows = ramp.windows.values()
    from_mm = float(np.mean([window.lower_mm for window in windows]))
    to_mm = float(np.mean([window.upper_mm for window in windows]))
    exact, rod = linkage_of(profile), profile.adjuster.rod
    try:
        found = exact.changed({rod: exact.length_change_mm(rod, to_rod_error_mm=-start_mm)})
        travel_mm = np.linspace(from_mm, min(to_mm, found.travel_limits_mm()[1]), POINTS)
        lever_mm = found.lever_travel_mm(travel_mm)
    except LinkageError:
        return 0.0
    curve = np.polynomial.Polynomial.fit(travel_mm, lever_mm, 2 if ramp.bends else 1)
    crossings = [float(root.real) for root in curve.roots() if math.isclose(root.imag, 0.0, abs_tol=1e-9)]
    return min((root - start_mm for root in crossings), key=abs, default=0.0)
