"""A fixture's faults in words: the right part, why it reads so, and what to look at next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from msgspec import structs

import rodtrue_protocol as wire
from rodtrue.capture.scaling import NOMINAL
from rodtrue.run.clock_check import ClockCheck, check_clock
from rodtrue.run.diagnosis import diagnose_self_test
from rodtrue.run.sensor_words import Diagnosis, Readings, diagnose_readings

FLAGS = wire.SelfTestFlags
ALL = ~FLAGS(0)
SOUND = wire.SelfTestReport(0, ALL, ALL, 26214, 6600, 39322, 32768, 16, 32, 61, 131072, 900_000)
"""2.0 in of travel, 0 psi, 5.00 V, a thermistor at 10 kOhm: all by the nominal scaling."""


def found(report: wire.SelfTestReport, generation: int = 2, clock: ClockCheck | None = None) -> dict[str, Diagnosis]:
    entries = diagnose_self_test(report, NOMINAL, generation, clock)
    return {entry.part: entry for entry in entries if entry.state != "ok"}


def failing(test: wire.SelfTestFlags, **fields: int) -> wire.SelfTestReport:
    return structs.replace(SOUND, tests_passed=ALL & ~test, **fields)


def test_a_sound_fixture_reads_in_both_systems_and_has_nothing_to_look_at() -> None:
    entries = diagnose_self_test(SOUND, NOMINAL, 2)
    assert {entry.state for entry in entries} == {"ok"} and not any(entry.look_at for entry in entries)
    said = {entry.part: entry.says for entry in entries}
    # (26214 / 65536 - 0.1) / 0.8 x 100 mm = 37.5 mm = 1.476 in; 3.0 V x 65536 / 39322 = 5.00 V.
    assert said["travel sensor"] == "Reads 1.476 in (37.50 mm)."
    assert said["sensor supply"].startswith("5.00 V")
    assert said["thermistor"] == "Reads 77 °F (25 °C)."
    assert "psi" in said["pressure sensor"] and "kPa" in said["pressure sensor"]


@pytest.mark.parametrize(
    ("part", "fields", "says", "look_at"),
    [
        ("travel sensor", {"travel_code": 0}, "Open or shorted to ground", "converter channel 0"),
        ("travel sensor", {"travel_code": 65520}, "ground wire is open", "ground wire at its plug"),
        ("pressure sensor", {"pressure_code": 300}, "Open or shorted to ground", "0.5 V is right"),
        ("pressure sensor", {"pressure_code": 65520}, "pressure is beyond its range", "Relieve the pressure first"),
        ("thermistor", {"thermistor_code": 65520}, "Open", "about 10 kOhm"),
        ("thermistor", {"thermistor_code": 0}, "Shorted", "in the cable"),
        ("sensor supply", {"supply_code": 44000}, "Too low: 4.47 V", "USB cable"),
        ("sensor supply", {"supply_code": 36000}, "Too high: 5.46 V", "measure its 5 V"),
        ("reference", {"supply_code": 0}, "missing", "converter channel 3"),
        ("reference", {"supply_code": 8000}, "reads 12 % of the supply", "wrong way round"),
        ("reference", {"supply_code": 65520}, "as high as the sensors' supply", "Measure 5 V"),
    ],
)
def test_each_wrong_reading_names_its_part_and_the_next_look(
    part: str, fields: dict[str, int], says: str, look_at: str
) -> None:
    entries = diagnose_readings(replace(Readings.of(SOUND), **fields), NOMINAL)
    faults = [entry for entry in entries if entry.state != "ok"]
    assert [(entry.part, entry.state) for entry in faults] == [(part, "fault")], "one cause, one fault"
    assert says in faults[0].says and look_at in faults[0].look_at


def test_a_dead_converter_is_the_only_fault_and_its_pins_are_named() -> None:
    unread = FLAGS.TRAVEL | FLAGS.PRESSURE | FLAGS.THERMISTOR | FLAGS.SUPPLY | FLAGS.REFERENCE
    report = structs.replace(
        SOUND, tests_run=ALL & ~unread, tests_passed=ALL & ~unread & ~FLAGS.CONVERTER,
        travel_code=65535, pressure_code=65535, supply_code=65535, thermistor_code=65535,
    )  # fmt: skip
    entries = found(report)
    assert {part: entry.state for part, entry in entries.items()} == {"converter": "fault", "sensors": "not tested"}
    for pin in ("GPIO 17", "GPIO 18", "GPIO 19", "GPIO 16"):
        assert pin in entries["converter"].look_at


@pytest.mark.parametrize(
    ("test", "part", "says"),
    [
        (FLAGS.CLOCK, "converter", "takes 61 us"),
        (FLAGS.REFERENCE, "reference", "does not hold still"),
        (FLAGS.TIMING, "sampling", "did not start on time"),
        (FLAGS.MEMORY, "memory", "128 KiB"),
        (FLAGS.STORAGE, "storage", "No room to write a calibration"),
        (FLAGS.FRAMING, "firmware", "check sums"),
        (FLAGS.BUTTON, "button", "Closed"),
        (FLAGS.FOOT_SWITCH, "foot switch", "Closed"),
    ],
    ids=str,
)
def test_each_failed_test_is_a_fault_of_its_part(test: wire.SelfTestFlags, part: str, says: str) -> None:
    entries = found(failing(test))
    assert list(entries) == [part]
    assert entries[part].state == "fault" and says in entries[part].says and entries[part].look_at


def test_a_missing_calibration_is_a_note_and_a_damaged_copy_loses_nothing() -> None:
    both = FLAGS.SLOT_A | FLAGS.SLOT_B
    none = found(failing(both), generation=0)
    assert none["calibration"].state == "note" and "nominal values" in none["calibration"].says
    assert not found(failing(FLAGS.SLOT_B), generation=1), "the second slot is empty before a second calibration"
    damaged = found(failing(FLAGS.SLOT_B), generation=5)
    assert "damaged" in damaged["calibration"].says and "Nothing is lost" in damaged["calibration"].look_at


def test_a_reading_that_jumps_is_a_note_in_both_systems() -> None:
    # 400 codes: 400 / 65536 / 0.8 x 100 mm = 0.76 mm.
    entries = found(structs.replace(SOUND, travel_spread=400))
    assert entries["travel sensor"].state == "note"
    assert "0.030 in (0.76 mm)" in entries["travel sensor"].says and "plug" in entries["travel sensor"].look_at


class TickingClient:
    """Answers with a clock that runs at `rate`; the host's goes on by what asking and waiting take."""

    def __init__(self, rate: float, answers_s: Iterator[float]) -> None:
        self._rate = rate
        self._answers_s = answers_s
        self.now_s = 4293.5

    def clock(self) -> float:
        return self.now_s

    def poll(self, wait_s: float) -> list[object]:
        self.now_s += wait_s
        return []

    def status(self) -> wire.Status:
        took_s = next(self._answers_s)
        time_us = int((self.now_s + took_s * 0.7) * self._rate * 1e6) % 2**32
        self.now_s += took_s
        return wire.Status(0, wire.StatusFlags(0), 0, 0, 0, 0, 0, 0, time_us, *[0] * 10, ())


def alternating() -> Iterator[float]:
    while True:
        yield from (0.020, 0.002, 0.050)


@pytest.mark.parametrize(("rate", "passes"), [(1.0, True), (1.00003, True), (0.9, False), (1.25, False)])
def test_the_clock_is_held_against_the_computers(rate: float, passes: bool) -> None:
    """At a true rate the device's 32-bit microseconds wrap in the middle, at 4294.97 s."""
    check = check_clock(TickingClient(rate, alternating()))  # type: ignore[arg-type]
    assert check.passed == passes
    assert check.deviation == pytest.approx(rate - 1.0, abs=check.uncertainty)
    assert check.uncertainty < 0.002, "the quickest answers count"


def test_a_clock_that_runs_wrong_is_a_fault() -> None:
    entries = found(SOUND, clock=ClockCheck(0.25, 0.001))
    assert entries["clock"].state == "fault" and "+25.00 %" in entries["clock"].says
