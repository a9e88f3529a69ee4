"""Options that several commands share, with their words."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer


class DriveWord(StrEnum):
    """How the pin is moved."""

    slide = "slide"
    throttle = "throttle"
    bench = "bench"


class ReferenceWord(StrEnum):
    """What travel 0 stands for."""

    curb_idle = "curb_idle"
    lever_stop = "lever_stop"


class UnitsWord(StrEnum):
    """Which unit system comes first."""

    inch = "inch"
    metric = "metric"


class FaultWord(StrEnum):
    """Something wrong with the virtual unit or fixture."""

    binding = "binding"
    stuck_lever = "stuck-lever"
    loose_clamp = "loose-clamp"
    unplugged_sensor = "unplugged-sensor"
    low_supply = "low-supply"
    air = "air"
    wrong_intermediate_rod = "wrong-intermediate-rod"
    baseline_connected = "baseline-connected"


FAULT_HELP = "Something wrong with the unit or the fixture: " + ", ".join(FaultWord) + "."
"""Beside `metavar="FAULT"`: the list of words would not fit a terminal's line where options are named."""

PORT_HELP = (
    "auto; of several, its place in `fixture list` or its unique number; a device; a URL such as "
    "socket://HOST:PORT; or virtual."
)
PortOption = Annotated[
    str,
    typer.Option("--port", metavar="PORT", help=PORT_HELP),
]
JsonOption = Annotated[bool, typer.Option("--json", help="JSON, one document a line.")]
RateOption = Annotated[int, typer.Option("--rate", min=100, max=1000, metavar="HZ", help="Samples per second.")]
OperatorOption = Annotated[str | None, typer.Option("--operator", help="Who measures.")]
UnitOption = Annotated[str | None, typer.Option("--unit", help="What is measured: a number or name of the unit.")]
CustomerOption = Annotated[str | None, typer.Option("--customer", help="For whom: name and address.")]
LaboratoryOption = Annotated[str | None, typer.Option("--laboratory", help="Who reports: name and address.")]
OrderOption = Annotated[str | None, typer.Option("--order", help="The order's number.")]
NotesOption = Annotated[str | None, typer.Option("--notes", help="Anything else for the report.")]
UnitsOption = Annotated[
    UnitsWord, typer.Option("--units", help="The report's first unit system; inch: psi and inches, letter paper.")
]
FirstUnitsOption = Annotated[
    UnitsWord, typer.Option("--units", help="Which comes first: psi and inches, or kPa and mm.")
]
