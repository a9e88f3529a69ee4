"""What a judgement must know beside the samples: how the run was driven and what was answered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from rodtrue.model.instrument import InstrumentTerms

FixtureKind = Literal["board", "virtual", "csv"]
Drive = Literal["slide", "throttle", "bench"]
Reference = Literal["curb_idle", "lever_stop"]
CalibrationState = Literal["in order", "missing", "overdue", "of another fixture"]
CALIBRATION_STATES: tuple[CalibrationState, ...] = get_args(CalibrationState)


@dataclass(frozen=True)
class Plan:
    """The looks a live run took: sweeps planned for the first look, and for the one extension.

    looks: how many times the data were judged live; 0 for a capture judged once (one look at all
    its strokes).
    """

    sweeps: int = 6
    extended_sweeps: int = 12
    looks: int = 0


@dataclass(frozen=True)
class Beyond:
    """Readings beyond what their channel's calibration covers: lowest and highest of both, in mm or kPa."""

    quantity: Literal["travel", "pressure"]
    unit: Literal["mm", "kPa"]
    read: tuple[float, float]
    calibrated: tuple[float, float]


@dataclass(frozen=True)
class Conditions:
    """How a capture was taken.

    kind: what delivered the samples; copied from the fixture, never guessed.
    drive: how the pin was moved; None where a file does not say.
    reference: what travel 0 stands for.
    rod_unhooked: was the rod off the pin while zero and baseline were taken: true, false, or None
        for unknown.
    baseline_assumed: true where nobody answered and a file's baseline is taken as unhooked.
    plan: None for one look at all strokes.
    supply_v: lowest supply of the sensors during the run, fluid_degc: last fluid temperature,
    calibration: state of the calibration used; each None where the source does not say (as most CSV files).
    instrument: what sensors and converter add to the uncertainty, of the fixture's parts or its calibration;
        None where the profile's own half-widths hold (a CSV, but for one of a fixture without calibration).
    beyond: channels read beyond the range of their calibration, as far as that is known.
    """

    kind: FixtureKind = "csv"
    drive: Drive | None = None
    reference: Reference = "curb_idle"
    rod_unhooked: bool | None = True
    baseline_assumed: bool = False
    plan: Plan | None = None
    supply_v: float | None = None
    fluid_degc: float | None = None
    calibration: CalibrationState | None = None
    instrument: InstrumentTerms | None = None
    beyond: tuple[Beyond, ...] = ()
