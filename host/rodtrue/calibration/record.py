"""A calibration document as the record that a fixture stores."""

from __future__ import annotations

import rodtrue_protocol as wire
from rodtrue.calibration.document import CalibrationDocument, Channel
from rodtrue.model.codes import CODE_SPAN

LAYOUT = 1
NOMINAL_THRESHOLD = 65535
_HIGHEST_CODE = 65520
REFERENCES_BYTES = 36


def record_of(document: CalibrationDocument, over_pressure_kpa: float | None = None) -> wire.CalibrationRecord:
    """Return the record to store in the fixture.

    over_pressure_kpa: above it the fixture sounds at once; None for its nominal threshold.
    """
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
    """Return the lowest sample code whose calibrated pressure lies above `pressure_kpa`."""
    curve = channel.curve
    low, high = 0, _HIGHEST_CODE
    while low < high:
        code = (low + high) // 2
        r = code / CODE_SPAN - curve.r0
        value = sum(c * r**k for k, c in enumerate(curve.coefficients))
        low, high = (low, code) if value > pressure_kpa else (code + 1, high)
    return low


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
