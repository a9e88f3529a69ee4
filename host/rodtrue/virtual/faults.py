"""Faults the virtual fixture can show, by the word used on the command line."""

from __future__ import annotations

from rodtrue.model.errors import InputError
from rodtrue.model.profile import Layout

BINDING = "binding"
STUCK_LEVER = "stuck-lever"
LOOSE_CLAMP = "loose-clamp"
UNPLUGGED_SENSOR = "unplugged-sensor"
LOW_SUPPLY = "low-supply"
AIR = "air"
WRONG_INTERMEDIATE_ROD = "wrong-intermediate-rod"
BASELINE_CONNECTED = "baseline-connected"

FAULTS: dict[str, str] = {
    BINDING: "the linkage sticks when closing and does not come all the way back",
    STUCK_LEVER: "the lever does not move, whatever the rod does; of a body alone, the valve",
    LOOSE_CLAMP: "the travel sensor's clamp slips from stroke to stroke",
    UNPLUGGED_SENSOR: "the pressure sensor is unplugged; its input lies on the pull-down",
    LOW_SUPPLY: "the pump delivers too little pressure",
    AIR: "air in the gauge line: sluggish, surging pressure",
    WRONG_INTERMEDIATE_ROD: "the intermediate rod of a linkage with two bell cranks is set wrong",
    BASELINE_CONNECTED: "the rod stays on the pin while zero and baseline are taken",
}

LAYOUTS_WITH_INTERMEDIATE_ROD: tuple[Layout, ...] = ("two-bell-cranks",)
OF_RODS = (WRONG_INTERMEDIATE_ROD, BASELINE_CONNECTED)
"""Those that a valve body alone, without any rod, cannot have."""


def refuse_fault_without_layout(fault: str | None, layout: Layout) -> None:
    """Refuse a fault that is unknown, or that a layout cannot have.

    Raises: InputError.
    """
    if fault is None:
        return
    if fault not in FAULTS:
        raise InputError(f"fault {fault}: not known", "Name one of: " + ", ".join(FAULTS) + ".")
    if fault == WRONG_INTERMEDIATE_ROD and layout not in LAYOUTS_WITH_INTERMEDIATE_ROD:
        raise InputError(
            f"fault {fault}: layout {layout} has no intermediate rod",
            "Layouts that have one: " + ", ".join(LAYOUTS_WITH_INTERMEDIATE_ROD) + ".",
        )
