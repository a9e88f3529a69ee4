"""The plant: linkage, valve, pump, sensors and a person's hands, seen through the converter.

`Plant.conversions` answers what the converter would read at given device times. The answer does not
depend on how the times are cut into calls: states are carried exactly, noise is drawn in sequence.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rodtrue.linkage import direct
from rodtrue.virtual import faults, sensors
from rodtrue.virtual.handle import Handle
from rodtrue.virtual.motion import TAP_HEIGHT_MM, TAP_SECONDS, Hand, Hold, Move, Push, Trajectory
from rodtrue.virtual.pump import Pump
from rodtrue.virtual.scenario import Scenario
from rodtrue.virtual.truth import Truth, draw_truth, stream
from rodtrue.virtual.valve import FirstOrder, Play, spring_rise_kpa, supplied_kpa, time_constant_s

Array = NDArray[np.float64]
Codes = NDArray[np.uint16]

HAND_PACE_MM_PER_S = 300.0
QUICKEST_MOVE_S = 0.03
TAP_KNOCK_S = TAP_SECONDS + 0.02
DRIFT_SETTLES_S = 2.0
WARM_UP_C = 3.0
WARM_UP_S = 300.0
LONGEST_STEP_US = 5_000
MOST_FILLED_STEPS = 4_096
RAIL_NOISE_RATIO = 1e-4


class Plant:
    """One virtual unit on a virtual fixture."""

    def __init__(self, scenario: Scenario, seed: int) -> None:
        self.scenario = scenario
        self._drawn = draw_truth(scenario, seed)
        self.handle = Handle(self._drawn.turn_mm, scenario.fault)
        self.hand = Hand(scenario.hand, self._drawn.rest_half_width_mm, stream(scenario, seed, "hand"))
        self._pump = Pump(self._drawn, stream(scenario, seed, "pump"))
        self._taps = stream(scenario, seed, "taps")
        self._clamp = _Clamp(self._drawn.clamp_slip_mm, stream(scenario, seed, "clamp"))
        self._noise = stream(scenario, seed, "noise")
        self._side_noise = stream(scenario, seed, "side channels")
        half_kpa = self._drawn.slope_kpa_per_mm * self._drawn.friction_mm / 2
        uneven_kpa = self._drawn.slope_kpa_per_mm * self._drawn.friction_asymmetry_mm
        self._friction = Play(half_kpa + uneven_kpa, half_kpa - uneven_kpa)
        self._lever_binding = Play(0.0, self._drawn.lever_sticks_mm)
        self._pin_binding = Play(0.0, self._drawn.pin_sticks_mm)
        self._lag = FirstOrder(self._drawn.lag_s)
        self._pressure_filter = FirstOrder(time_constant_s(sensors.ANTI_ALIAS_HZ))
        self._travel_filter = FirstOrder(time_constant_s(sensors.ANTI_ALIAS_HZ))
        self._pin: Trajectory = Hold(0.0)
        self._pin_since_us = 0
        self._lever_push: Trajectory = Hold(0.0)
        self._lever_since_us = 0
        self._tap_since_us: int | None = None
        self._hooked_since_us: int | None = None
        self._rise_kpa = 0.0
        self._last_us: int | None = None
        self._events: list[tuple[int, int, Callable[[], None]]] = []
        self._order = itertools.count()
        self._switches: list[tuple[int, bool, bool]] = [(0, False, False)]

    @property
    def rod_error_mm(self) -> float:
        """The rod's error now, with what has been turned at the adjuster."""
        return self._drawn.rod_error_mm + self.handle.rod_turns * self._drawn.turn_mm

    @property
    def truth(self) -> Truth:
        """Every hidden number, with the rod error of this moment."""
        return replace(self._drawn, rod_error_mm=self.rod_error_mm)

    def conversions(self, times_us: NDArray[np.int64]) -> Codes:
        """Return the converter's codes at device times, shape (n, 8), 12 bits each.

        times_us: shape (n,), strictly increasing and later than those of the last call.
        Raises: ValueError where they are not.
        """
        times = np.asarray(times_us, dtype=np.int64)
        if len(times) and (
            (self._last_us is not None and times[0] <= self._last_us) or np.any(np.diff(times) <= 0)
        ):
            raise ValueError("times_us must increase strictly, within a call and from call to call")
        pieces = [np.empty((0, sensors.CHANNELS), dtype=np.uint16)]
        start = 0
        while start < len(times):
            self._act(int(times[start]))
            stop = len(times)
            if self._events:
                stop = int(np.searchsorted(times, self._events[0][0]))
            pieces.append(self._convert(times[start:stop]))
            start = stop
        return np.concatenate(pieces)

    def samples(self, rate_hz: int, seconds: float) -> Codes:
        """Return sample codes, shape (m, 2): travel and pressure, made as the fixture makes them.

        Four conversions spread evenly over each period, code = 4 x their sum. Continues from the last
        conversion's period.
        """
        period_us = round(1_000_000 / rate_hz)
        start_us = 0 if self._last_us is None else self._last_us + period_us // 4
        codes = self.conversions(conversion_times_us(start_us, period_us, round(seconds * rate_hz)))
        return sample_codes(codes)

    def switches(self, times_us: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return button and foot switch, shape (n, 2), pressed or not at device times already converted."""
        changes_us = [change[0] for change in self._switches]
        states = np.array([change[1:] for change in self._switches], dtype=np.bool_)
        return states[np.searchsorted(changes_us, times_us, side="right") - 1]

    def _act(self, now_us: int) -> None:
        """Do all that is due before the conversion at `now_us`."""
        self._take_schedule()
        self._run_events(now_us)
        self._take_requests(now_us)
        self._run_events(now_us)

    def _take_schedule(self) -> None:
        scheduled, self.handle._scheduled = self.handle._scheduled, []
        for time_us, action in scheduled:
            self._at(time_us, lambda action=action: action(self.handle))

    def _at(self, time_us: int, action: Callable[[], None]) -> None:
        heapq.heappush(self._events, (time_us, next(self._order), action))

    def _run_events(self, now_us: int) -> None:
        while self._events and self._events[0][0] <= now_us:
            heapq.heappop(self._events)[2]()

    def _take_requests(self, now_us: int) -> None:
        handle = self.handle
        request, handle._pin_request = handle._pin_request, None
        if request is not None:
            self._pin = request if callable(request) else _go(handle.throttle_mm, request)
            self._pin_since_us = now_us
        push, handle._lever_request = handle._lever_request, None
        if push is not None:
            self._lever_push, self._lever_since_us = push, now_us
        taps_s, handle._tap_requests_s = handle._tap_requests_s, []
        for after_s in taps_s:
            tap_us = now_us + round(after_s * 1e6)
            self._at(tap_us, lambda tap_us=tap_us: self._begin_tap(tap_us))
            self._at(tap_us + round(TAP_KNOCK_S * 1e6), self._knock)
        if not handle.rod_hooked:
            self._hooked_since_us = None
        elif self._hooked_since_us is None:
            self._hooked_since_us = now_us
        if self._switches[-1][1:] != (handle.button, handle.foot_switch):
            self._switches.append((now_us, handle.button, handle.foot_switch))

    def _begin_tap(self, time_us: int) -> None:
        self._tap_since_us = time_us

    def _knock(self) -> None:
        """The lever has met its stop: most of the friction lets go."""
        self._friction.release(self._rise_kpa, self._drawn.tap_release, self._taps.uniform(-1.0, 1.0))

    def _convert(self, times_us: NDArray[np.int64]) -> Codes:
        """Return codes for times between which nothing is done to the handle."""
        filled_us = self._without_long_steps(times_us)
        wanted = slice(len(filled_us) - len(times_us), None)
        time_s = filled_us * 1e-6
        steps_s = np.diff(filled_us, prepend=filled_us[0] if self._last_us is None else self._last_us) * 1e-6
        self._last_us = int(filled_us[-1])

        pin_mm = self._pin_mm(filled_us)
        lever_mm = self._lever_mm(filled_us, pin_mm)
        pressure_kpa = self._pressure_kpa(filled_us, lever_mm, steps_s)
        reading_mm = self._travel_filter.follow(
            sensors.travel_reading_mm(pin_mm, self._drawn) + self._clamp.slip_mm(pin_mm), steps_s
        )
        self.handle._throttle_mm = float(pin_mm[-1])
        return self._codes(time_s[wanted], reading_mm[wanted], pressure_kpa[wanted])

    def _without_long_steps(self, times_us: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the times with instants put in before them where the converter has been idle for long.

        Friction and lag must see what moved meanwhile.
        """
        if self._last_us is None or times_us[0] - self._last_us <= LONGEST_STEP_US:
            return times_us
        gap_us = int(times_us[0]) - self._last_us
        steps = min(-(-gap_us // LONGEST_STEP_US), MOST_FILLED_STEPS)
        between = self._last_us + gap_us * np.arange(1, steps, dtype=np.int64) // steps
        return np.concatenate([between, times_us])

    def _pin_mm(self, times_us: NDArray[np.int64]) -> Array:
        """Return the pin's travel as its sensor should see it, between what stops it at either end."""
        wish = self._pin((times_us - self._pin_since_us) * 1e-6)
        low, high = direct.pin_limits_mm(
            self._rod_at_pin_mm,
            slot_length_mm=self._drawn.slot_length_mm,
            lever_full_mm=self._drawn.lever_full_mm,
            hooked=self._hooked,
        )
        pin = np.clip(wish, low if low > 0.0 else -np.inf, high)
        if self.handle.fault == faults.BINDING and not self.handle.holding_spring:
            return self._pin_binding.follow(pin)
        return pin

    @property
    def _hooked(self) -> bool:
        return self.handle.rod_hooked or self.handle.fault == faults.BASELINE_CONNECTED

    @property
    def _rod_at_pin_mm(self) -> float:
        """Rod error as the slide's pin meets it: its stop stands a little off the throttle's place."""
        return self.rod_error_mm + self._drawn.transfer_mm

    def _lever_mm(self, times_us: NDArray[np.int64], pin_mm: Array) -> Array:
        """Return the lever's travel from its stop, as an equivalent at the driving end."""
        truth, handle = self._drawn, self.handle
        if handle.fault == faults.STUCK_LEVER:
            return np.zeros_like(pin_mm)
        by_rod = direct.lever_travel_mm(
            pin_mm, self._rod_at_pin_mm, hooked=self._hooked, lever_full_mm=truth.lever_full_mm
        )
        by_hand = self._lever_push((times_us - self._lever_since_us) * 1e-6)
        lever = np.maximum(by_rod, by_hand)
        if self._tap_since_us is not None:
            tap = Push(TAP_HEIGHT_MM, rise_s=TAP_SECONDS / 2, hold_s=0.0)
            lever = np.maximum(lever, tap((times_us - self._tap_since_us) * 1e-6))
        if not self._hooked and not handle.holding_spring:
            lever = np.maximum(lever, truth.hang_mm)
        if handle.fault == faults.BINDING and not handle.holding_spring:
            lever = self._lever_binding.follow(lever)
        return lever

    def _pressure_kpa(self, times_us: NDArray[np.int64], lever_mm: Array, steps_s: Array) -> Array:
        """Return pressure at the gauge, behind its anti-alias filter, ripple included."""
        time_s = times_us * 1e-6
        spring_kpa = spring_rise_kpa(lever_mm, self._drawn)
        self._rise_kpa = float(spring_kpa[-1])
        full_kpa = self._pump.full_pressure_kpa(time_s)
        valve_kpa = supplied_kpa(self._friction.follow(spring_kpa), lever_mm, full_kpa, self._drawn)
        line_kpa = self._lag.follow(valve_kpa + self._drift_kpa(times_us), steps_s)
        return self._pressure_filter.follow(line_kpa, steps_s) + self._pump.ripple_kpa(time_s, line_kpa)

    def _drift_kpa(self, times_us: NDArray[np.int64]) -> Array:
        """Return how far the baseline has drifted since it was taken: it sets in when the rod is hooked up."""
        if self._hooked_since_us is None:
            return np.zeros(len(times_us))
        hooked_s = (times_us - self._hooked_since_us) * 1e-6
        return self._drawn.baseline_drift_kpa * -np.expm1(-hooked_s / DRIFT_SETTLES_S)

    def _codes(self, time_s: Array, reading_mm: Array, pressure_kpa: Array) -> Codes:
        """Return converter codes with noise, shape (n, 8)."""
        truth, n = self._drawn, len(time_s)
        # A sample is the mean of four conversions, so each conversion is twice as noisy.
        noise = self._noise.standard_normal((n, 2)) * np.sqrt(sensors.CONVERSIONS_PER_SAMPLE)
        side_noise = self._side_noise.standard_normal((n, 2)) * RAIL_NOISE_RATIO
        ratio = np.zeros((n, sensors.CHANNELS))
        ratio[:, sensors.TRAVEL] = sensors.travel_ratio(reading_mm + noise[:, 0] * truth.travel_noise_mm)
        if self.handle.fault != faults.UNPLUGGED_SENSOR:
            noise_ratio = noise[:, 1] * truth.noise_kpa * sensors.LIVE_SPAN / sensors.PRESSURE_SPAN_KPA
            ratio[:, sensors.PRESSURE] = sensors.pressure_ratio(pressure_kpa, truth) + noise_ratio
        temperature_c = truth.temperature_c - WARM_UP_C * np.exp(-time_s / WARM_UP_S)
        ratio[:, sensors.THERMISTOR] = sensors.thermistor_ratio(temperature_c) + side_noise[:, 0]
        ratio[:, sensors.SUPPLY] = sensors.supply_ratio(truth.supply_v) + side_noise[:, 1]
        return sensors.converter_codes(ratio)


class _Clamp:
    """The travel sensor's clamp; a loose one slips at both ends of a sweep."""

    def __init__(self, slip_mm: float, rng: np.random.Generator) -> None:
        self._most_mm = slip_mm
        self._rng = rng
        self._slip_mm = 0.0
        self._up = False

    def slip_mm(self, pin_mm: Array) -> Array:
        """Return how far the clamp has slipped, shape (n,)."""
        if self._most_mm == 0.0:
            return np.zeros_like(pin_mm)
        slips = []
        for pin in pin_mm.tolist():
            if pin < 0.5 if self._up else pin > 30.0:
                self._up = not self._up
                self._slip_mm = float(self._rng.uniform(-self._most_mm, self._most_mm))
            slips.append(self._slip_mm)
        return np.array(slips)


def _go(from_mm: float, to_mm: float) -> Move:
    """Return the way to a set travel at a hand's pace."""
    return Move(from_mm, to_mm, max(abs(to_mm - from_mm) / HAND_PACE_MM_PER_S, QUICKEST_MOVE_S))


def conversion_times_us(start_us: int, period_us: int, samples: int) -> NDArray[np.int64]:
    """Return the device times of the conversions of `samples` samples, shape (4 x samples,)."""
    k = np.arange(samples * sensors.CONVERSIONS_PER_SAMPLE, dtype=np.int64)
    whole, part = np.divmod(k, sensors.CONVERSIONS_PER_SAMPLE)
    return start_us + whole * period_us + part * period_us // sensors.CONVERSIONS_PER_SAMPLE


def sample_codes(conversions: Codes) -> Codes:
    """Return sample codes, shape (m, 2), for conversion codes, shape (4 x m, 8): four times their sum."""
    both = conversions[:, [sensors.TRAVEL, sensors.PRESSURE]].astype(np.uint32)
    sums = both.reshape(-1, sensors.CONVERSIONS_PER_SAMPLE, 2).sum(axis=1)
    return (sums * sensors.CODES_PER_SUM).astype(np.uint16)
