"""The calibration document: everything a calibration stands on, as kept on the host.

Format `rodtrue.calibration/1`. Lengths in mm, gauge pressures in kPa, temperatures in degC, dates ISO 8601.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from rodtrue.calibration.performance import Direction, Performance

SCHEMA = "rodtrue.calibration/1"
REGRESSED = "reference value on code ratio"
"""The direction in which the working curve is fitted: it turns a code into the quantity without inversion."""


@dataclass(frozen=True)
class ReferenceStandard:
    """What the channel was compared with.

    half_width: of its error, rectangular, in the channel's unit. half_width_relative: of its error in
    proportion to the value, rectangular. traceability: to which national standard, through whom.
    """

    name: str
    half_width: float
    half_width_relative: float
    serial: str = ""
    certificate: str = ""
    traceability: str = ""
    due: str | None = None


@dataclass(frozen=True)
class Point:
    """One comparison, in the order taken. code: mean sample code (0 to 65520) over `samples` samples, sd_codes their
    standard deviation.
    """

    cycle: int
    direction: Direction
    reference: float
    code: float
    sd_codes: float
    samples: int


@dataclass(frozen=True)
class Curve:
    """value = sum of coefficients[k] (r - r0)^k, r = code / 65536; covariance of the coefficients beside it.

    Fitted to the mean of each reference point over all cycles and both directions, so that the residuals hold
    what the curve leaves and what a single standard is off; degrees of freedom accordingly.
    """

    degree: int
    r0: float
    coefficients: list[float]
    covariance: list[list[float]]
    residual_sd: float
    degrees_of_freedom: int
    regressed: str = REGRESSED


@dataclass(frozen=True)
class Estimated:
    """A value with its expanded uncertainty (95 %), reference included, and its degrees of freedom."""

    value: float
    expanded_uncertainty: float
    degrees_of_freedom: float


@dataclass(frozen=True)
class SensorErrors:
    """How the sensor departs from its nominal scaling: nominal reading regressed on the reference value.

    nominal reading - reference = offset + gain x reference + curvature x 4 t (1 - t), t = reference / full
    scale. offset, curvature in the channel's unit (curvature: what it makes at half scale, 0 for a straight
    line), gain relative.
    """

    offset: Estimated
    gain: Estimated
    curvature: Estimated


@dataclass(frozen=True)
class Channel:
    """One channel's calibration.

    scale_half_width (relative), nonlinearity_half_width (in the unit): rectangular half-widths that the
    rod error's budget takes. temperature_c: of the sensor.
    """

    quantity: Literal["travel", "pressure"]
    unit: Literal["mm", "kPa"]
    full_scale: float
    standard: ReferenceStandard
    points: list[Point]
    curve: Curve
    errors: SensorErrors
    performance: Performance
    scale_half_width: float
    nonlinearity_half_width: float
    temperature_c: float


@dataclass(frozen=True)
class Environment:
    """Where and in what it was done."""

    place: str = ""
    air_degc: float | None = None
    humidity_percent: float | None = None
    pressure_medium: str = ""


@dataclass(frozen=True)
class CalibratedFixture:
    """Which fixture. kind: as it said of itself. unique_id: hexadecimal, 16 digits."""

    kind: Literal["board", "virtual"]
    unique_id: str
    firmware_version: str = ""


@dataclass(frozen=True)
class CalibrationDocument:
    """A fixture's calibration. generation: of the fixture's store, one above what it held before.

    due: None where no next calibration is agreed.
    """

    schema: str
    fixture: CalibratedFixture
    generation: int
    done: str
    due: str | None
    operator: str
    travel: Channel
    pressure: Channel
    environment: Environment = field(default_factory=Environment)
    remarks: str = ""
    versions: dict[str, str] = field(default_factory=dict)

    @property
    def channels(self) -> tuple[Channel, Channel]:
        """Travel, then pressure."""
        return self.travel, self.pressure


def is_fixture_number(text: str) -> bool:
    """Whether a text is a fixture's own number: 16 hexadecimal digits, small letters."""
    return len(text) == 16 and all(digit in "0123456789abcdef" for digit in text)


def is_day(text: str) -> bool:
    """Whether a text is a day as ISO 8601 writes it, such as 2026-03-31."""
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
