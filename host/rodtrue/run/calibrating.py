"""Taking calibration points from a fixture, and storing a calibration in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

import rodtrue_protocol as wire
from rodtrue.calibration.document import CalibratedFixture, CalibrationDocument, Point
from rodtrue.calibration.plan import Settled, Target, settled
from rodtrue.calibration.record import NOMINAL_THRESHOLD, held_record, record_of, threshold_kpa
from rodtrue.link.client import Client
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.run.words import pressure

RATE_HZ = 500
WINDOW_S = 1.0
SETTLE_LIMIT_S = 20.0
SEAL_WAIT_S = 120.0
_COLUMN = {"travel": 0, "pressure": 1}
CAUTIONS = (
    "Oil under pressure: relieve it before opening a port; never feel for a leak by hand; eye protection; hose and "
    "fittings rated above the highest point.",
    "Never load the pressure sensor, hose or standard past the lowest of their ratings.",
    "Bleed the line first: air in it stores energy and makes the reading creep.",
    "Engine off, key out: a calibration is bench work. Keep fingers out of the slide.",
)
"""Common practice, no source."""


class NotSettled(Exception):
    """The reading still moved after the longest wait."""


def take_point(client: Client, quantity: str, target: Target) -> Point:
    """Return the point at a target that has been set: waits until the reading stands, then takes a fresh mean.

    Raises: NotSettled; FixtureError where the fixture is lost.
    """
    reading = _wait_settled(client, _COLUMN[quantity])
    return Point(target.cycle, target.direction, target.value, reading.code, reading.sd_codes, reading.samples)


def fixture_of(identity: wire.Identity) -> CalibratedFixture:
    """Return which fixture it is, as it says itself."""
    kind = wire.Kind.label(identity.kind)
    if kind not in ("board", "virtual"):
        raise FixtureError(f"the fixture says it is {kind!r}", "Use a program and a firmware of one release.")
    return CalibratedFixture(
        "board" if kind == "board" else "virtual", identity.unique_id.hex(), identity.firmware_version
    )


def _wait_settled(client: Client, column: int) -> Settled:
    size = round(RATE_HZ * WINDOW_S)
    client.start(RATE_HZ)
    try:
        window: NDArray[np.uint16] = np.empty(0, np.uint16)
        stood = False
        until = client.clock() + SETTLE_LIMIT_S
        while client.clock() < until:
            for event in client.poll(0.05):
                if isinstance(event, wire.SampleBlock):
                    window = np.concatenate([window, event.codes[:, column]])[-size:]
            found = settled(window) if len(window) == size else None
            if found is None:
                continue
            if stood:
                return found
            # What stands within the noise may still creep a little: one window more, all of it new.
            stood, window = True, window[:0]
    finally:
        client.stop()
    raise NotSettled


@dataclass(frozen=True)
class Stored:
    """What the fixture holds now. written: false where it held just that already, and nothing was done."""

    generation: int
    written: bool


def store(
    client: Client,
    identity: wire.Identity,
    document: CalibrationDocument,
    *,
    over_pressure_kpa: float | None,
    say: Callable[[str], None],
    hold_button: Callable[[bool], None] | None = None,
) -> Stored:
    """Write a calibration into the fixture once its button has opened the seal, read it back and compare.

    The fixture counts its calibrations one by one, and its number is the document's: what certificate, fixture and
    captures say is one and the same. Where it holds this very calibration already, nothing is written.
    over_pressure_kpa: above it the fixture sounds at once; None to keep the threshold it holds, nominal where it
    holds none. hold_button: presses a virtual fixture's button; None where a person does.
    Raises: InputError: a calibration of another fixture, one that is not the fixture's next (`next_number`), a
    threshold the sensor cannot show. FixtureError: the seal stayed closed, the storage failed, or what was read back
    differs.
    """
    refuse_other_fixture(document.fixture, identity)
    held = client.read_calibration()
    if over_pressure_kpa is None and held is not None:
        over_pressure_kpa = threshold_kpa(_record(held))
    data = wire.encode_calibration(record_of(document, over_pressure_kpa))
    if held is not None and (held.generation, _but_threshold(held.data)) == (
        document.generation, _but_threshold(data)
    ):
        if held.data == data:
            return Stored(held.generation, written=False)
        raise InputError(
            f"the fixture holds this calibration already, as number {held.generation}, with another over-pressure "
            "threshold",
            "--renumber stores it anew under the next number, with a certificate that says so.",
        )
    _refuse_other_number(document, held)
    say(f"The fixture sounds at once above {threshold_words(over_pressure_kpa)}.")
    say("Hold the fixture's button for 2 s and release it; the calibration is written within 10 s of that.")
    _open_seal(client, hold_button)
    client.write_calibration(document.generation, data)
    now = client.read_calibration()
    if now is None or (now.generation, now.data) != (document.generation, data):
        raise FixtureError(
            "the calibration read back from the fixture differs from what was written",
            "Try once more; if it fails again the board's storage is worn: replace it.",
        )
    return Stored(now.generation, written=True)


def next_number(client: Client) -> int:
    """Return the number of the fixture's next calibration: one above that of the one it holds."""
    held = client.read_calibration()
    return 1 if held is None else held.generation + 1


def refuse_other_fixture(calibrated: CalibratedFixture, identity: wire.Identity) -> None:
    """Refuse what was taken from another fixture than the one connected. Raises: InputError."""
    if calibrated.unique_id != identity.unique_id.hex():
        raise InputError(
            f"the calibration is of fixture {calibrated.unique_id}, this is {identity.unique_id.hex()}",
            "Connect that fixture, or calibrate this one.",
        )


def _but_threshold(data: bytes) -> wire.CalibrationRecord | bytes:
    """Return a record without its over-pressure threshold; data that is none as it is."""
    try:
        return replace(wire.decode_calibration(data), over_pressure_code=NOMINAL_THRESHOLD)
    except ValueError:
        return data


def _refuse_other_number(document: CalibrationDocument, held: wire.Calibration | None) -> None:
    number, above = document.generation, 0 if held is None else held.generation
    if number == above + 1:
        return
    if held is None:
        holds = "the fixture holds none yet"
    else:
        record = _but_threshold(held.data)
        done = (
            f", done {record.done_year:04d}-{record.done_month:02d}-{record.done_day:02d}"
            if isinstance(record, wire.CalibrationRecord)
            else ""
        )
        holds = f"the fixture holds {'another ' if number == above else ''}number {above}{done}"
    older = ", so this one is older" if number < above else ""
    raise InputError(
        f"this is calibration number {number}, done {document.done}; {holds}{older}",
        f"Store its number {above + 1}; or, to store this one all the same, --renumber makes it number {above + 1}, "
        "with a certificate that says so.",
    )


def threshold_words(kpa: float | None) -> str:
    """Return an over-pressure threshold for people, None being the fixture's nominal one."""
    return "its nominal threshold" if kpa is None else pressure(kpa)


def _record(held: wire.Calibration) -> wire.CalibrationRecord:
    try:
        return held_record(held.data)
    except ValueError as error:
        raise FixtureError(
            f"the calibration the fixture holds cannot be read, nor its over-pressure threshold: {error}",
            "Say the threshold: rodtrue calibrate store FILE --over-pressure KPA.",
        ) from error


def _open_seal(client: Client, hold_button: Callable[[bool], None] | None) -> None:
    hold_s = wire.TABLE.limit("seal_hold_ms") / 1000
    if hold_button is not None:
        hold_button(True)
        _pass(client, hold_s + 0.3)
        hold_button(False)
    until = client.clock() + SEAL_WAIT_S
    while client.clock() < until:
        if client.status().flags & wire.StatusFlags.SEAL_OPEN:
            return
        client.poll(0.1)
    raise FixtureError(
        f"the button did not open the seal within {SEAL_WAIT_S:g} s; nothing was written",
        "Hold it at least 2 s, release it, and start again.",
    )


def _pass(client: Client, seconds: float) -> None:
    until = client.clock() + seconds
    while client.clock() < until:
        client.poll(0.05)
