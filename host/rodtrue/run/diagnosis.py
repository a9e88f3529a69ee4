"""What a self-test says of a fixture, part by part, in words, and what to look at next."""

from __future__ import annotations

import rodtrue_protocol as wire
from rodtrue.capture.scaling import Scaling
from rodtrue.run.clock_check import ClockCheck
from rodtrue.run.sensor_words import PER_RATIO, Diagnosis, Readings, diagnose_readings, wires_of_pin_map
from rodtrue.run.words import length, pressure

RESTLESS_RATIO = 20 / 4096
"""Readings a moment apart that differ by more than 20 converter steps: no pump ripple and no hand is as quick."""

_Flags = wire.SelfTestFlags


def diagnose_self_test(
    report: wire.SelfTestReport, scaling: Scaling, generation: int, clock: ClockCheck | None = None
) -> list[Diagnosis]:
    """Return what a self-test says, part by part. generation: of the stored calibration, 0 for none."""
    wires = wires_of_pin_map()
    found = [_converter(report, wires)]
    if _passed(report, _Flags.CONVERTER):
        found += diagnose_readings(Readings.of(report), scaling)
        found += _restless(report, scaling)
        if not _passed(report, _Flags.REFERENCE) and all(entry.part != "reference" for entry in found):
            found.append(_restless_reference(wires))
    else:
        found.append(Diagnosis("sensors", "not tested", "Without the converter no sensor can be read."))
    found += _timekeeping(report, clock)
    found += _memory(report)
    found.append(_calibration(report, generation))
    found.append(_contact(report, _Flags.BUTTON, "button", wires["button"]))
    found.append(_contact(report, _Flags.FOOT_SWITCH, "foot switch", wires["foot_switch"]))
    return found


def _passed(report: wire.SelfTestReport, test: wire.SelfTestFlags) -> bool:
    return bool(report.tests_passed & test)


def _converter(report: wire.SelfTestReport, wires: dict[str, str]) -> Diagnosis:
    if not _passed(report, _Flags.CONVERTER):
        return Diagnosis(
            "converter",
            "fault",
            "The converter does not answer.",
            f"Its 5 V and ground; chip select ({wires['converter_select']}), clock ({wires['converter_clock']}), "
            f"data to it ({wires['converter_in']}) and from it ({wires['converter_out']}); the level translator and "
            "its two supplies.",
        )
    if not _passed(report, _Flags.CLOCK):
        return Diagnosis(
            "converter",
            "fault",
            f"The converter answers, but takes {report.conversion_us} us for both channels, 250 us at most.",
            "Install the firmware again; if that does not help, the board.",
        )
    return Diagnosis("converter", "ok", f"Answers; both channels take {report.conversion_us} us.")


def _restless_reference(wires: dict[str, str]) -> Diagnosis:
    return Diagnosis(
        "reference",
        "fault",
        "The reading of the 3.0 V reference does not hold still.",
        f"The reference's capacitor and its wire to {wires['supply']}; ground between board and sensors.",
    )


def _restless(report: wire.SelfTestReport, scaling: Scaling) -> list[Diagnosis]:
    """A sensor that reads within its range, but jumps about."""
    found = []
    for part, spread, channel, in_words in (
        ("travel sensor", report.travel_spread, scaling.travel, length),
        ("pressure sensor", report.pressure_spread, scaling.pressure, pressure),
    ):
        if spread / PER_RATIO > RESTLESS_RATIO:
            found.append(
                Diagnosis(
                    part,
                    "note",
                    f"Its reading jumps by {in_words(abs(channel.c1) * spread / PER_RATIO)} within a moment.",
                    "If nothing moved it just then: a loose plug, a worn slider, the shield's ground, or ignition "
                    "leads close to the cable. Test again.",
                )
            )
    return found


def _timekeeping(report: wire.SelfTestReport, clock: ClockCheck | None) -> list[Diagnosis]:
    found = []
    if not _passed(report, _Flags.TIMING):
        found.append(
            Diagnosis(
                "sampling",
                "fault",
                "Samples did not start on time, or one conversion outlasted its interval.",
                "Test again; if it stays, install the firmware again, and after that replace the board.",
            )
        )
    else:
        found.append(Diagnosis("sampling", "ok", "Every sample has started on time."))
    if clock is not None:
        give_or_take = f"give or take {100 * clock.uncertainty:.2f} %"
        said = f"{100 * clock.deviation:+.2f} % against this computer's, {give_or_take}."
        if clock.passed:
            found.append(Diagnosis("clock", "ok", said))
        else:
            next_look = "Test again with an idle computer; then replace the board."
            found.append(Diagnosis("clock", "fault", f"Runs wrong: {said}", next_look))
    return found


def _memory(report: wire.SelfTestReport) -> list[Diagnosis]:
    found = []
    free = f"{report.free_heap_bytes // 1024} KiB of memory free"
    room_left = f"{report.free_storage_bytes // 1024} KiB of storage free"
    if not _passed(report, _Flags.MEMORY):
        found.append(Diagnosis("memory", "fault", f"Not sound or nearly full: {free}.", "Replace the board."))
    if not _passed(report, _Flags.STORAGE):
        found.append(
            Diagnosis(
                "storage",
                "fault",
                f"No room to write a calibration: {room_left}.",
                "Remove files that are not the fixture's, or install again on an emptied board.",
            )
        )
    if not _passed(report, _Flags.FRAMING):
        found.append(Diagnosis("firmware", "fault", "Its check sums come out wrong.", "Install the firmware again."))
    return found or [Diagnosis("memory", "ok", f"{free}.")]


def _calibration(report: wire.SelfTestReport, generation: int) -> Diagnosis:
    whole = sum(_passed(report, slot) for slot in (_Flags.SLOT_A, _Flags.SLOT_B))
    if generation == 0:
        return Diagnosis(
            "calibration",
            "note",
            "None: nominal values and the parts' uncertainty are used.",
            "Calibrate travel and pressure before relying on the numbers.",
        )
    if whole == 1 and generation > 1:
        return Diagnosis(
            "calibration",
            "note",
            f"Generation {generation}; the copy before it is damaged.",
            "Nothing is lost. Store the calibration once more; if it happens again, replace the board.",
        )
    copies = "1 copy" if whole == 1 else "2 copies"
    return Diagnosis("calibration", "ok", f"Generation {generation}; {copies} in the fixture.")


def _contact(report: wire.SelfTestReport, test: wire.SelfTestFlags, part: str, where: str) -> Diagnosis:
    if _passed(report, test):
        return Diagnosis(part, "ok", "Open.")
    return Diagnosis(
        part,
        "fault",
        "Closed.",
        f"Let go of it and test again; if it stays closed it is stuck, or its wire ({where}) is shorted to ground.",
    )
