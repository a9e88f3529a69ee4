"""How a hand moves the pin and the lever: smooth functions of time, and the steps of a guided run.

A trajectory is called with seconds since its step began, shape (n,), and returns mm of the same shape.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rodtrue.virtual.scenario import HandRanges

Array = NDArray[np.float64]
Trajectory = Callable[[Array], Array]

EASE = 0.08
"""Share of a stroke in which the hand takes up speed, and as much in which it slows down."""
TAP_SECONDS = 0.25
UNEVEN_WAVES = 3


@dataclass(frozen=True)
class Hold:
    """Stay at one place."""

    position_mm: float

    def __call__(self, time_s: Array) -> Array:
        return np.full_like(time_s, self.position_mm)


@dataclass(frozen=True)
class Move:
    """Go from one place to another in a given time, starting and ending at rest, and stay there."""

    from_mm: float
    to_mm: float
    seconds: float

    def __call__(self, time_s: Array) -> Array:
        part = np.clip(time_s / self.seconds, 0.0, 1.0)
        return self.from_mm + (self.to_mm - self.from_mm) * part**2 * (3.0 - 2.0 * part)


@dataclass(frozen=True)
class Push:
    """Push up, hold and let go again, from the stop and back to it."""

    height_mm: float
    rise_s: float = 0.5
    hold_s: float = 0.5
    start_s: float = 0.0

    def __call__(self, time_s: Array) -> Array:
        up = Move(0.0, self.height_mm, self.rise_s)(time_s - self.start_s)
        down = Move(0.0, self.height_mm, self.rise_s)(time_s - self.start_s - self.rise_s - self.hold_s)
        return up - down


TAP = Push(3.0, rise_s=TAP_SECONDS / 2, hold_s=0.0)
"""A tap on the lever: lifted a little and let fall to its stop."""


@dataclass(frozen=True)
class Stroke:
    """One way by hand: taken up and slowed down gently, uneven in speed, with a tremor.

    unevenness: per wave k = 1, 2, 3 over the stroke, relative strength of the speed's wave, summing to
    less than 1 (the hand never turns back); phases: of these waves; tremor frequency, amplitude, phase.
    """

    from_mm: float
    to_mm: float
    seconds: float
    unevenness: tuple[float, ...]
    phases: tuple[float, ...]
    tremor_hz: float
    tremor_mm: float
    tremor_phase: float

    def __call__(self, time_s: Array) -> Array:
        part = np.clip(time_s / self.seconds, 0.0, 1.0)
        way = _eased(part)
        uneven = way.copy()
        for k, (strength, phase) in enumerate(zip(self.unevenness, self.phases, strict=True), start=1):
            wave = 2.0 * np.pi * k
            uneven += strength * (np.sin(wave * way + phase) - np.sin(phase)) / wave
        # The tremor dies out at both ends, where the stop or the grip steadies the hand.
        steady = np.clip(np.minimum(part, 1.0 - part) / 0.15, 0.0, 1.0)
        tremor = np.sin(2.0 * np.pi * self.tremor_hz * time_s + self.tremor_phase)
        return (
            self.from_mm
            + (self.to_mm - self.from_mm) * uneven
            + self.tremor_mm * steady**2 * (3.0 - 2.0 * steady) * tremor
        )


def _eased(part: Array) -> Array:
    """Return the way made, 0 to 1, for the time gone, 0 to 1: even speed with soft ends."""
    first = part**2 / (2.0 * EASE)
    middle = part - EASE / 2.0
    last = 1.0 - EASE - (1.0 - part) ** 2 / (2.0 * EASE)
    way = np.where(part < EASE, first, np.where(part > 1.0 - EASE, last, middle))
    return way / (1.0 - EASE)


@dataclass(frozen=True)
class Sweep:
    """Rest, open, hold, close, rest: one sweep of the pin."""

    opening: Stroke
    closing: Stroke
    rest_s: float
    hold_s: float

    @property
    def seconds(self) -> float:
        """Duration of the whole sweep with its rests."""
        return 2 * self.rest_s + self.opening.seconds + self.hold_s + self.closing.seconds

    def __call__(self, time_s: Array) -> Array:
        opening_from = self.rest_s
        closing_from = opening_from + self.opening.seconds + self.hold_s
        return np.where(
            time_s < closing_from, self.opening(time_s - opening_from), self.closing(time_s - closing_from)
        )


@dataclass(frozen=True)
class Step:
    """One step of a guided run: what the person does, for how long.

    name: the samples' step (`rodtrue.model.samples.STEPS`). doing: in words, for whoever looks on.
    pin, lever: trajectories, or None to stay. taps_s: when the lever is tapped. lengthen_mm: change of
    rod length made at the start of the step, positive longer.
    """

    name: str
    doing: str
    seconds: float
    rod_hooked: bool
    holding_spring: bool
    pin: Trajectory
    lever: Trajectory | None = None
    taps_s: tuple[float, ...] = ()
    lengthen_mm: float = 0.0


class Hand:
    """A person's hand: draws each movement's unevenness, tremor and resting place."""

    def __init__(self, ranges: HandRanges, rest_half_width_mm: float, rng: np.random.Generator) -> None:
        self.full_travel_mm = ranges.full_travel_mm
        self._ranges = ranges
        self._rest_half_width_mm = rest_half_width_mm
        self._rng = rng
        self.resting_mm = self._rest()

    def sweep(
        self,
        seconds_opening: float,
        seconds_closing: float,
        travel_mm: float | None = None,
        *,
        rest_s: float = 0.5,
        hold_s: float = 0.5,
    ) -> Sweep:
        """Return a sweep from where the pin rests to `travel_mm` (default: all of it) and back."""
        top_mm = self.full_travel_mm if travel_mm is None else travel_mm
        opening = self.stroke(self.resting_mm, top_mm, seconds_opening)
        self.resting_mm = self._rest()
        return Sweep(opening, self.stroke(top_mm, self.resting_mm, seconds_closing), rest_s, hold_s)

    def stroke(self, from_mm: float, to_mm: float, seconds: float) -> Stroke:
        """Return one way by hand."""
        shares = self._rng.uniform(0.0, 1.0, UNEVEN_WAVES)
        strengths = shares / shares.sum() * self._rng.uniform(*self._ranges.unevenness)
        return Stroke(
            from_mm,
            to_mm,
            seconds,
            tuple(strengths.tolist()),
            tuple(self._rng.uniform(0.0, 2.0 * np.pi, UNEVEN_WAVES).tolist()),
            float(self._rng.uniform(*self._ranges.tremor_hz)),
            float(self._rng.uniform(*self._ranges.tremor_mm)),
            float(self._rng.uniform(0.0, 2.0 * np.pi)),
        )

    def _rest(self) -> float:
        return float(self._rng.uniform(-self._rest_half_width_mm, self._rest_half_width_mm))


def guided_run(
    hand: Hand,
    *,
    sweeps: int = 6,
    halves_s: Sequence[float] = (3.0, 6.0),
    travel_mm: float | None = None,
    taps: int = 4,
    rest_s: float = 0.5,
) -> list[Step]:
    """Return the steps of one run: zero, baseline with taps, response, hook up, sweeps.

    halves_s: seconds for one way, taken in turn from sweep to sweep. rest_s: before and after each sweep.
    """
    rest = Hold(hand.resting_mm)
    first_tap_s, between_taps_s = 0.6, 1.0
    steps = [
        Step("zero", "pin on its stop, rod unhooked, holding spring on", 2.5, False, True, rest),
        Step(
            "baseline",
            "lever tapped to its stop",
            first_tap_s + taps * between_taps_s,
            False,
            True,
            rest,
            taps_s=tuple(first_tap_s + k * between_taps_s for k in range(taps)),
        ),
        Step(
            "response",
            "lever pushed and released by hand",
            2.5,
            False,
            False,
            rest,
            lever=Push(12.0, start_s=0.3),
        ),
        Step("", "rod hooked up, holding spring removed", 2.0, True, False, rest),
    ]
    return steps + further_sweeps(hand, sweeps, halves_s=halves_s, travel_mm=travel_mm, rest_s=rest_s)


def further_sweeps(
    hand: Hand,
    sweeps: int,
    *,
    halves_s: Sequence[float] = (3.0, 6.0),
    travel_mm: float | None = None,
    rest_s: float = 0.5,
) -> list[Step]:
    """Return steps for sweeps only, one each, such as a live run's extension."""
    steps = []
    for k in range(sweeps):
        half_s = halves_s[k % len(halves_s)]
        sweep = hand.sweep(half_s, half_s, travel_mm, rest_s=rest_s)
        steps.append(Step("sweep", f"sweep {k + 1} of {sweeps}", sweep.seconds, True, False, sweep))
    return steps


def adjustment(hand: Hand, lengthen_mm: float, seconds: float = 2.0) -> Step:
    """Return the step in which the rod's length is changed, the pin on its stop and the engine off."""
    return Step(
        "adjusted",
        f"rod made {abs(lengthen_mm):.2f} mm {'longer' if lengthen_mm > 0 else 'shorter'}",
        seconds,
        False,
        False,
        Hold(hand.resting_mm),
        lengthen_mm=lengthen_mm,
    )
