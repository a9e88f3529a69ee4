"""From the line into the capture: every frame as received, and the samples in units for whoever looks on."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import rodtrue_protocol as wire
from rodtrue.calibration.ranges import kept_range
from rodtrue.capture.notes import calibration_fields, identity_fields, timing_fields
from rodtrue.capture.scaling import Scaling, scaling_of
from rodtrue.capture.timeline import BegunAnew, Timeline
from rodtrue.capture.writer import CaptureWriter
from rodtrue.link.client import Client
from rodtrue.model.counted import counted
from rodtrue.model.errors import FixtureError
from rodtrue.run.live import Notice

SILENCE_S = 3.0
"""A streaming fixture that sends no new samples for so long is in trouble."""

AWAY_S = 1.0
"""A host that has not looked for so long was away."""

_RAIL_RATIO = 0.05

_Array = NDArray[np.float64]


@dataclass(frozen=True)
class Received:
    """What one poll brought. Arrays of shape (n,): device time in s from the capture's first sample,
    travel in mm from the sensor's own origin, gauge pressure in kPa. pressed: the button or the foot
    switch was pressed. notices: what must be said at once. ended: codes of notices that hold no longer.
    """

    time_s: _Array
    travel_mm: _Array
    pressure_kpa: _Array
    pressed: bool = False
    notices: list[Notice] = field(default_factory=list)
    ended: list[str] = field(default_factory=list)


class Recorder:
    """A greeted fixture and the capture being written from it.

    Raises: FixtureError from `poll` where the fixture is lost; where it has fallen silent or begun anew, from the
    next one, so that an alarm which came with that is handed over first.
    """

    def __init__(self, client: Client, identity: wire.Identity) -> None:
        self._client = client
        self.identity = identity_fields(identity)
        self.calibration = read_calibration(client)
        self._scaling: Scaling = scaling_of(self.calibration)
        self._writer: CaptureWriter | None = None
        self._timeline = Timeline()
        self._heard_at_s = self._polled_at_s = client.clock()
        self._limit_code: int | None = None
        self._trouble: FixtureError | None = None

    @property
    def next_index(self) -> int:
        """Index of the next sample to come."""
        return self._timeline.next_index

    @property
    def device_time_s(self) -> float | None:
        """Time of the newest sample in s from the capture's first one; None before that."""
        return self._timeline.time_s

    @property
    def missing_samples(self) -> int:
        """Samples known to be missing so far."""
        return sum(gap.missing for gap in self._timeline.gaps)

    def open_capture(self, path: Path, rate_hz: int) -> None:
        """Begin a capture: identity and calibration first, then the stream at `rate_hz` samples/s."""
        self._writer = CaptureWriter(path)
        self._timeline = Timeline()
        self._trouble = None
        self.note("identity", **self.identity)
        self.note("calibration", calibration=self.calibration)
        self.note("start", rate_hz=rate_hz)
        self._client.start(rate_hz)
        self._heard_at_s = self._client.clock()

    def limit_travel(self, travel_mm: float | None) -> None:
        """Have the fixture's sounder beep beyond a travel in mm from the sensor's own origin; None: no longer.

        The fixture is asked only where its limit changes.
        """
        code = None if travel_mm is None else self._scaling.travel.code(travel_mm)
        if code != self._limit_code:
            self._client.set_travel_limit(code)
            self._limit_code = code
            self.note("travel_limit", travel_mm=travel_mm, code=code)

    def close_capture(self) -> bool:
        """Stop the stream, keep what was still on its way, close; false where no capture was open.

        A fixture that is gone already does not keep the capture from being closed, nor does a disk that fails.
        Raises: InputError for such a disk.
        """
        if self._writer is None:
            return False
        timing = None
        try:
            self._client.stop()
            self._keep(self._client.poll())
            if self._trouble is not None:
                raise self._trouble
            timing = timing_fields(self._client.timing())
        except FixtureError as error:
            self.note("fixture_lost", error=error.message)
        counters = asdict(self._client.counters)
        writer = self._writer
        try:
            self.note("end", missing_samples=self.missing_samples, counters=counters, timing=timing)
        finally:
            self._writer = self._trouble = None
            writer.close()
        return True

    def note(self, name: str, first: int | None = None, **fields: Any) -> None:
        """Write an entry of the host's own, at sample `first` or at the next one; without a capture, nothing."""
        if self._writer is not None:
            self._writer.entry(name, self._wrapped(self.next_index if first is None else first), **fields)

    def poll(self, wait_s: float = 0.0) -> Received:
        """Take in and keep what has come, waiting at most `wait_s` for it."""
        if self._trouble is not None:
            raise self._trouble
        events = self._client.poll(wait_s)
        now_s = self._client.clock()
        received = self._keep(events)
        # A host that was away itself, asleep or held up, must not take its own absence for the fixture's silence.
        was_away = now_s - self._polled_at_s > AWAY_S
        self._polled_at_s = now_s
        if len(received.time_s) or was_away or self._writer is None:
            self._heard_at_s = now_s
        elif self._trouble is None and now_s - self._heard_at_s > SILENCE_S:
            self._trouble = FixtureError(
                f"the fixture has sent no samples for {SILENCE_S:g} s in the middle of a capture",
                "Check the cable, unplug the fixture and plug it in again; what was captured is kept.",
            )
        return received

    def _keep(self, events: list[wire.Event]) -> Received:
        times, codes = [np.empty(0)], [np.empty((0, 2), np.uint16)]
        notices: list[Notice] = []
        pressed = False
        for event in events:
            self._write(event)
            if isinstance(event, wire.SampleBlock):
                before = len(self._timeline.gaps)
                placed = self._place(event)
                if placed is not None:
                    times.append(placed[1])
                    codes.append(event.codes)
                if len(self._timeline.gaps) > before:
                    notices.append(_lost(self.missing_samples))
            elif isinstance(event, wire.Mark):
                pressed |= event.source in (wire.MarkSource.BUTTON, wire.MarkSource.FOOT_SWITCH)
                if event.source == wire.MarkSource.OVER_PRESSURE:
                    notices.append(_OVER_PRESSURE)
            elif isinstance(event, wire.Status) and event.flags & wire.StatusFlags.OVER_PRESSURE:
                notices.append(_OVER_PRESSURE)
        every = np.concatenate(codes)
        at_rail = _rails(every)
        notices += at_rail
        railed = {notice.code for notice in at_rail}
        ended = [code for code in _RAIL_CODES if len(every) and code not in railed]
        return Received(
            np.concatenate(times),
            self._scaling.travel.values(every[:, 0]),
            self._scaling.pressure.values(every[:, 1]),
            pressed,
            notices,
            ended,
        )

    def _place(self, block: wire.SampleBlock) -> tuple[int, _Array] | None:
        """Return index and times of a block; None for one that is repeated, or comes once the samples began anew."""
        if self._trouble is not None:
            return None
        try:
            return self._timeline.add(block)
        except BegunAnew:
            self._trouble = FixtureError(
                "the fixture's samples have begun anew in the middle of a capture: it was reset, or another program "
                "started it",
                "Close other programs, check cable and supply, and start over; what was captured is kept.",
            )
            return None

    def _write(self, event: wire.Event) -> None:
        if self._writer is None:
            return
        if isinstance(event, wire.Text):
            self._writer.text(event.data, self._wrapped(self.next_index))
        elif isinstance(event, wire.SampleBlock):
            self._writer.received(event.raw, event.index)
        elif not isinstance(event, wire.SequenceGap):
            self._writer.received(event.raw, self._wrapped(self.next_index))

    @staticmethod
    def _wrapped(index: int) -> int:
        return index % (1 << 32)


_OVER_PRESSURE = Notice(
    "pressure_over_limit",
    "stop",
    "The fixture reports pressure over its limit: stop the pump, keep away from the hose.",
)


_RAIL_CODES = ("travel_sensor_rail", "pressure_sensor_rail")


def _lost(missing: int) -> Notice:
    return Notice("samples_lost", "warning", f"{counted(missing, 'sample')} lost on the way; gaps stay gaps.")


def _rails(codes: NDArray[np.uint16]) -> list[Notice]:
    """Return a notice for each channel whose readings all lie at an end of its range."""
    if not len(codes):
        return []
    low, high = _RAIL_RATIO * 65536, (1 - _RAIL_RATIO) * 65536
    return [
        Notice(
            f"{name}_sensor_rail",
            "warning",
            f"The {name} sensor reads at the end of its range: unplugged, shorted or out of range. Keep the pin "
            "still and check the sensor's plug and lead; nothing is known from it until it reads again.",
        )
        for name, column in (("travel", codes[:, 0]), ("pressure", codes[:, 1]))
        if column.max() < low or column.min() > high
    ]


def read_calibration(client: Client) -> dict[str, Any] | None:
    """Return the fixture's calibration as captures hold it, or None where it has none.

    Its range, which the fixture cannot hold, is that of this computer's copy; None where none is kept.
    Raises: FixtureError where what is stored cannot be read.
    """
    calibration = client.read_calibration()
    if calibration is None:
        return None
    try:
        held = calibration_fields(calibration)
    except ValueError as error:
        raise FixtureError(
            f"the fixture's stored calibration cannot be read: {error}", "Calibrate the fixture again."
        ) from error
    return {**held, "range": kept_range(held)}
