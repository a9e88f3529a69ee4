"""Every finding fires on its fault on the virtual unit, and does not on the same unit without it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial

import pytest

from findings.plant_runs import (
    DIRECT,
    TABLE,
    TWO_BELL_CRANKS,
    as_csv,
    calibrated_up_to,
    calibration_record,
    on_plant,
    section,
    shifted,
    through_fixture,
)
from rodtrue.model.result import Judgement, Result
from rodtrue.profiles import profile_text
from rodtrue.virtual.faults import FAULTS
from rodtrue.virtual.motion import Step, further_sweeps, guided_run
from rodtrue.virtual.plant import Plant

Judged = Judgement | Result
Run = Callable[[], Judged]

OWN, OTHER = b"VIRTUAL\x01", b"VIRTUAL\x02"
GOOD_RECORD = calibration_record(OWN, 2099)


@cache
def healthy(rod_error_mm: float = 0.2) -> Judged:
    return on_plant(rod_error_mm)


@cache
def healthy_fixture() -> Judged:
    return through_fixture(calibration=GOOD_RECORD)


@dataclass(frozen=True)
class Row:
    """A code, what causes it, the run with the cause and the same run without."""

    code: str
    cause: str
    with_it: Run
    without: Run


def fault(code: str, word: str, rod_error_mm: float = 0.2) -> Row:
    """A row whose cause is a fault of the virtual fixture, by its word."""
    return Row(code, word, partial(on_plant, rod_error_mm, word), partial(healthy, rod_error_mm))


def unit(code: str, cause: str, name: str, rod_error_mm: float = 0.2, word: str | None = None, **changes) -> Row:  # type: ignore[no-untyped-def]
    """A row whose cause lies in one section of the invented unit."""
    change = section(name, **changes)
    return Row(code, cause, partial(on_plant, rod_error_mm, word, change=change), partial(healthy, rod_error_mm))


def moved(code: str, cause: str, moves: Callable[[Plant], list[Step]], rod_error_mm: float = 0.2) -> Row:
    """A row whose cause lies in what hands do."""
    return Row(code, cause, partial(on_plant, rod_error_mm, moves=moves), partial(healthy, rod_error_mm))


def fixture(code: str, cause: str, **settings) -> Row:  # type: ignore[no-untyped-def]
    """A row whose cause lies in the fixture, seen through firmware, wire and capture."""
    settings = {"calibration": GOOD_RECORD} | settings
    return Row(code, cause, partial(through_fixture, **settings), healthy_fixture)


def snapped_shut(plant: Plant) -> list[Step]:
    """Every sweep opened by hand and let go of: the springs snap it shut."""
    hand = plant.hand
    sweeps = [hand.sweep(half_s, 0.35) for half_s in (3.0, 6.0) * 3]
    steps = [Step("sweep", "let go", sweep.seconds, True, False, sweep) for sweep in sweeps]
    return [*guided_run(hand, sweeps=0), *steps]


def hurried(plant: Plant) -> list[Step]:
    return [*guided_run(plant.hand), *further_sweeps(plant.hand, 1, halves_s=(0.5,))]


def slipping_lock(plant: Plant) -> list[Step]:
    """The lock screw lets the rod slide 1.2 mm shorter in the middle of the sweeps; nobody marks it."""
    steps = list(guided_run(plant.hand))
    steps[-3] = replace(steps[-3], lengthen_mm=-1.2)
    return steps


def lengthened(plant: Plant) -> list[Step]:
    first, *others = guided_run(plant.hand)
    return [replace(first, lengthen_mm=3.0), *others]


def never_hooked(plant: Plant) -> list[Step]:
    return [replace(step, rod_hooked=False) for step in guided_run(plant.hand)]


def clockwork(plant: Plant) -> list[Step]:
    return guided_run(plant.hand, halves_s=(4.0,))


def wrong_intermediate_rod(error_mm: float, *, made_up_mm: float, seed: int = 3) -> Judged:
    """An intermediate rod too long by so much, the upper rod made longer by an equivalent of `made_up_mm`."""
    size_mm = abs(error_mm), abs(error_mm)
    change = section("fault_sizes", intermediate_mm=size_mm, intermediate_ways=(math.copysign(1.0, error_mm),))
    return on_plant(made_up_mm, "wrong-intermediate-rod", change=change, profile=TWO_BELL_CRANKS, seed=seed)


def runaway(rise_kpa: float) -> dict[str, tuple[float, float]]:
    """Past the detent the pressure runs up by so much: nothing regulates it."""
    return {"detent_rise_kpa": (rise_kpa, rise_kpa), "detent_slope_kpa_per_mm": (3000.0, 3000.0)}


STEADY = section("hand", unevenness=(0.0, 0.0), tremor_mm=(0.0, 0.0))
TWO_SPEEDS = partial(on_plant, change=STEADY)
MADE_UP_FOR = partial(on_plant, 12.0, profile=TWO_BELL_CRANKS)

ROWS = [
    unit("travel_not_returned", "a weak return spring", "fault_sizes", word="binding", pin_sticks_mm=(2.0, 3.0)),
    fault("pressure_not_returned", "binding", 3.0),
    fault("linkage_binds", "binding"),
    unit("rod_holds_throttle", "a slot too short for so short a rod", "linkage", -6.0, slot_length_mm=5.0),
    unit("pressure_over_limit", "a pressure regulator that sticks shut", "valve", **runaway(1700.0)),
    fault("sensor_open", "unplugged-sensor"),
    unit("sensor_shorted", "the signal's wire on the supply", "sensors", pressure_shorted=True),
    unit("sensor_clipped", "pressure far over the gauge's range", "valve", **runaway(2400.0)),
    fault("lever_stuck", "stuck-lever"),
    moved("not_connected", "the rod never hooked up", never_hooked),
    unit("friction_high", "a sticky throttle valve", "valve", friction_mm=(1.1, 1.1)),
    fixture("supply_low", "a poor USB supply", change=section("sensors", supply_v=(4.2, 4.2))),
    fault("full_pressure_low", "low-supply"),
    fault("baseline_not_proven", "baseline-connected", 3.0),
    unit("baseline_implausible", "a throttle valve set far too high", "valve", baseline_kpa=(80.0, 80.0)),
    Row("baseline_changed", "a supply that fell after the baseline", partial(shifted, -8.0), partial(shifted, 0.0)),
    fault("idle_moved", "loose-clamp", 3.0),
    moved("start_jump", "a lock screw that slips once", slipping_lock, -2.0),
    fault("start_scatter", "loose-clamp", 3.0),
    fault("pressure_sluggish", "air"),
    fault("ripple_high", "air"),
    moved("closings_missing", "every sweep let go of", snapped_shut, -2.0),
    fixture("fluid_cold", "cold fluid", change=section("sensors", temperature_c=(15.0, 15.0))),
    fixture("calibration_mismatched", "another fixture's record", calibration=calibration_record(OTHER, 2099)),
    fixture("calibration_overdue", "a calibration long due", calibration=calibration_record(OWN, 2021)),
    Row(
        "calibration_exceeded",
        "calibrated with too small a pressure standard",
        partial(calibrated_up_to, 210.0),
        partial(calibrated_up_to, 700.0),
    ),
    fixture("calibration_missing", "an empty flash", calibration=None),
    moved("idle_pressure_high", "a rod made too long", lengthened),
    moved("sweep_too_fast", "one hurried sweep", hurried),
    fixture("samples_lost", "a host that is away for seconds", stalls_s=[(30.0, 2.0)]),
    Row(
        "one_speed_only",
        "a drive of one even speed",
        partial(on_plant, change=STEADY, moves=clockwork),
        TWO_SPEEDS,
    ),
    Row(
        "slope_out_of_range",
        "an intermediate rod 16 mm short, the upper rod made longer to suit",
        partial(wrong_intermediate_rod, -16.0, made_up_mm=12.0),
        MADE_UP_FOR,
    ),
    Row(
        "baseline_assumed_unhooked",
        "a CSV of which nobody said it",
        partial(as_csv, baseline=None, invented=False),
        partial(as_csv, baseline="unhooked", invented=False),
    ),
    Row(
        "profile_invented",
        "an example's limits for a real file",
        partial(as_csv, baseline="unhooked", invented=True),
        partial(as_csv, baseline="unhooked", invented=False),
    ),
]


def codes(judged: Judged) -> list[str]:
    return [finding.code for finding in judged.findings]


def test_every_code_of_the_table_has_its_row():
    assert sorted(row.code for row in ROWS) == sorted(TABLE)


@pytest.mark.parametrize("row", [pytest.param(row, id=f"{row.code}: {row.cause}") for row in ROWS])
def test_finding_fires_on_its_cause_and_not_on_the_same_run_without_it(row):
    judged = row.with_it()
    assert row.code in codes(judged)
    assert row.code not in codes(row.without())
    finding = next(finding for finding in judged.findings if finding.code == row.code)
    assert finding.severity == TABLE[row.code].severity
    assert TABLE[row.code].look_at in finding.text
    assert "{" not in finding.text and "nan" not in finding.text
    if finding.severity == "stop":
        assert judged.findings[0].severity == "stop", "stop findings come first"
        assert judged.correction is None
        assert judged.verdict != "correct"


@pytest.mark.parametrize("word", FAULTS)
def test_every_fault_of_the_virtual_fixture_leads_somewhere(word):
    """Each word raises a finding, but for an intermediate rod a little off: there the correction names it first."""
    profile = TWO_BELL_CRANKS if word == "wrong-intermediate-rod" else DIRECT
    judged = on_plant(3.0, word, profile=profile)
    if word == "wrong-intermediate-rod":
        assert judged.correction.steps[0]["rod"] == "intermediate rod"
        assert judged.correction.steps[0]["direction"] == "set"
    else:
        assert any(TABLE[code].severity != "note" for code in codes(judged))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("error_mm", "made_up_mm", "shows"),
    [(-16.0, 12.0, True), (-4.0, 4.0, False), (4.0, -4.0, False), (12.0, -12.0, False)],
)
def test_size_from_which_a_wrong_intermediate_rod_shows_in_the_slope_is_the_one_the_profile_tells(
    error_mm, made_up_mm, shows
):
    told = " ".join(profile_text("example-two-bell-cranks")[0].replace("#", " ").split())
    assert "from 16 mm (0.63 in) too short on" in told
    assert "too long by as much as 12 mm, or 4 mm off either way, it does not" in told
    for seed in range(1, 11):
        judged = wrong_intermediate_rod(error_mm, made_up_mm=made_up_mm, seed=seed)
        assert ("slope_out_of_range" in codes(judged)) is shows
        if shows:
            finding = next(f for f in judged.findings if f.code == "slope_out_of_range")
            assert "check the intermediate rod first" in finding.text
            assert judged.correction.steps[0]["rod"] == "intermediate rod"


def test_lengths_and_pressures_are_said_in_both_systems():
    judged = on_plant(3.0, "loose-clamp")
    texts = {finding.code: finding.text for finding in judged.findings}
    assert " in (" in texts["idle_moved"] and " mm)" in texts["idle_moved"]
    assert " psi (" in texts["idle_pressure_high"] and " kPa)" in texts["idle_pressure_high"]
