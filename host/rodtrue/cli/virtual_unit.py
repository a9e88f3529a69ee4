"""Options of the unit that a virtual fixture stands on, and the calibration that fixture is given."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.gathered import gathered
from rodtrue.cli.options import FAULT_HELP, FaultWord
from rodtrue.cli.with_unit import LENGTH_HELP, rod_error_mm

if TYPE_CHECKING:
    from rodtrue.calibration.document import CalibrationDocument
    from rodtrue.model.conditions import Drive, Reference
    from rodtrue.model.profile import Profile
    from rodtrue.run.session import Session
    from rodtrue.virtual.plant import Plant

RodError = Annotated[
    float | None,
    typer.Option(
        "--rod-error",
        metavar="LENGTH",
        parser=rod_error_mm,
        help=f"Virtual: its rod's error; negative short. {LENGTH_HELP}",
    ),
]
Fault = Annotated[FaultWord | None, typer.Option("--fault", metavar="FAULT", help=f"Virtual: {FAULT_HELP}")]
Seed = Annotated[int | None, typer.Option("--seed", help="Virtual: another number draws another unit or valve body.")]
Reading = Annotated[
    int | None,
    typer.Option("--reading", metavar="N", help="Virtual: another number has another hand measure the same unit."),
]
Calibration = Annotated[
    Path | None,
    typer.Option("--calibration", metavar="FILE", help="Virtual: what `calibrate run --port virtual` wrote."),
]


@dataclass(frozen=True)
class VirtualUnit:
    """What was said of the virtual unit; None where nothing was."""

    rod_error_mm: float | None = None
    fault: FaultWord | None = None
    seed: int | None = None
    reading: int | None = None
    calibration: Path | None = None

    def refuse_at(self, port: str) -> None:
        """Raises: InputError where something is said and the port is not the virtual one."""
        from rodtrue.model.errors import InputError
        from rodtrue.run.session import VIRTUAL

        if port == VIRTUAL:
            return
        if self.calibration is not None:
            raise InputError(
                f"--calibration at port {port}: only the virtual fixture is given one for a run",
                "A board measures with the calibration it holds: rodtrue calibrate store FILE.",
            )
        options = {
            "--rod-error": self.rod_error_mm,
            "--fault": self.fault,
            "--seed": self.seed,
            "--reading": self.reading,
        }
        for option, said in options.items():
            if said is not None:
                raise InputError(
                    f"{option} at port {port}: it is of a virtual unit", "Leave it out, or add --port virtual."
                )

    def plant(self, profile: Profile, drive: Drive, reference: Reference) -> Plant:
        """Return the unit with the hand, noise and ripple of this reading: the same words make the same run."""
        from rodtrue.run.session import DEFAULT_SEED
        from rodtrue.run.virtual_unit import virtual_plant

        return virtual_plant(
            profile,
            drive,
            reference,
            rod_error_mm=self.rod_error_mm,
            fault=self.fault,
            seed=DEFAULT_SEED if self.seed is None else self.seed,
            reading=self.reading or 0,
        )

    def document(self) -> CalibrationDocument | None:
        """Return the calibration named, None where none is. Raises: InputError where it cannot be given."""
        from rodtrue.calibration.files import load_calibration
        from rodtrue.model.errors import InputError

        if self.calibration is None:
            return None
        document = load_calibration(self.calibration)
        if document.fixture.kind != "virtual" or document.generation != 1:
            raise InputError(
                f"{self.calibration}: number {document.generation} of a {document.fixture.kind}; the virtual fixture "
                "takes its own number 1",
                "Make one: rodtrue calibrate run --port virtual.",
            )
        return document


of_virtual_unit = gathered(
    "virtual",
    {
        "rod_error_mm": (RodError, None),
        "fault": (Fault, None),
        "seed": (Seed, None),
        "reading": (Reading, None),
        "calibration": (Calibration, None),
    },
    VirtualUnit,
)
"""Gives a command the options of a `VirtualUnit`."""


def give_calibration(session: Session, document: CalibrationDocument) -> None:
    """Store a calibration in a virtual fixture, as a person would in a board: its button opens the seal.

    Raises: InputError where it is another fixture's.
    """
    from rodtrue.run.calibrating import store

    assert session.plant is not None
    handle = session.plant.handle

    def hold(pressed: bool) -> None:
        handle.button = pressed

    store(
        session.client,
        session.identity,
        document,
        over_pressure_kpa=None,
        say=lambda _: None,
        hold_button=hold,
    )
