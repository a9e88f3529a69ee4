"""A virtual bench to calibrate a virtual fixture on: its two sensors, a slide set by blocks, a pressure standard.

Nothing made with it is a measurement.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rodtrue.virtual import sensors
from rodtrue.virtual.converted import Converted, Times
from rodtrue.virtual.truth import Truth
from rodtrue.virtual.valve import FirstOrder, time_constant_s

Array = NDArray[np.float64]

SETTLES_S = 0.25
SIDE_NOISE_RATIO = 1e-4


@dataclass(frozen=True)
class StandardErrors:
    """Half-widths of what the bench's own standards are off (rectangular), as their certificates state them.

    block_mm, weight_kpa: of each block or weight, its own. _relative: of all of them alike.
    """

    block_mm: float = 0.003
    block_relative: float = 5e-5
    weight_kpa: float = 0.03
    weight_relative: float = 5e-4


class BenchHandle:
    """What a person at the bench does: set the slide, load the pressure standard, press the button."""

    def __init__(self) -> None:
        self.button = False
        self.foot_switch = False
        self._lock = threading.Lock()
        self._placed = (0.0, 0.0)

    def place(self, *, travel_mm: float | None = None, pressure_kpa: float | None = None) -> None:
        """Set the slide to a travel on the track, the standard to a pressure; None leaves one as it is."""
        with self._lock:
            travel, pressure = self._placed
            self._placed = (
                travel if travel_mm is None else travel_mm,
                pressure if pressure_kpa is None else pressure_kpa,
            )

    @property
    def placed(self) -> tuple[float, float]:
        """What was asked for: travel in mm, gauge pressure in kPa."""
        with self._lock:
            return self._placed


class CalibrationBench(Converted):
    """The sensors of one virtual fixture on a bench; a plant for `VirtualFixture`.

    truth: whose sensors. Raises: ValueError from `conversions` where times do not increase.
    """

    def __init__(self, truth: Truth, seed: int, standards: StandardErrors | None = None) -> None:
        super().__init__()
        self.truth = truth
        self.standards = standards or StandardErrors()
        self.handle = BenchHandle()
        self._noise = np.random.default_rng([seed, 1])
        rng = np.random.default_rng([seed, 2])
        self._relative = rng.uniform(-1.0, 1.0, 2) * (self.standards.block_relative, self.standards.weight_relative)
        self._own_rng = rng
        self._own: dict[tuple[int, float], float] = {}
        self._travel, self._pressure = FirstOrder(SETTLES_S), FirstOrder(SETTLES_S)
        corner_s = time_constant_s(sensors.ANTI_ALIAS_HZ)
        self._travel_filter, self._pressure_filter = FirstOrder(corner_s), FirstOrder(corner_s)

    def conversions(self, times_us: Times) -> NDArray[np.uint16]:
        """Return the converter's codes at device times, shape (n, 8), 12 bits each."""
        times = np.asarray(times_us, dtype=np.int64)
        before = times[0] if self._last_us is None else self._last_us
        steps_us = np.diff(times, prepend=before)
        if np.any(steps_us[1:] <= 0) or (self._last_us is not None and steps_us[0] <= 0):
            raise ValueError("times_us must increase strictly, within a call and from call to call")
        self._last_us = int(times[-1])
        self._note_switches(int(times[0]), self.handle.button, self.handle.foot_switch)
        return self._codes(steps_us * 1e-6)

    def _codes(self, steps_s: Array) -> NDArray[np.uint16]:
        unit, n = self.truth, len(steps_s)
        level = np.ones(n)
        position_mm, pressure_kpa = (
            follower.follow(level * self._realised(channel, asked), steps_s)
            for channel, (follower, asked) in enumerate(
                zip((self._travel, self._pressure), self.handle.placed, strict=True)
            )
        )
        reading_mm = self._travel_filter.follow(sensors.track_reading_mm(position_mm, unit), steps_s)
        gauge_kpa = self._pressure_filter.follow(pressure_kpa, steps_s)
        # A sample is the mean of four conversions, so each conversion is twice as noisy. No pump runs here.
        noise = self._noise.standard_normal((n, 4)) * np.sqrt(sensors.CONVERSIONS_PER_SAMPLE)
        ratio = np.zeros((n, sensors.CHANNELS))
        ratio[:, sensors.TRAVEL] = sensors.travel_ratio(reading_mm + noise[:, 0] * unit.travel_noise_mm)
        ratio[:, sensors.PRESSURE] = sensors.pressure_ratio(gauge_kpa, unit, noise[:, 1] * unit.noise_kpa)
        side = noise[:, 2:] * (SIDE_NOISE_RATIO / 2)
        ratio[:, sensors.THERMISTOR] = sensors.thermistor_ratio(np.full(n, 21.0)) + side[:, 0]
        ratio[:, sensors.SUPPLY] = sensors.supply_ratio(unit.supply_v) + side[:, 1]
        return sensors.converter_codes(ratio)

    def _realised(self, channel: int, asked: float) -> float:
        """Return what a standard makes of the value asked for: the same block is off by the same each time."""
        if asked == 0.0:
            return 0.0
        own = (self.standards.block_mm, self.standards.weight_kpa)[channel]
        key = (channel, asked)
        if key not in self._own:
            self._own[key] = float(self._own_rng.uniform(-own, own))
        return asked * (1.0 + float(self._relative[channel])) + self._own[key]
