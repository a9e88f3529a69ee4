"""A linkage on a plane drawing: where pivots and pins lie at curb idle with exact rods, the lever on its stop.

Axes are the drawing's own, in mm; angles in degrees, counterclockwise from its x axis. Rod lengths are not
given: on such a drawing they are the distances between the pins.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True)
class BellCrank:
    """A crank with two arms: one driven by the rod above, the other driving the rod below."""

    pivot_mm: Point
    in_arm_mm: float
    in_arm_deg: float
    out_arm_mm: float
    out_arm_deg: float


@dataclass(frozen=True)
class LeverArm:
    """The transmission's throttle lever, on its stop."""

    pivot_mm: Point
    arm_mm: float
    arm_deg: float


@dataclass(frozen=True)
class Geometry:
    """The throttle's pin, the bell cranks from it to the transmission, and the lever.

    travel_deg: the way the pin goes towards wide open. full_travel_mm: how far it goes.
    """

    pin_mm: Point
    travel_deg: float
    full_travel_mm: float
    bell_cranks: tuple[BellCrank, ...]
    lever: LeverArm
