"""What four readings say of a fixture's sensors, in words: which one, which wire, and what to look at next.

All are shares of the sensors' supply, which is the converter's reference: an input that is open lies on its
pull-down and reads as one at ground.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np

import rodtrue_protocol as wire
from rodtrue.capture.scaling import Channel, Scaling, fluid_degc, supply_v
from rodtrue.resources import room
from rodtrue.run.words import length, pressure

State = Literal["ok", "note", "fault", "not tested"]

NOT_MEASURED = 65535
LIVE_RATIO = (0.05, 0.95)
"""Outside it no sensor reads: 0.1 to 0.9 is its range, the rest is for end stops and offsets."""

THERMISTOR_RATIO = (0.02, 0.98)
REFERENCE_RATIO = (0.25, 0.90)
SUPPLY_V = (4.75, 5.25)
PER_RATIO = 65536


@dataclass(frozen=True)
class Diagnosis:
    """One part of the fixture. says: how it is. look_at: what to do next, "" where nothing."""

    part: str
    state: State
    says: str
    look_at: str = ""


@dataclass(frozen=True)
class Readings:
    """One code of each channel, as status and self-test tell them."""

    travel_code: int
    pressure_code: int
    supply_code: int
    thermistor_code: int

    @classmethod
    def of(cls, message: wire.Status | wire.SelfTestReport) -> Readings:
        """Return a message's readings."""
        return cls(message.travel_code, message.pressure_code, message.supply_code, message.thermistor_code)

    @property
    def complete(self) -> bool:
        """Whether every channel has been read: the slow ones take a moment after a start."""
        return NOT_MEASURED not in (self.travel_code, self.pressure_code, self.supply_code, self.thermistor_code)


def diagnose_readings(readings: Readings, scaling: Scaling) -> list[Diagnosis]:
    """Return what four readings say of supply, reference and the three sensors."""
    wires = wires_of_pin_map()
    return [
        _supply(readings.supply_code, wires),
        _sensor("travel sensor", readings.travel_code, scaling.travel, length, _TRAVEL, wires["travel"]),
        _sensor("pressure sensor", readings.pressure_code, scaling.pressure, pressure, _PRESSURE, wires["pressure"]),
        _thermistor(readings.thermistor_code, wires["thermistor"]),
    ]


def wires_of_pin_map() -> dict[str, str]:
    """Return where each pin and channel is, by its name in the pin map: `GPIO 17`, `converter channel 0`."""
    pin_map = msgspec.json.decode((room("hardware") / "pins.json").read_bytes())
    pins = {pin["name"]: f"GPIO {pin['gpio']}" for pin in pin_map["pins"]}
    channels = pin_map["converter"]["channels"]
    return pins | {entry["name"]: f"converter channel {entry['channel']}" for entry in channels}


def _supply(code: int, wires: dict[str, str]) -> Diagnosis:
    """The supply is seen through a 3.0 V reference: where that is missing nothing is known of the supply."""
    if code == NOT_MEASURED:
        return _unmeasured("sensor supply")
    ratio = code / PER_RATIO
    if ratio < REFERENCE_RATIO[0]:
        return Diagnosis(
            "reference",
            "fault",
            f"The 3.0 V reference is missing: its input reads {100 * ratio:.0f} % of the supply, 60 % is right.",
            "The reference in the wrong way round (about 12 %) or shorted; its resistor from the supply and its wire "
            f"to {wires['supply']}: open, or shorted to ground.",
        )
    if ratio > REFERENCE_RATIO[1]:
        return Diagnosis(
            "reference",
            "fault",
            "The 3.0 V reference does not hold: its input reads as high as the sensors' supply.",
            "Measure 5 V at a sensor's plug: nearly gone, it is the supply; there, the reference is missing or open, "
            f"or {wires['supply']} is shorted to the supply.",
        )
    volts = supply_v(code)
    assert volts is not None
    at_sensors = f"{volts:.2f} V at the sensors; {SUPPLY_V[0]} to {SUPPLY_V[1]} V is right."
    if volts < SUPPLY_V[0]:
        return Diagnosis(
            "sensor supply",
            "fault",
            f"Too low: {at_sensors}",
            "The USB cable, hub or isolator (try a short cable into another port); then unplug one sensor after the "
            "other: the one with which it rises draws too much.",
        )
    if volts > SUPPLY_V[1]:
        return Diagnosis(
            "sensor supply",
            "fault",
            f"Too high: {at_sensors}",
            "The USB port or supply in use: measure its 5 V; then the 3.0 V reference itself.",
        )
    return Diagnosis("sensor supply", "ok", at_sensors)


@dataclass(frozen=True)
class _SensorWords:
    """Why a sensor reads at the lower and at the upper end, and what to look at then."""

    low: str
    look_low: str
    high: str
    look_high: str


_TRAVEL = _SensorWords(
    "Open or shorted to ground: unplugged, slider or supply wire broken, or the signal on ground.",
    "Its plug first. Then, plugged in, from slider to ground: a tenth to nine tenths of the supply is right. Nothing "
    "there: the sensor or its supply wire; right there: the signal wire to {where}.",
    "At the supply: its ground wire is open, or the signal is shorted to the supply.",
    "The ground wire at its plug; then, unplugged, whether {where} falls to 0: if not, the short is in the cable.",
)
_PRESSURE = _SensorWords(
    "Open or shorted to ground: unplugged, a wire broken, or the signal on ground.",
    "Its plug first. Then, plugged in and without pressure, from signal to ground: 0.5 V is right. Nothing there: "
    "5 V at its supply, or the transducer; right there: the signal wire to {where}.",
    "At the supply: its ground wire is open, the signal is shorted to the supply, or pressure is beyond its range.",
    "Relieve the pressure first. Then the ground wire at its plug; then, unplugged, whether {where} falls to 0.",
)


def _sensor(
    part: str, code: int, channel: Channel, in_words: Callable[[float], str], words: _SensorWords, where: str
) -> Diagnosis:
    if code == NOT_MEASURED:
        return _unmeasured(part)
    ratio = code / PER_RATIO
    reads = f"Reads {100 * ratio:.0f} % of its supply."
    if ratio < LIVE_RATIO[0]:
        return Diagnosis(part, "fault", f"{words.low} {reads}", words.look_low.format(where=where))
    if ratio > LIVE_RATIO[1]:
        return Diagnosis(part, "fault", f"{words.high} {reads}", words.look_high.format(where=where))
    return Diagnosis(part, "ok", f"Reads {in_words(float(channel.values(np.array(code))))}.")


def _thermistor(code: int, where: str) -> Diagnosis:
    if code == NOT_MEASURED:
        return _unmeasured("thermistor")
    ratio = code / PER_RATIO
    if ratio < THERMISTOR_RATIO[0]:
        return Diagnosis(
            "thermistor",
            "fault",
            "Shorted: its input lies at ground.",
            f"Unplug it: if {where} stays at 0 the short is in the cable, else in the thermistor.",
        )
    if ratio > THERMISTOR_RATIO[1]:
        return Diagnosis(
            "thermistor",
            "fault",
            "Open: unplugged, or a wire broken.",
            f"Its plug and both wires to {where}; unplugged it has about 10 kOhm at 77 °F (25 °C).",
        )
    degc = fluid_degc(code)
    assert degc is not None
    return Diagnosis("thermistor", "ok", f"Reads {degc * 1.8 + 32:.0f} °F ({degc:.0f} °C).")


def _unmeasured(part: str) -> Diagnosis:
    return Diagnosis(part, "not tested", "Not read yet.", "Ask again in a second.")
