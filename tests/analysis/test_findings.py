"""Every finding fires on its fault, with evidence; a healthy unit raises none worth a warning."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.made_up_run import MadeUp
from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions
from rodtrue.model.result import Finding, Judgement
from rodtrue.model.samples import SWEEP, Samples
from rodtrue.profiles import load_profile
from rodtrue.virtual.direct import run_samples

PROFILE = load_profile("example-direct")
TABLE = load_findings_table()
SLIDE = Conditions(kind="virtual", drive="slide", rod_unhooked=True)


def judged(samples: Samples, conditions: Conditions = SLIDE, **limits: object) -> Judgement:
    profile = replace(PROFILE, limits=replace(PROFILE.limits, **limits))
    return judge(samples, profile, conditions, TABLE)


def found(judgement: Judgement, code: str) -> Finding:
    return next(finding for finding in judgement.findings if finding.code == code)


def plant(rod_error_mm: float, fault: str | None = None, seed: int = 3) -> Judgement:
    samples, _ = run_samples(PROFILE, rod_error_mm=rod_error_mm, seed=seed, fault=fault)
    return judged(samples, replace(SLIDE, rod_unhooked=fault != "baseline-connected"))


def sweeping(run: Samples, pressure: np.ndarray) -> Samples:
    return replace(run, pressure_kpa=np.where(run.step == SWEEP, pressure, run.pressure_kpa))


def gone(run: Samples) -> Samples:
    travel = run.travel_mm - 12.0
    keep = ~((run.step == SWEEP) & (travel > 20) & (travel < 24) & (run.time_s < 20))
    return run.where(keep)


LONG = MadeUp(rod_error_mm=3.0)
SHORT = MadeUp(rod_error_mm=-3.0)

FAULTS = {
    "baseline_not_proven": lambda: plant(3.0, "baseline-connected"),
    "baseline_implausible": lambda: judged(MadeUp(baseline_kpa=80.0).samples()),
    "baseline_assumed_unhooked": lambda: judged(SHORT.samples(), replace(SLIDE, baseline_assumed=True)),
    "rod_holds_throttle": lambda: judged(replace(LONG, rest_mm=0.5, later_rest_mm=0.5).samples()),
    "idle_moved": lambda: judged(replace(SHORT, later_rest_mm=0.4).samples()),
    "idle_pressure_high": lambda: plant(3.0),
    "travel_not_returned": lambda: judged(replace(SHORT, later_rest_mm=3.0).samples()),
    "pressure_not_returned": lambda: plant(3.0, "binding"),
    "linkage_binds": lambda: plant(0.2, "binding"),
    "slope_out_of_range": lambda: judged(replace(SHORT, slope=30.0).samples()),
    "full_pressure_low": lambda: plant(0.2, "low-supply"),
    "friction_high": lambda: judged(replace(SHORT, friction_mm=0.9).samples()),
    "start_scatter": lambda: plant(3.0, "loose-clamp"),
    "sweep_too_fast": lambda: judged(replace(SHORT, seconds=(2.0, 0.5)).samples()),
    "one_speed_only": lambda: judged(replace(SHORT, seconds=(3.0,)).samples()),
    "closings_missing": lambda: judged(SHORT.samples().where(_openings(SHORT.samples()))),
    "samples_lost": lambda: judged(gone(SHORT.samples())),
    "sensor_clipped": lambda: judged(
        sweeping(r := replace(SHORT, noise_kpa=0.8).samples(), np.minimum(r.pressure_kpa, 180.0))
    ),
    "sensor_open": lambda: plant(0.2, "unplugged-sensor"),
    "sensor_shorted": lambda: judged(sweeping(r := SHORT.samples(), np.full(len(r), 2300.0))),
    "pressure_over_limit": lambda: judged(sweeping(r := SHORT.samples(), r.pressure_kpa * 6)),
    "pressure_sluggish": lambda: plant(0.2, "air"),
    "ripple_high": lambda: plant(0.2, "air"),
    "supply_low": lambda: judged(SHORT.samples(), replace(SLIDE, supply_v=4.1)),
    "fluid_cold": lambda: judged(SHORT.samples(), replace(SLIDE, fluid_degc=21.0)),
    "profile_invented": lambda: judged(SHORT.samples(), replace(SLIDE, kind="csv")),
    "calibration_missing": lambda: judged(SHORT.samples(), replace(SLIDE, calibration="missing")),
    "calibration_overdue": lambda: judged(SHORT.samples(), replace(SLIDE, calibration="overdue")),
    "calibration_mismatched": lambda: judged(SHORT.samples(), replace(SLIDE, calibration="of another fixture")),
    "start_jump": lambda: judged(_jumping()),
}


def _openings(run: Samples) -> np.ndarray:
    """Rows without the closings' way down: the pin is seen at both ends only."""
    speed = np.gradient(run.travel_mm, run.time_s)
    return ~((run.step == SWEEP) & (speed < -1.0) & (run.travel_mm > 12.3) & (run.travel_mm < 41.0))


def _jumping() -> Samples:
    run = MadeUp(rod_error_mm=-1.0).samples()
    late = run.time_s > run.time_s[-1] * 0.62
    slipped = MadeUp(rod_error_mm=-2.0).samples()
    return replace(run, pressure_kpa=np.where(late, slipped.pressure_kpa, run.pressure_kpa))


def test_every_code_of_the_table_has_its_fault_here():
    assert set(FAULTS) == set(TABLE)


@pytest.mark.parametrize("code", sorted(FAULTS))
def test_finding_fires_on_its_fault_and_says_what_to_look_at(code):
    judgement = FAULTS[code]()
    finding = found(judgement, code)
    assert finding.severity == TABLE[code].severity
    assert TABLE[code].look_at in finding.text
    assert "{" not in finding.text
    if finding.severity == "stop":
        assert judgement.findings[0].severity == "stop", "stop findings come first"
        assert judgement.correction is None
        assert judgement.verdict != "correct"


def test_lengths_and_pressures_are_said_in_both_systems():
    text = found(FAULTS["idle_moved"](), "idle_moved").text
    assert " in (" in text and " mm)" in text
    text = found(FAULTS["idle_pressure_high"](), "idle_pressure_high").text
    assert " psi (" in text and " kPa)" in text


@pytest.mark.slow
@pytest.mark.parametrize("part", range(8))
def test_healthy_units_raise_no_warning(part):
    # 200 runs in all: errors over the range, every draw of the invented shop, three pairs of speeds, two rates.
    errors = (-12.0, -3.0, -0.6, 0.0, 0.6, 3.0, 8.0)
    speeds = ((3.0, 6.0), (2.0, 4.0), (2.5, 3.5))
    for number in range(part * 25, part * 25 + 25):
        samples, _ = run_samples(
            PROFILE,
            rod_error_mm=errors[number % 7],
            seed=1000 + number,
            halves_s=speeds[number % 3],
            rate_hz=(500, 250)[number % 2],
        )
        raised = [f.code for f in judged(samples).findings if f.severity != "note"]
        assert raised == [], f"run {number}: {raised}"
