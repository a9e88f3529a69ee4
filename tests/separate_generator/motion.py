"""The hand: where the pin is, where the lever is held, and which step each moment belongs to.

Strokes are minimum-jerk paths (Flash and Hogan 1985: 10 s^3 - 15 s^4 + 6 s^5, from memory) whose pace is
disturbed by an Ornstein-Uhlenbeck process, with pauses, and with band-passed tremor added off the stop.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfiltfilt

from separate_generator.case import Case

Array = NDArray[np.float64]
STEPS = ("", "zero", "baseline", "response", "sweep", "adjusted")
UNTOUCHED = -1.0e9
"""Lever hand position where nobody holds the lever: below any stop."""


@dataclass
class Motion:
    """The run against time; all arrays of shape (n,).

    pin_mm: on the stop's own scale (0 on the stop). hand_mm: lever held by hand, from the lever start.
    hooked: the rod is on the pin. step: index into STEPS. stroke: number of the stroke, -1 at rest.
    rod_error_mm: the rod's error as it is at that moment, scatter from stroke to stroke included.
    """

    pin_mm: Array
    hand_mm: Array
    hooked: NDArray[np.bool_]
    step: NDArray[np.uint8]
    stroke: NDArray[np.int64]
    rod_error_mm: Array


def minimum_jerk(phase: Array) -> Array:
    return phase**3 * (10.0 + phase * (-15.0 + 6.0 * phase))


class Hand:
    """Appends piece after piece of the run at the internal rate."""

    def __init__(self, case: Case, rate_hz: float, rng: np.random.Generator) -> None:
        self.case, self.rate_hz, self.rng = case, rate_hz, rng
        self.pieces: list[Motion] = []
        self.rod_error_mm = case.rod_error_mm if case.adjusted_from_mm is None else case.adjusted_from_mm
        self.stop_mm = 0.0
        self.rest_mm = self.rest()
        self.strokes = 0

    def rest(self) -> float:
        jitter = self.case.rest_jitter_mm
        return self.stop_mm + float(self.rng.uniform(-jitter, jitter))

    def add(
        self,
        step: str,
        pin_mm: Array,
        *,
        hooked: bool,
        hand_mm: Array | None = None,
        stroke: int = -1,
        scatter_mm: float = 0.0,
    ) -> None:
        n = len(pin_mm)
        self.pieces.append(
            Motion(
                pin_mm,
                np.full(n, UNTOUCHED) if hand_mm is None else hand_mm,
                np.full(n, hooked),
                np.full(n, STEPS.index(step), np.uint8),
                np.full(n, stroke),
                np.full(n, self.rod_error_mm + scatter_mm),
            )
        )

    def hold(self, step: str, seconds: float, *, hooked: bool) -> None:
        """The pin rests where it came to rest."""
        self.add(step, np.full(round(seconds * self.rate_hz), self.rest_mm), hooked=hooked)

    def lever(self, step: str, top_mm: float, up_s: float, down_s: float, *, hooked: bool) -> None:
        """The lever is moved off by hand and let go; the pin stays."""
        rise = minimum_jerk(np.linspace(0.0, 1.0, round(up_s * self.rate_hz)))
        fall = minimum_jerk(np.linspace(1.0, 0.0, round(down_s * self.rate_hz)))
        if hooked:  # the rod holds the lever where it is; the hand starts from there
            top_mm += max(0.0, self.rod_error_mm)
        hand = np.concatenate([rise, fall]) * (top_mm + 3.0) - 3.0
        self.add(step, np.full(len(hand), self.rest_mm), hooked=hooked, hand_mm=hand)

    def baseline(self, *, hooked: bool) -> None:
        self.hold("baseline", 0.4, hooked=hooked)
        for _ in range(self.case.taps):
            up, down = self.rng.uniform(0.12, 0.2), self.rng.uniform(0.05, 0.09)
            self.lever("baseline", float(self.rng.uniform(2.0, 6.0)), up, down, hooked=hooked)
            self.hold("baseline", float(self.rng.uniform(0.6, 0.9)), hooked=hooked)
        self.hold("baseline", 0.5, hooked=hooked)

    def sweep(self, number: int, *, open_to_mm: float) -> None:
        """Opening, a moment at the top, closing, and the rest that follows."""
        case, start, top = self.case, self.rest_mm, open_to_mm * float(self.rng.uniform(0.96, 1.0))
        self.rest_mm = self.rest() + case.rest_offset_mm
        if case.stays_open_mm and number == case.sweeps // 2:
            self.rest_mm += case.stays_open_mm
        opening = start + (top - start) * self._share(0)
        closing = top + (self.rest_mm - top) * self._share(1)
        held = np.full(round(0.3 * self.rate_hz), top)
        path = self._trembling(np.concatenate([opening, held, closing]))
        ends = len(opening), len(opening) + len(held)
        self._add_stroke(path[: ends[0]])
        self.add("sweep", path[ends[0] : ends[1]], hooked=True)
        self._add_stroke(path[ends[1] :])
        self.hold("sweep", float(self.rng.uniform(0.5, 0.9)), hooked=True)

    def _add_stroke(self, path_mm: Array) -> None:
        scatter = float(self.rng.normal(0.0, self.case.scatter_mm))
        self.add("sweep", path_mm, hooked=True, stroke=self.strokes, scatter_mm=scatter)
        self.strokes += 1

    def _share(self, ahead: int) -> Array:
        """Share of the way gone, 0 to 1, in the stroke `ahead` of the next one."""
        durations = self.case.stroke_s
        n = round(durations[(self.strokes + ahead) % len(durations)] * self.rate_hz)
        return self._constant(n) if self.case.motion == "constant" else minimum_jerk(self._phase(n))

    def _constant(self, n: int) -> Array:
        """One speed, with 80 ms to get under way and to stop."""
        ramp = max(2, round(0.08 * self.rate_hz))
        speed = np.minimum(1.0, np.minimum(np.arange(n) + 1.0, n - np.arange(n)) / ramp)
        return np.cumsum(speed) / np.sum(speed)

    def _phase(self, n: int) -> Array:
        """Progress 0 to 1 at a pace that hesitates and sometimes stops for a moment."""
        decay = np.exp(-1.0 / (0.35 * self.rate_hz))
        drive = self.rng.normal(0.0, np.sqrt(1.0 - decay**2), n)
        pace = np.clip(1.0 + self.case.hesitation * lfilter([1.0], [1.0, -decay], drive), 0.15, None)
        if self.rng.random() < self.case.pauses:
            centre, width = self.rng.uniform(0.2, 0.8) * n, self.rng.uniform(0.2, 0.5) * self.rate_hz
            inside = np.abs(np.arange(n) - centre) < width
            pace[inside] *= 0.02
        return np.cumsum(pace) / np.sum(pace)

    def _trembling(self, path_mm: Array) -> Array:
        """Add 3-5 Hz tremor, growing over the first millimetres off the stop, which stays solid."""
        if self.case.tremor_mm == 0.0:
            return path_mm
        pad = round(self.rate_hz)
        band = butter(2, (3.0, 5.0), "bandpass", fs=self.rate_hz, output="sos")
        shake = sosfiltfilt(band, self.rng.normal(size=len(path_mm) + 2 * pad))[pad:-pad]
        shake *= self.case.tremor_mm / max(float(np.std(shake)), 1e-12)
        off = path_mm - self.stop_mm - self.case.rest_offset_mm
        return np.maximum(path_mm + shake * np.clip(off / 3.0, 0.0, 1.0), np.minimum(path_mm, self.rest_mm))


def run_motion(case: Case, rate_hz: float, rng: np.random.Generator) -> Motion:
    """Return the whole run at the internal rate: zero, baseline, response, hook up, sweeps."""
    hand = Hand(case, rate_hz, rng)
    on_pin = case.rod_on_pin_at_baseline
    if case.zero_rows:
        hand.hold("zero", 2.0, hooked=on_pin)
    if case.baseline_rows:
        hand.baseline(hooked=on_pin)
    if case.response_rows:
        hand.hold("response", 0.2, hooked=on_pin)
        hand.lever("response", 8.0, 0.6, 0.5, hooked=on_pin)
        hand.hold("response", 0.2, hooked=on_pin)
    hand.hold("", 0.4, hooked=on_pin)
    hand.rest_mm = hand.rest() + case.rest_offset_mm
    hand.hold("", 0.4, hooked=True)
    hand.hold("sweep", 1.0, hooked=True)
    if case.adjusted_from_mm is not None:
        for number in range(3):
            hand.sweep(number, open_to_mm=case.amplitude_mm)
        hand.hold("adjusted", 0.8, hooked=False)
        hand.rod_error_mm = case.rod_error_mm
        hand.hold("", 0.4, hooked=True)
        hand.hold("sweep", 0.8, hooked=True)
    for number in range(case.sweeps):
        if number == case.sweeps // 2:
            hand.rod_error_mm += case.jump_mm
            if case.rest_shift_mm:
                hand.stop_mm += case.rest_shift_mm
                hand.rest_mm = hand.rest() + case.rest_offset_mm
                hand.hold("sweep", 0.6, hooked=True)
        hand.sweep(number, open_to_mm=case.amplitude_mm)
    return Motion(*(np.concatenate(columns) for columns in zip(*map(_columns, hand.pieces), strict=True)))


def _columns(piece: Motion) -> tuple[NDArray, ...]:
    return piece.pin_mm, piece.hand_mm, piece.hooked, piece.step, piece.stroke, piece.rod_error_mm
