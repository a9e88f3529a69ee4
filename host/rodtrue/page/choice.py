"""What is chosen before a run begins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rodtrue.model.conditions import Drive, Reference

VIRTUAL_PORT = "virtual"
REAL_SPEED = 1.0


@dataclass(frozen=True)
class VirtualUnit:
    """The invented unit behind a virtual fixture.

    speed: seconds of device time in one second; 1 is as on the clock. hidden: its error and fault are not shown.
    """

    rod_error_mm: float = -2.5
    fault: str | None = None
    seed: int = 1
    speed: float = REAL_SPEED
    hidden: bool = False


@dataclass(frozen=True)
class Choice:
    """port: a device name or URL, or `virtual`. profile: a shipped profile's name or a file's path.

    body_alone: on a bench, a valve body without its rods; of no account with another drive.
    serial: the valve body's own. tag: what the job is kept for, None for a customer's unit. checklists: go through
    them before the run.
    The texts are free, None where nobody said.
    """

    port: str = VIRTUAL_PORT
    profile: str = "example-direct"
    drive: Drive = "slide"
    body_alone: bool = False
    operator: str | None = None
    unit: str | None = None
    serial: str | None = None
    customer: str | None = None
    reference: str | None = None
    notes: str | None = None
    tag: str | None = None
    checklists: bool = True
    virtual: VirtualUnit = VirtualUnit()

    @property
    def is_virtual(self) -> bool:
        """Whether a virtual fixture is asked for."""
        return self.port == VIRTUAL_PORT

    @property
    def measured_from(self) -> Reference:
        """What travel 0 stands for."""
        return "lever_stop" if self.drive == "bench" and self.body_alone else "curb_idle"


Hands = Literal["mine", "helper", "autopilot"]
"""Who works a virtual unit: whoever looks at the page; the virtual hands; these and the answers too."""
