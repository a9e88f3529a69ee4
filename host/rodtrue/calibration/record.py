"""A calibration document as the record that a fixture stores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple

import numpy as np

import rodtrue_protocol as wire
from rodtrue.calibration.document import CalibrationDocument, Channel
from rodtrue.model.codes import CODE_SPAN, LIVE_END, LIVE_ZERO, PRESSURE_SPAN_KPA
from rodtrue.model.errors import InputError

LAYOUT = 1
NOMINAL_THRESHOLD = 65535
_HIGHEST_CODE = 65520
REFERENCES_BYTES = 36
_BEYOND_ANY_SENSOR = 1e6
"""mm or kPa: more than a linear or a pressure sensor of this kind can mean."""


def record_of(document: CalibrationDocument, over_pressure_kpa: float | None = None) -> wire.CalibrationRecord:
    """Return the record to store in the fixture.

    over_pressure_kpa: above it the fixture sounds at once; None for its nominal threshold.
    Raises: InputError as `over_pressure_code`, and for a curve that does not rise with the sensor's output.
    """
    for channel in document.channels:
        _refuse_falling(channel)
    done, due = _day(document.done), _day(document.due)
    return wire.CalibrationRecord(
        layout=LAYOUT,
        over_pressure_code=NOMINAL_THRESHOLD
        if over_pressure_kpa is None
        else over_pressure_code(document.pressure, over_pressure_kpa),
        fixture_id=bytes.fromhex(document.fixture.unique_id),
        done_year=done[0],
        done_month=done[1],
        done_day=done[2],
        due_year=due[0],
        due_month=due[1],
        due_day=due[2],
        references=references_text(document),
        channels=tuple(_channel(channel) for channel in document.channels),
    )


def references_text(document: CalibrationDocument) -> str:
    """Return both standards in the 36 bytes a fixture keeps: certificate numbers, else names, cut to fit."""
    parts = [channel.standard.certificate or channel.standard.name for channel in document.channels]
    return "; ".join(parts).encode()[:REFERENCES_BYTES].decode(errors="ignore")


def over_pressure_code(channel: Channel, pressure_kpa: float) -> int:
    """Return the lowest sample code whose calibrated pressure lies above `pressure_kpa`.

    Raises: InputError where the sensor cannot show that pressure, so that the alarm would never end or never sound.
    """
    if not 0 < pressure_kpa <= PRESSURE_SPAN_KPA:
        raise InputError(
            f"over-pressure threshold {pressure_kpa:g} kPa: the sensor shows 0 to {PRESSURE_SPAN_KPA:g} kPa",
            "Give the lowest rating of hose, fittings and port, within that range.",
        )
    coefficients = channel.curve.coefficients
    low, high = 0, _HIGHEST_CODE
    while low < high:
        code = (low + high) // 2
        value_kpa = _value(coefficients, channel.curve.r0, code)
        low, high = (low, code) if value_kpa > pressure_kpa else (code + 1, high)
    if low == 0 or _value(coefficients, channel.curve.r0, low) <= pressure_kpa:
        raise InputError(
            f"over-pressure threshold {pressure_kpa:g} kPa: no reading of this calibration tells it from less",
            "Look at the calibration's plot; calibrate the pressure sensor again.",
        )
    return low


def held_record(data: bytes) -> wire.CalibrationRecord:
    """Return the record in what a fixture holds.

    Raises: ValueError: another layout, or numbers that no calibration of such a fixture has.
    """
    record = wire.decode_calibration(data)
    for channel, quantity in zip(record.channels, ("travel", "pressure"), strict=True):
        numbers = astuple(channel)
        if not all(abs(number) <= _BEYOND_ANY_SENSOR for number in numbers):
            raise ValueError(f"its {quantity} has numbers that no sensor gives")
        slopes = [channel.c1 + 2 * channel.c2 * (ratio - channel.r0) for ratio in (LIVE_ZERO, LIVE_END)]
        widths = (channel.scale_half_width, channel.nonlinearity_half_width, channel.residual_sd)
        if min(slopes) <= 0 or min(widths) < 0:
            raise ValueError(f"its {quantity} does not rise with the sensor's output, or has a width below 0")
    return record


def threshold_kpa(record: wire.CalibrationRecord) -> float | None:
    """Return the pressure above which a fixture with this record sounds, None for its nominal threshold.

    Half way between the last code that is silent and the first that sounds, so that `over_pressure_code` gives the
    same code again.
    """
    if record.over_pressure_code == NOMINAL_THRESHOLD:
        return None
    pressure = record.channels[1]
    return _value((pressure.c0, pressure.c1, pressure.c2), pressure.r0, record.over_pressure_code - 0.5)


def _refuse_falling(channel: Channel) -> None:
    slopes = np.polynomial.Polynomial(channel.curve.coefficients).deriv()
    ends = np.array([LIVE_ZERO, LIVE_END]) - channel.curve.r0
    if not np.all(slopes(ends) > 0):
        raise InputError(
            f"calibration of {channel.quantity}: its curve does not rise over the sensor's whole range",
            "Look at its points and its plot; calibrate again.",
        )


def _value(coefficients: Sequence[float], r0: float, code: float) -> float:
    r = code / CODE_SPAN - r0
    return sum(c * r**k for k, c in enumerate(coefficients))


def _day(text: str | None) -> tuple[int, int, int]:
    if text is None:
        return 0, 0, 0
    year, month, day = text.split("-")
    return int(year), int(month), int(day)


def _channel(channel: Channel) -> wire.ChannelCalibration:
    c0, c1, c2 = [*channel.curve.coefficients, 0.0][:3]
    return wire.ChannelCalibration(
        degree=channel.curve.degree,
        r0=channel.curve.r0,
        c0=c0,
        c1=c1,
        c2=c2,
        scale_half_width=channel.scale_half_width,
        nonlinearity_half_width=channel.nonlinearity_half_width,
        residual_sd=channel.curve.residual_sd,
        temperature_c=channel.temperature_c,
    )
