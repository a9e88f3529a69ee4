"""Over what range a calibration holds, and what was read beyond it.

A fixture's record has no room for the range: it is taken from the calibration document, which the host keeps.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

import rodtrue_protocol as wire
from rodtrue.calibration.document import CalibrationDocument, Channel
from rodtrue.calibration.files import kept_documents
from rodtrue.calibration.record import record_of
from rodtrue.model.conditions import Beyond
from rodtrue.model.errors import InputError

Array = NDArray[np.float64]
HOST_COPY = "this computer's copy"
_HIDDEN_PERCENT = 0.5
"""Share of readings at either end that noise and ripple may put anywhere."""


def range_of(document: CalibrationDocument, source: str) -> dict[str, Any]:
    """Return a calibration's range as captures hold it: from, and by channel lowest and highest point and how far
    beyond them a reading may lie. source: where the document was found, for people.
    """
    return {"from": source, **{channel.quantity: _channel_range(channel) for channel in document.channels}}


def kept_range(held: dict[str, Any]) -> dict[str, Any] | None:
    """Return the range of a calibration read from a fixture, from the copy kept in this user's data folder.

    held: as captures hold a calibration. None where no copy with its very number, day and curves is kept here.
    """
    for document in kept_documents(held["fixture_id"]):
        try:
            data = wire.encode_calibration(record_of(document))
        except InputError:  # kept, but never fit to be stored
            continue
        same = wire.decode_calibration(data)
        curves = [(c.degree, c.r0, c.c0, c.c1, c.c2) for c in same.channels]
        if (document.generation, document.done) == (held["generation"], held["done"]) and curves == [
            (c["degree"], c["r0"], c["c0"], c["c1"], c["c2"]) for c in held["channels"]
        ]:
            return range_of(document, HOST_COPY)
    return None


def beyond_range(calibrated: dict[str, Any] | None, travel_mm: Array, pressure_kpa: Array) -> tuple[Beyond, ...]:
    """Return the channels whose readings, shape (n,), lie beyond the range of their calibration.

    A reading counts as beyond from half a step between the outermost calibrated points past the last one: nearer,
    the curve is no farther from a point than it is inside (ours, no source). calibrated: from `range_of`; None
    where nobody knows.
    """
    if calibrated is None or len(travel_mm) == 0:
        return ()
    found = []
    channels: tuple[tuple[Literal["travel", "pressure"], Literal["mm", "kPa"], Array], ...] = (
        ("travel", "mm", travel_mm),
        ("pressure", "kPa", pressure_kpa),
    )
    for quantity, unit, readings in channels:
        known = calibrated[quantity]
        low, high = (float(v) for v in np.percentile(readings, [_HIDDEN_PERCENT, 100 - _HIDDEN_PERCENT]))
        if low < known["lowest"] - known["below"] or high > known["highest"] + known["above"]:
            found.append(Beyond(quantity, unit, (low, high), (known["lowest"], known["highest"])))
    return tuple(found)


def _channel_range(channel: Channel) -> dict[str, float]:
    places = np.unique([point.reference for point in channel.points])
    return {
        "lowest": float(places[0]),
        "highest": float(places[-1]),
        "below": float(places[1] - places[0]) / 2,
        "above": float(places[-1] - places[-2]) / 2,
    }
