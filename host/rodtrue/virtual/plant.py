"""The plant: linkage, valve, pump, sensors and a person's hands, seen through the converter.

`Plant.conversions` answers what the converter would read at given device times. The answer does not
depend on how the times are cut into calls: states are carried exactly, noise is drawn in sequence.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from rodtrue.linkage import Linkage
from rodtrue.virtual import faults, sensors
from rodtrue.virtual.clamp import Clamp
from rodtrue.virtual.converted import Codes, Converted, Times
from rodtrue.virtual.handle import Handle, Requests
from rodtrue.virtual.motion import TAP, TAP_SECONDS, Hand, Hold, Move, Trajectory
from rodtrue.virtual.pump import Pump
from rodtrue.virtual.rods import Rods, State
from rodtrue.virtual.scenario import Scenario
from rodtrue.virtual.truth import Truth, as_mounted, draw_truth, stream, with_fault, with_sensors_of
from rodtrue.virtual.valve import FirstOrder, Play, spring_rise_kpa, supplied_kpa, time_constant_s

Array = NDArray[np.float64]

HAND_PACE_MM_PER_S = 300.0
QUICKEST_MOVE_S = 0.03
KNOCK_S = TAP_SECONDS + 0.02
DRIFT_SETTLES_S = 2.0
WARM_UP_C = 3.0
WARM_UP_S = 300.0
LONGEST_STEP_US = 5_000
MOST_FILLED_STEPS = 4_096
SIDE_NOISE_RATIO = 1e-4


class Plant(Converted):
    """One virtual unit on a virtual fixture."""

    def __init__(self, scenario: Scenario, seed: int, *, sensors_of: Truth | None = None, reading: int = 0) -> None:
        """sensors_of: whose fixture measures, by default one drawn with the unit.

        reading: another number has another hand, other noise and other ripple measure the same unit.
        """
        super().__init__()
        self._rng = partial(stream, scenario, seed)
        self._scenario = scenario
        self._rods = Rods(scenario)
        drawn = draw_truth(scenario, seed)
        self._drawn = drawn if sensors_of is None else with_sensors_of(drawn, sensors_of)
        self._unit = unit = self._unit_with(None)
        self.handle = Handle(scenario.layout, unit.turn_mm, self._refuse)
        self.handle.fault = scenario.fault
        again = f", reading {reading}" if reading else ""
        self.hand = Hand(scenario.hand, unit.rest_half_width_mm, self._rng("hand" + again))
        self._noise = self._rng("noise" + again)
        self._side_noise = self._rng("side channels" + again)
        self._knocks = self._rng("knocks" + again)

        half_width_kpa = unit.slope_kpa_per_mm * unit.friction_mm / 2
        uneven_kpa = unit.slope_kpa_per_mm * unit.friction_asymmetry_mm
        self._friction = Play(half_width_kpa + uneven_kpa, half_width_kpa - uneven_kpa)
        self._pump = Pump(unit, self._rng("pump" + again))
        self._clamp = Clamp(self._rng("clamp" + again))
        self._pin_binding = Play(0.0, 0.0)
        self._lever_binding = Play(0.0, 0.0)
        self._lag = FirstOrder(unit.lag_s)
        self._pressure_filter = FirstOrder(time_constant_s(sensors.ANTI_ALIAS_HZ))
        self._travel_filter = FirstOrder(time_constant_s(sensors.ANTI_ALIAS_HZ))

        self._pin: Trajectory = Hold(0.0)
        self._pin_since_us = 0
        self._lever_push: Trajectory = Hold(0.0)
        self._lever_since_us = 0
        self._tap_since_us: int | None = None
        self._hooked_since_us: int | None = None
        self._pushed = False
        self._spring_kpa = 0.0
        self._due: list[tuple[int, int, Callable[[], None]]] = []
        self._order = itertools.count()
        self._take_fault()

    @property
    def rod_error_mm(self) -> float:
        """The rod's error now, with what has been turned at the adjuster."""
        return self._linkage.rod_error_mm

    @property
    def truth(self) -> Truth:
        """Every hidden number, with the rod error of this moment."""
        return replace(self._unit, rod_error_mm=self.rod_error_mm, lever_rate=self._linkage.lever_rate)

    def conversions(self, times_us: Times) -> Codes:
        """Return the converter's codes at device times, shape (n, 8), 12 bits each.

        times_us: shape (n,), strictly increasing and later than those of the last call.
        Raises: ValueError where they are not.
        """
        times = np.asarray(times_us, dtype=np.int64)
        if np.any(np.diff(times) <= 0) or (len(times) and self._last_us is not None and times[0] <= self._last_us):
            raise ValueError("times_us must increase strictly, within a call and from call to call")
        pieces = [np.empty((0, sensors.CHANNELS), dtype=np.uint16)]
        start = 0
        while start < len(times):
            self._act(int(times[start]))
            stop = int(np.searchsorted(times, self._due[0][0])) if self._due else len(times)
            pieces.append(self._convert(times[start:stop]))
            start = stop
        return np.concatenate(pieces)

    # What is done to the unit, at its device time.

    def _act(self, now_us: int) -> None:
        """Do all that is due before the conversion at `now_us`."""
        requests = self.handle.take_requests()
        self._take(requests, now_us)
        while self._due and self._due[0][0] <= now_us:
            heapq.heappop(self._due)[2]()
            self._take(self.handle.take_requests(), now_us)
        self._take_fault()
        self._take_states(now_us)

    def _at(self, time_us: int, action: Callable[[], None]) -> None:
        heapq.heappush(self._due, (time_us, next(self._order), action))

    def _take(self, requests: Requests, now_us: int) -> None:
        if requests.pin is not None:
            trajectory = requests.pin if callable(requests.pin) else self._way_to(requests.pin)
            self._pin, self._pin_since_us = trajectory, now_us
        if requests.lever is not None:
            self._lever_push, self._lever_since_us = requests.lever, now_us
            self._pushed = True
        if requests.taps_s:
            self._pushed = False
        for after_s in requests.taps_s:
            tap_us = now_us + round(after_s * 1e6)
            self._at(tap_us, partial(self._tap, tap_us))
            self._at(tap_us + round(KNOCK_S * 1e6), self._knock)
        for time_us, action in requests.scheduled:
            self._at(time_us, partial(action, self.handle))

    def _way_to(self, wish_mm: float) -> Move:
        """Return the way from where the pin is to a set travel, at a hand's pace, between its stops."""
        from_mm = self.handle.throttle_mm
        travel_mm = min(max(wish_mm, 0.0), self.hand.full_travel_mm)
        return Move(from_mm, travel_mm, max(abs(travel_mm - from_mm) / HAND_PACE_MM_PER_S, QUICKEST_MOVE_S))

    def _tap(self, time_us: int) -> None:
        self._tap_since_us = time_us

    def _knock(self) -> None:
        """The tapped lever has met its stop: most of the friction lets go."""
        self._friction.release(self._spring_kpa, self._unit.tap_release, self._knocks.uniform(-1.0, 1.0))

    def _take_fault(self) -> None:
        fault = self.handle.fault
        if fault == self._unit.fault:
            return
        self._unit = unit = self._unit_with(fault)
        self._pump.truth = unit
        self._lag.time_constant_s = unit.lag_s
        self._clamp.most_mm = unit.clamp_slip_mm
        self._pin_binding.falling = unit.pin_sticks_mm
        self._lever_binding.falling = unit.lever_sticks_mm

    def _unit_with(self, fault: str | None) -> Truth:
        """Return the unit with a fault, as a run would find it before anything is turned."""
        unit = with_fault(self._drawn, fault, self._scenario.fault_sizes, self._rng(f"fault {fault}"))
        return as_mounted(unit, self._rods.linkage(0.0, unit.intermediate_error_mm), self._scenario)

    def _refuse(self, rod_turns: float, fault: str | None) -> None:
        unit = with_fault(self._drawn, fault, self._scenario.fault_sizes, self._rng(f"fault {fault}"))
        self._rods.refuse(rod_turns * unit.turn_mm, unit.intermediate_error_mm)

    def _take_states(self, now_us: int) -> None:
        handle = self.handle
        if not handle.rod_hooked or (self._scenario.body_alone and not self._pushed):
            self._hooked_since_us = None
        elif self._hooked_since_us is None:
            self._hooked_since_us = now_us
        self._note_switches(now_us, handle.button, handle.foot_switch)

    # What the unit does, and what the converter sees of it.

    def _convert(self, times_us: Times) -> Codes:
        """Return codes for times between which nothing is done to the unit."""
        filled_us = self._without_long_steps(times_us)
        before_us = filled_us[0] if self._last_us is None else self._last_us
        steps_s = _seconds(np.diff(filled_us, prepend=before_us))
        self._last_us = int(filled_us[-1])

        pin_mm = self._pin_mm(filled_us)
        pressure_kpa = self._pressure_kpa(filled_us, self._lever_mm(filled_us, pin_mm), steps_s)
        sensor_mm = sensors.travel_reading_mm(pin_mm, self._unit) + self._clamp.slip_mm(pin_mm)
        reading_mm = self._travel_filter.follow(sensor_mm, steps_s)
        self.handle.show_pin_at(float(pin_mm[-1]))
        wanted = slice(len(filled_us) - len(times_us), None)
        return self._codes(times_us, reading_mm[wanted], pressure_kpa[wanted])

    def _without_long_steps(self, times_us: Times) -> Times:
        """Return the times with instants put in before them where the converter has been idle for long.

        Friction and lag must see what moved meanwhile.
        """
        if self._last_us is None or times_us[0] - self._last_us <= LONGEST_STEP_US:
            return times_us
        gap_us = int(times_us[0]) - self._last_us
        steps = min(-(-gap_us // LONGEST_STEP_US), MOST_FILLED_STEPS)
        between = self._last_us + gap_us * np.arange(1, steps, dtype=np.int64) // steps
        return np.concatenate([between, times_us])

    @property
    def _hooked(self) -> bool:
        return self.handle.rod_hooked or self.handle.fault == faults.BASELINE_CONNECTED

    @property
    def _rod_state(self) -> State:
        return self.handle.rod_turns * self._unit.turn_mm, self._unit.intermediate_error_mm

    @property
    def _linkage(self) -> Linkage:
        """The linkage with its rods as they are now."""
        return self._rods.linkage(*self._rod_state)

    @property
    def _linkage_at_pin(self) -> Linkage:
        """The linkage as the pin meets it: a slide's stop stands a little off the throttle pin's place."""
        return self._linkage.from_stop(self._unit.transfer_mm)

    def _pin_mm(self, times_us: Times) -> Array:
        """Return the pin's travel, within what the rod lets it do; of a body alone, its lever's."""
        unit = self._unit
        pin_mm = self._pin(_seconds(times_us - self._pin_since_us))
        if self._scenario.body_alone:
            lever_mm = np.clip(self._moved_by_hand_mm(times_us, pin_mm), None, unit.lever_full_mm)
            return self._bound(lever_mm, self._lever_binding)
        if self._hooked:
            limits_mm = self._rods.pin_limits_mm(
                self._rod_state, unit.transfer_mm, unit.slot_length_mm, unit.lever_full_mm
            )
            pin_mm = np.clip(pin_mm, *limits_mm)
        return self._bound(pin_mm, self._pin_binding)

    def _lever_mm(self, times_us: Times, pin_mm: Array) -> Array:
        """Return the lever's travel from its stop, as an equivalent at the driving end."""
        unit, handle = self._unit, self.handle
        if handle.fault == faults.STUCK_LEVER:
            return np.zeros_like(pin_mm)
        if self._scenario.body_alone:
            return pin_mm  # the sensor sits on the lever itself
        lever_mm = self._moved_by_hand_mm(
            times_us,
            self._linkage_at_pin.lever_travel_mm(pin_mm, hooked=self._hooked, lever_full_mm=unit.lever_full_mm),
        )
        if not self._hooked and not handle.holding_spring:
            lever_mm = np.maximum(lever_mm, unit.hang_mm)
        return self._bound(lever_mm, self._lever_binding)

    def _moved_by_hand_mm(self, times_us: Times, lever_mm: Array) -> Array:
        """Return where the lever is once a hand has pushed or tapped it beyond where it was."""
        lever_mm = np.maximum(lever_mm, self._lever_push(_seconds(times_us - self._lever_since_us)))
        if self._tap_since_us is None:
            return lever_mm
        return np.maximum(lever_mm, TAP(_seconds(times_us - self._tap_since_us)))

    def _bound(self, position_mm: Array, binding: Play) -> Array:
        """Return a position as a binding linkage lets it follow; the holding spring overcomes that."""
        if binding.falling == 0.0 or self.handle.holding_spring:
            binding.held = float(position_mm[-1])
            return position_mm
        return binding.follow(position_mm)

    def _pressure_kpa(self, times_us: Times, lever_mm: Array, steps_s: Array) -> Array:
        """Return pressure at the gauge, behind its anti-alias filter, ripple included."""
        time_s = _seconds(times_us)
        spring_kpa = spring_rise_kpa(lever_mm, self._unit)
        self._spring_kpa = float(spring_kpa[-1])
        full_kpa = self._pump.full_pressure_kpa(time_s)
        valve_kpa = supplied_kpa(self._friction.follow(spring_kpa), lever_mm, full_kpa, self._unit)
        line_kpa = self._lag.follow(valve_kpa + self._drift_kpa(times_us), steps_s)
        return self._pressure_filter.follow(line_kpa, steps_s) + self._pump.ripple_kpa(time_s, line_kpa)

    def _drift_kpa(self, times_us: Times) -> Array:
        """Return the baseline's drift since it was taken; it sets in when the rod is hooked up.

        With a body alone, which has no rod, when its lever is pushed: that comes after the last tap.
        """
        if self._hooked_since_us is None:
            return np.zeros(len(times_us))
        hooked_s = _seconds(times_us - self._hooked_since_us)
        return self._unit.baseline_drift_kpa * -np.expm1(-hooked_s / DRIFT_SETTLES_S)

    def _codes(self, times_us: Times, reading_mm: Array, pressure_kpa: Array) -> Codes:
        """Return converter codes with noise, shape (n, 8)."""
        unit, n = self._unit, len(times_us)
        # A sample is the mean of four conversions, so each conversion is twice as noisy.
        noise = self._noise.standard_normal((n, 2)) * np.sqrt(sensors.CONVERSIONS_PER_SAMPLE)
        side_noise = self._side_noise.standard_normal((n, 2)) * SIDE_NOISE_RATIO
        ratio = np.zeros((n, sensors.CHANNELS))
        ratio[:, sensors.TRAVEL] = sensors.travel_ratio(reading_mm + noise[:, 0] * unit.travel_noise_mm)
        if self.handle.fault != faults.UNPLUGGED_SENSOR:
            noise_kpa = noise[:, 1] * unit.noise_kpa
            ratio[:, sensors.PRESSURE] = sensors.pressure_ratio(pressure_kpa, unit, noise_kpa)
        temperature_c = unit.temperature_c - WARM_UP_C * np.exp(-_seconds(times_us) / WARM_UP_S)
        ratio[:, sensors.THERMISTOR] = sensors.thermistor_ratio(temperature_c) + side_noise[:, 0]
        ratio[:, sensors.SUPPLY] = sensors.supply_ratio(unit.supply_v) + side_noise[:, 1]
        return sensors.converter_codes(ratio)


def _seconds(times_us: Times) -> Array:
    return times_us.astype(np.float64) * 1e-6
