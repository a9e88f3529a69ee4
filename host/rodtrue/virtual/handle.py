"""The one handle that steers a virtual fixture: what a person beside it would do with their hands.

Setting an attribute takes effect at the plant's next conversion. `schedule` sets a device time instead.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial

from rodtrue.model.errors import InputError
from rodtrue.model.profile import Layout
from rodtrue.virtual.faults import refuse_fault_without_layout
from rodtrue.virtual.motion import Push, Step, Trajectory

Action = Callable[["Handle"], None]
Refusal = Callable[[float, str | None], None]


@dataclass
class Requests:
    """What has been asked of the plant since its last conversion.

    pin: a travel to go to, or a trajectory to follow. taps_s: lever taps, from now. scheduled: actions
    with the device times at which they are due.
    """

    pin: float | Trajectory | None = None
    lever: Trajectory | None = None
    taps_s: list[float] = field(default_factory=list)
    scheduled: list[tuple[int, Action]] = field(default_factory=list)


class Handle:
    """Throttle, rod, spring, adjuster, fault, and the two switches.

    rod_hooked: the slotted end is on the pin. holding_spring: it holds the lever on its stop.
    rod_turns: turns of the final adjuster since the run began, positive longer; for a slip joint one turn
    stands for the scenario's `turn_mm` of slide. button, foot_switch: pressed.
    """

    def __init__(self, layout: Layout, turn_mm: float, refuse: Refusal | None = None) -> None:
        """refuse: raises InputError for turns and a fault with which the linkage does not go together."""
        self.rod_hooked = True
        self.holding_spring = False
        self._rod_turns = 0.0
        self.button = False
        self.foot_switch = False
        self._layout: Layout = layout
        self._turn_mm = turn_mm
        self._refuse = refuse
        self._fault: str | None = None
        self._throttle_mm = 0.0
        self._requests = Requests()
        # A thread may steer while another one converts: no request may fall between two hand-overs.
        self._lock = threading.Lock()

    @property
    def throttle_mm(self) -> float:
        """The pin's travel at the last conversion; set it to have the pin go there at a hand's pace.

        Setting it raises InputError for what is no finite number.
        """
        return self._throttle_mm

    @throttle_mm.setter
    def throttle_mm(self, travel_mm: float) -> None:
        if not math.isfinite(travel_mm):
            raise InputError(f"throttle_mm {travel_mm}: not a finite number", "Give a travel in mm.")
        with self._lock:
            self._requests.pin = float(travel_mm)

    @property
    def fault(self) -> str | None:
        """The fault's word, or None. Setting it raises InputError for one unknown or not of this layout."""
        return self._fault

    @fault.setter
    def fault(self, fault: str | None) -> None:
        self.set_unit(rod_turns=self._rod_turns, fault=fault)

    @property
    def rod_turns(self) -> float:
        """Turns of the adjuster. Setting them raises InputError where the linkage would not go together."""
        return self._rod_turns

    @rod_turns.setter
    def rod_turns(self, turns: float) -> None:
        self.set_unit(rod_turns=turns, fault=self._fault)

    def set_unit(self, *, rod_turns: float, fault: str | None) -> None:
        """Set both, or raise InputError and leave both: as the two setters do."""
        refuse_fault_without_layout(fault, self._layout)
        if self._refuse is not None:
            self._refuse(rod_turns, fault)
        self._rod_turns, self._fault = rod_turns, fault

    def follow(self, trajectory: Trajectory) -> None:
        """Have the pin follow a trajectory, whose time 0 is the next conversion."""
        with self._lock:
            self._requests.pin = trajectory

    def push_lever(self, trajectory: Trajectory) -> None:
        """Push the lever by hand along a trajectory, whose time 0 is the next conversion."""
        with self._lock:
            self._requests.lever = trajectory

    def show_response(self, height_mm: float = 12.0) -> None:
        """Push the lever and release it, to show that the valve responds."""
        self.push_lever(Push(height_mm))

    def tap_lever(self, after_s: float = 0.0) -> None:
        """Lift the lever a little and let it fall to its stop, `after_s` after the next conversion."""
        with self._lock:
            self._requests.taps_s.append(after_s)

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
        self.lengthen(step.lengthen_mm)

    def schedule(self, time_us: int, action: Action) -> None:
        """Have `action` done to this handle at a device time; it acts from the first conversion then on."""
        with self._lock:
            self._requests.scheduled.append((time_us, action))

    def schedule_steps(self, steps: Sequence[Step], start_us: int) -> int:
        """Schedule the steps one after the other; return the device time at which the last one ends."""
        for step in steps:
            self.schedule(start_us, partial(_begin, step))
            start_us += round(step.seconds * 1e6)
        return start_us

    def take_requests(self) -> Requests:
        """Hand over what has been asked since the last call; for the plant alone."""
        with self._lock:
            taken, self._requests = self._requests, Requests()
        return taken

    def show_pin_at(self, travel_mm: float) -> None:
        """Note where the pin is; for the plant alone."""
        self._throttle_mm = travel_mm


def _begin(step: Step, handle: Handle) -> None:
    handle.begin(step)
