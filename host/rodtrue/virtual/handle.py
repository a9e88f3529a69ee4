"""The one handle that steers a virtual fixture: what a person beside it would do with their hands.

Setting an attribute takes effect at the plant's next conversion. `schedule` sets a device time instead.
"""

from __future__ import annotations

from collections.abc import Callable

from rodtrue.virtual.motion import Push, Step, Trajectory


class Handle:
    """Throttle, rod, spring, adjuster, fault, and the two switches.

    rod_hooked: the slotted end is on the pin. holding_spring: it holds the lever on its stop.
    rod_turns: turns of the adjuster since the run began, positive longer; for a slip joint one turn
    stands for the scenario's `turn_mm` of slide. fault: its word, or None. button, foot_switch: pressed.
    """

    def __init__(self, turn_mm: float, fault: str | None) -> None:
        self.rod_hooked = True
        self.holding_spring = False
        self.rod_turns = 0.0
        self.fault = fault
        self.button = False
        self.foot_switch = False
        self._turn_mm = turn_mm
        self._throttle_mm = 0.0
        self._pin_request: float | Trajectory | None = None
        self._lever_request: Trajectory | None = None
        self._tap_requests_s: list[float] = []
        self._scheduled: list[tuple[int, Callable[[Handle], None]]] = []

    @property
    def throttle_mm(self) -> float:
        """The pin's travel at the last conversion; set it to have the pin go there at a hand's pace."""
        return self._throttle_mm

    @throttle_mm.setter
    def throttle_mm(self, travel_mm: float) -> None:
        self._pin_request = float(travel_mm)

    def follow(self, trajectory: Trajectory) -> None:
        """Have the pin follow a trajectory, whose time 0 is the next conversion."""
        self._pin_request = trajectory

    def push_lever(self, trajectory: Trajectory) -> None:
        """Push the lever by hand along a trajectory, whose time 0 is the next conversion."""
        self._lever_request = trajectory

    def show_response(self, height_mm: float = 12.0) -> None:
        """Push the lever and release it, to show that the valve responds."""
        self.push_lever(Push(height_mm))

    def tap_lever(self, after_s: float = 0.0) -> None:
        """Lift the lever a little and let it fall to its stop, `after_s` after the next conversion."""
        self._tap_requests_s.append(after_s)

    def lengthen(self, change_mm: float) -> None:
        """Make the rod longer at its adjuster by `change_mm` (negative: shorter)."""
        self.rod_turns += change_mm / self._turn_mm

    def begin(self, step: Step) -> None:
        """Begin a step of a guided run at the next conversion."""
        self.rod_hooked = step.rod_hooked
        self.holding_spring = step.holding_spring
        self.follow(step.pin)
        if step.lever is not None:
            self.push_lever(step.lever)
        for after_s in step.taps_s:
            self.tap_lever(after_s)
        if step.lengthen_mm:
            self.lengthen(step.lengthen_mm)

    def schedule(self, time_us: int, action: Callable[[Handle], None]) -> None:
        """Have `action` done to this handle at a device time: it acts at the first conversion from then on."""
        self._scheduled.append((time_us, action))
