"""Closing one loop: where a rod from a given pin meets the arm of the crank it drives.

Rod and arm are the radii of two circles, about the driving pin and about the crank's pivot; the driven pin
lies where the circles meet. This is the position problem of the four-bar linkage, which Freudenstein's
equation solves in angles (Norton, Design of Machinery, chapter 4); in coordinates it has no singular angle.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Place = tuple[Array, Array]
"""x and y in mm, of equal shape."""

Assembly = Literal["open", "crossed"]
"""Which of the two meeting points: open lies left of the way from the driving pin to the crank's pivot."""

SIDES: dict[Assembly, float] = {"open": 1.0, "crossed": -1.0}
CLOSED_MM = 1e-9
"""A misfit below this is rounding."""


class LinkageError(ValueError):
    """A linkage that cannot close, or that is none this program can judge."""


def meet(
    driving: Place, rod_mm: float, pivot: tuple[float, float], arm_mm: float, assembly: Assembly, rod: str = "rod"
) -> Place:
    """Return the driven pin: `rod_mm` from the driving pin and `arm_mm` from the pivot; shape as `driving`.

    rod: its name, for the error.
    Raises: LinkageError where rod and arm do not reach, naming the rod and the greatest misfit.
    """
    to_x, to_y = pivot[0] - driving[0], pivot[1] - driving[1]
    distance = np.sqrt(to_x * to_x + to_y * to_y)
    _refuse_open_loop(rod, distance, rod_mm, arm_mm)
    # Measured from the pivot, and factored, because a rod is often as long as the distance it spans.
    along = ((distance - rod_mm) * (distance + rod_mm) + arm_mm * arm_mm) / (2.0 * distance)
    across = SIDES[assembly] * np.sqrt(np.maximum((arm_mm - along) * (arm_mm + along), 0.0))
    unit_x, unit_y = to_x / distance, to_y / distance
    return (
        pivot[0] - along * unit_x - across * unit_y,
        pivot[1] - along * unit_y + across * unit_x,
    )


def assembly_of(driving: tuple[float, float], driven: tuple[float, float], pivot: tuple[float, float]) -> Assembly:
    """Return the assembly in which a drawing shows a rod from `driving` to `driven`, a pin about `pivot`."""
    to_pivot = pivot[0] - driving[0], pivot[1] - driving[1]
    to_driven = driven[0] - driving[0], driven[1] - driving[1]
    return "open" if to_pivot[0] * to_driven[1] - to_pivot[1] * to_driven[0] >= 0.0 else "crossed"


def _refuse_open_loop(rod: str, distance: Array, rod_mm: float, arm_mm: float) -> None:
    longest, shortest = rod_mm + arm_mm, abs(rod_mm - arm_mm)
    too_far, too_near = distance - longest, shortest - distance
    misfit = np.maximum(too_far, too_near)
    # Not `any(misfit > ...)`: a place that is not a number closes nothing either.
    if np.all(misfit <= CLOSED_MM) and np.all(distance > 0.0):
        return
    worst = int(np.argmax(misfit))
    at_mm, by_mm = float(distance.flat[worst]), float(misfit.flat[worst])
    way = "far" if too_far.flat[worst] > too_near.flat[worst] else "near"
    raise LinkageError(
        f"the {rod} cannot close: its driving pin is {at_mm:.2f} mm from the pivot of the crank it drives, "
        f"{by_mm:.2f} mm too {way} (rod and arm reach from {shortest:.2f} to {longest:.2f} mm)"
    )
