"""Reading a capture: to its last whole item, whatever became of the rest."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import rodtrue_protocol as wire
from rodtrue.bounded import MOST_DATA_BYTES, read_whole
from rodtrue.calibration.parts_budget import parts_budget, terms_of_calibration, terms_of_parts
from rodtrue.calibration.ranges import beyond_range
from rodtrue.capture.entries import LAST_HOST_TIME_US, Entry, missing_note, read_entry
from rodtrue.capture.framing import CUT_OFF, ENTRY, FIRST_LINE, RECEIVED, Damage, Item, scan_items
from rodtrue.capture.scaling import Scaling, fluid_degc, scaling_of, supply_v
from rodtrue.capture.timeline import BegunAnew, Gap, Timeline
from rodtrue.model.conditions import Beyond, CalibrationState, Conditions, Plan
from rodtrue.model.errors import InputError
from rodtrue.model.instrument import InstrumentTerms
from rodtrue.model.result import Fixture
from rodtrue.model.samples import ADJUSTED, STEPS, Samples

NOT_A_CAPTURE = "Give a capture written by `rodtrue capture`, `check` or `demo`, or a CSV file."


@dataclass(frozen=True)
class Stream:
    """The samples as received. index: int64, shape (n,), not wrapped. time_s: shape (n,), device time
    from the first sample. codes: uint16, shape (n, 2), travel and pressure. left_out_blocks: blocks behind the
    place where the fixture's samples began anew; what they belong to is not known.
    """

    index: NDArray[np.int64]
    time_s: NDArray[np.float64]
    codes: NDArray[np.uint16]
    gaps: list[Gap]
    repeated_blocks: int
    statuses: list[wire.Status]
    left_out_blocks: int = 0


@dataclass(frozen=True)
class Capture:
    """A capture as read. items: in file order. entries: the host's notes among them, in order.
    damages: stretches of the file that are no whole item. instead: a calibration to use instead of what the
    fixture held, as captures hold one.
    """

    path: Path
    items: list[Item]
    entries: list[Entry]
    damages: list[Damage] = field(default_factory=list)
    instead: dict[str, Any] | None = None

    def last(self, name: str) -> dict[str, Any]:
        """Return the fields of the newest entry of that name; empty where there is none."""
        return next((entry.fields for entry in reversed(self.entries) if entry.name == name), {})

    @cached_property
    def stream(self) -> Stream:
        """The samples as received, with the places where some are missing."""
        timeline = Timeline()
        statuses: list[wire.Status] = []
        left_out = 0
        index, time_s, codes = [np.empty(0, np.int64)], [np.empty(0)], [np.empty((0, 2), np.uint16)]
        for event in wire.Decoder().feed(self._received):
            if isinstance(event, wire.Status):
                statuses.append(event)
            if not isinstance(event, wire.SampleBlock):
                continue
            if left_out:
                left_out += 1
                continue
            try:
                placed = timeline.add(event)
            except BegunAnew:
                left_out = 1
                continue
            if placed is not None:
                index.append(placed[0] + np.arange(event.count, dtype=np.int64))
                time_s.append(placed[1])
                codes.append(event.codes)
        return Stream(
            np.concatenate(index),
            np.concatenate(time_s),
            np.concatenate(codes),
            timeline.gaps,
            timeline.repeated_blocks,
            statuses,
            left_out,
        )

    @property
    def _received(self) -> bytes:
        """All that came from the fixture, as it came."""
        return b"".join(item.payload + b"\0" for item in self.items if item.kind == RECEIVED)

    @property
    def gaps(self) -> list[Gap]:
        """Where samples are known to be missing."""
        return self.stream.gaps

    @property
    def calibration(self) -> dict[str, Any] | None:
        """The calibration to use: the one given instead, or the fixture's as read at the start; None where
        there is none.
        """
        if self.instead is not None:
            return self.instead
        held: dict[str, Any] | None = self.last("calibration").get("calibration")
        return held

    def calibrated_by(self, calibration: dict[str, Any]) -> Capture:
        """Return the capture with a calibration, as captures hold one, in place of what the fixture held.

        Raises: InputError where that calibration is of another fixture.
        """
        given = replace(self, instead=calibration)
        if given.calibration_state() == "of another fixture":
            raise InputError(
                f"capture {self.path}: taken with fixture {self.last('identity').get('unique_id')}, the calibration "
                f"is of fixture {calibration['fixture_id']}",
                "Give the calibration of the fixture that took the capture.",
            )
        return given

    @property
    def _valid_calibration(self) -> dict[str, Any] | None:
        """The calibration, unless it is of another fixture: then nominal values are the better guess."""
        return None if self.calibration_state() == "of another fixture" else self.calibration

    def samples(self, scaling: Scaling | None = None) -> Samples:
        """Return the samples in units, with the step each belongs to.

        scaling: instead of the calibration's (nominal where there is none, or one of another fixture).
        A sample at which an adjustment was noted has the step `adjusted`.
        Raises: InputError where a note is lost from among the others: it may have said where a step begins.
        """
        self._refuse_lost_note()
        chosen = scaling or scaling_of(self._valid_calibration)
        stream = self.stream
        return Samples(
            time_s=stream.time_s,
            travel_mm=chosen.travel.values(stream.codes[:, 0]),
            pressure_kpa=chosen.pressure.values(stream.codes[:, 1]),
            step=self._steps(stream.index),
            travel_step_mm=chosen.travel.converter_step,
        )

    def _refuse_lost_note(self) -> None:
        """Refuse to say what the samples are where a note that may say so is lost, or may be."""
        missing = missing_note(self.entries)
        cut_off_only = all(damage.why == CUT_OFF for damage in self.damages)
        numbered = all(entry.number is not None for entry in self.entries)
        if missing is None and (numbered or cut_off_only):
            return
        where = ", ".join(str(damage.offset) for damage in self.damages[:3])
        raise InputError(
            f"capture {self.path}: one of the run's notes is lost"
            + (f"; the file is damaged at byte {where}" if where else ""),
            "What the note said may decide the verdict: use another copy of the file. `rodtrue dump` shows the rest.",
        )

    def _steps(self, index: NDArray[np.int64]) -> NDArray[np.uint8]:
        steps = np.zeros(len(index), np.uint8)
        for entry in self.entries:
            if entry.name == "step":
                steps[np.searchsorted(index, entry.sample_index) :] = STEPS.index(entry.fields["step"])
        for entry in self.entries:
            place = np.searchsorted(index, entry.sample_index)
            if entry.name == "adjusted" and place < len(index):
                steps[place] = ADJUSTED
        return steps

    @property
    def profile(self) -> tuple[str, str] | None:
        """The profile's name and its whole TOML text, or None."""
        noted = self.last("profile")
        return (noted["profile"], noted["text"]) if noted else None

    def conditions(self) -> Conditions:
        """Return how the capture was taken. Without an answer the rod counts as unknown, not as unhooked."""
        noted = self.last("conditions")
        looks = sum(entry.name == "look" for entry in self.entries)
        plan = self.last("plan")
        statuses = self.stream.statuses
        supplies = [volts for status in statuses if (volts := supply_v(status.supply_code)) is not None]
        return Conditions(
            kind=self.fixture().kind,
            drive=noted.get("drive"),
            reference=noted.get("reference", "curb_idle"),
            rod_unhooked=self.last("rod_unhooked").get("answer"),
            baseline_assumed=False,
            plan=Plan(plan["sweeps"], plan["extended_sweeps"], looks) if plan and looks else None,
            supply_v=min(supplies) if supplies else None,
            fluid_degc=fluid_degc(statuses[-1].thermistor_code) if statuses else None,
            calibration=self.calibration_state(),
            instrument=self.instrument_terms(),
            beyond=self.beyond(),
        )

    def instrument_terms(self) -> InstrumentTerms:
        """Return what sensors and converter add to the uncertainty: the calibration's, else the parts' alone."""
        valid = self._valid_calibration
        if valid is None:
            return terms_of_parts(parts_budget())
        beyond = [found.quantity for found in self.beyond()]
        return terms_of_calibration(valid["channels"], parts_budget(), beyond)

    def beyond(self) -> tuple[Beyond, ...]:
        """Return the channels whose readings in the run's steps lie beyond the range of their calibration."""
        valid = self._valid_calibration
        if valid is None or valid.get("range") is None:
            return ()
        samples = self.samples()
        used = samples.step != 0
        return beyond_range(valid["range"], samples.travel_mm[used], samples.pressure_kpa[used])

    def calibration_state(self) -> CalibrationState:
        """Return whether the fixture's calibration holds for it and for the day of the capture."""
        calibration = self.calibration
        if calibration is None:
            return "missing"
        if calibration["fixture_id"] != self.last("identity").get("unique_id"):
            return "of another fixture"
        due, taken = calibration["due"], self.taken_at
        return "overdue" if due is not None and taken is not None and due < taken[:10] else "in order"

    def fixture(self) -> Fixture:
        """Return what delivered the samples, as it said of itself.

        Raises: InputError where the capture holds no identity: nothing then says whether a board or a
        virtual fixture made it.
        """
        identity = self.last("identity")
        if not identity:
            raise InputError(
                f"capture {self.path}: cut off before the fixture's identity, so nothing says what made it",
                "Use another capture.",
            )
        return Fixture(identity["kind"], identity["interpreter"], identity, self.calibration)

    @property
    def taken_at(self) -> str | None:
        """When the capture began, ISO 8601 in UTC."""
        if not self.items:
            return None
        began = datetime.fromtimestamp(self.items[0].host_time_us / 1e6, UTC)
        return began.isoformat(timespec="seconds")

    @property
    def cautions(self) -> list[dict[str, str]]:
        """The cautions acknowledged: code and text, each with the time of its acknowledgement."""
        return [
            {
                "code": entry.fields["code"],
                "text": entry.fields["text"],
                "acknowledged_at": entry.fields.get("acknowledged_at") or _time_of(entry),
            }
            for entry in self.entries
            if entry.name == "caution"
        ]

    @property
    def checked(self) -> list[dict[str, str]]:
        """What was answered of the checklists before the run, each item once, as it was last answered."""
        last = {(e.fields["checklist"], e.fields["item"]): e for e in self.entries if e.name == "checked"}
        return [
            {
                "checklist": entry.fields["checklist"],
                "item": entry.fields["item"],
                "text": entry.fields["text"],
                "answer": entry.fields["answer"],
                "answered_at": entry.fields.get("answered_at") or _time_of(entry),
            }
            for entry in last.values()
        ]

    @property
    def adjusted(self) -> dict[str, Any] | None:
        """What was done to the rod before these samples, as the operator said it; None where nothing was noted."""
        noted = self.last("adjusted")
        return {"moved": noted.get("moved"), "advised_mm": noted.get("advised_mm")} if noted else None


def _time_of(entry: Entry) -> str:
    return datetime.fromtimestamp(entry.host_time_us / 1e6, UTC).isoformat(timespec="seconds")


def is_capture(path: Path) -> bool:
    """Say whether a file begins as a capture does."""
    try:
        with path.open("rb") as file:
            return file.read(len(FIRST_LINE)) == FIRST_LINE
    except OSError:
        return False


def read_capture(path: Path) -> Capture:
    """Read a capture to its last whole item.

    Raises: InputError naming file and offset where it is empty, foreign, cut off within its first
    line, or cannot be read.
    """
    try:
        data = read_whole(path, MOST_DATA_BYTES)
    except OSError as error:
        raise InputError(f"capture {path}: cannot be read ({error.strerror})", "Check the name.") from error
    if not data:
        raise InputError(f"capture {path}: empty, 0 bytes", NOT_A_CAPTURE)
    if not data.startswith(FIRST_LINE):
        if FIRST_LINE.startswith(data):
            raise InputError(f"capture {path}: cut off at byte {len(data)}, within its first line", NOT_A_CAPTURE)
        same = next(i for i, (a, b) in enumerate(zip(data, FIRST_LINE, strict=False)) if a != b)
        raise InputError(
            f"capture {path}: not a capture; byte {same} differs from a capture's first line", NOT_A_CAPTURE
        )
    pieces = list(scan_items(data, len(FIRST_LINE)))
    items = [piece for piece in pieces if isinstance(piece, Item)]
    damages = [piece for piece in pieces if isinstance(piece, Damage)]
    return Capture(path, items, _entries(path, items), damages)


def _entries(path: Path, items: list[Item]) -> list[Entry]:
    """Return the notes among a capture's items. Raises: InputError: whole, but not written by this program."""
    entries = []
    for item in items:
        try:
            if item.host_time_us > LAST_HOST_TIME_US:
                raise ValueError("has a time beyond the year 9999")
            if item.kind == ENTRY:
                entries.append(read_entry(item))
        except ValueError as error:
            raise InputError(
                f"capture {path}: the item at byte {item.offset} is whole, but {error}",
                "It was not written by this version of Rodtrue: update it, or use another capture.",
            ) from error
    return entries
