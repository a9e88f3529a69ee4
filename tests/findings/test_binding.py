"""A linkage that binds: said first and loud, whatever the rod, and never as a number to turn by."""

from __future__ import annotations

import pytest

from findings.plant_runs import on_plant, section
from rodtrue.linkage import RODS
from rodtrue.profiles import load_profile

ERRORS_MM = (-12.0, -6.0, -2.5, -0.6, 0.2, 3.0, 8.0)


@pytest.mark.parametrize("layout", RODS)
@pytest.mark.parametrize("rod_error_mm", ERRORS_MM)
def test_binding_stops_the_job_without_a_verdict_a_number_or_a_correction(layout: str, rod_error_mm: float) -> None:
    profile = load_profile(f"example-{layout}")
    for seed in (1, 2):
        found = on_plant(rod_error_mm, "binding", profile=profile, seed=seed)
        assert "linkage_binds" in [f.code for f in found.findings if f.severity == "stop"], seed
        assert (found.verdict, found.rod_error, found.correction) == ("no result", None, None)
        assert found.reason
        assert found.plot.pressure_kpa, "what was measured is still to be seen"


@pytest.mark.parametrize("layout", RODS)
def test_air_in_the_line_is_no_binding(layout: str) -> None:
    """Air makes the pressure late both ways; that is told from friction by the sweeps' speeds."""
    profile = load_profile(f"example-{layout}")
    for rod_error_mm in ERRORS_MM[1::2]:
        found = on_plant(rod_error_mm, "air", profile=profile)
        codes = [f.code for f in found.findings]
        assert "pressure_sluggish" in codes
        assert "linkage_binds" not in codes


@pytest.mark.parametrize("rod_error_mm", [-6.0, -2.0])
def test_a_very_sticky_valve_does_not_pass_for_a_linkage_that_binds(rod_error_mm: float) -> None:
    """At rest its friction holds the pressure far above the baseline."""
    found = on_plant(rod_error_mm, change=section("valve", friction_mm=(2.0, 2.0)))
    assert found.verdict in ("short", "undecided")
    codes = [f.code for f in found.findings]
    assert "friction_high" in codes and "linkage_binds" not in codes


@pytest.mark.parametrize("friction_mm", [0.3, 1.0])
def test_pressure_held_by_a_valves_friction_is_judged_as_ever(friction_mm: float) -> None:
    """With a long rod the flat before the ramp is friction's; it is short, and the rod is judged."""
    change = section("valve", friction_mm=(friction_mm, friction_mm))
    found = on_plant(5.0, change=change)
    assert found.verdict == "long"
    assert found.rod_error is not None and found.rod_error.value_mm == pytest.approx(5.0, abs=0.5)


@pytest.mark.parametrize(
    ("rod_error_mm", "fault"), [(3.0, "baseline-connected"), (8.0, "baseline-connected"), (-2.0, "loose-clamp")]
)
def test_where_something_forbids_the_word_nothing_is_to_be_turned(rod_error_mm: float, fault: str) -> None:
    found = on_plant(rod_error_mm, fault)
    assert found.verdict == "undecided"
    assert found.correction is None


@pytest.mark.parametrize("layout", ["direct", "two-bell-cranks"])
def test_a_ramp_cut_short_by_a_weak_supply_still_gives_an_interval_that_holds_the_truth(layout: str) -> None:
    """The valve gives way softly to what the supply holds; for a long rod the ramp below is short."""
    profile = load_profile(f"example-{layout}")
    missed = []
    for seed in range(1, 9):
        error = on_plant(8.0, "low-supply", profile=profile, seed=seed).rod_error
        assert error is not None and error.interval_mm is not None
        low, high = error.interval_mm
        if low is None or high is None or not low <= 8.0 <= high:
            missed.append(seed)
    # Eight draws of a 95 % interval: two misses or more come in one of eighteen.
    assert len(missed) <= 1
