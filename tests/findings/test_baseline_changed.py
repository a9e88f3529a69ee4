"""A baseline that no longer holds: where the lever rests on its stop the data show it, and no word is said."""

from __future__ import annotations

import pytest

from findings.plant_runs import shifted

SHIFTS_KPA = (-25.0, -15.0, -8.0, 8.0, 15.0, 25.0)


@pytest.mark.parametrize("rod_error_mm", [-4.0, -2.0])
@pytest.mark.parametrize("shift_kpa", SHIFTS_KPA)
def test_with_a_short_rod_a_shifted_pressure_takes_every_word_away(shift_kpa: float, rod_error_mm: float) -> None:
    found = shifted(shift_kpa, rod_error_mm)
    assert found.verdict in ("undecided", "no result")
    assert found.correction is None
    if found.verdict == "undecided":
        (changed,) = (f for f in found.findings if f.code == "baseline_changed")
        assert changed.evidence["shift_kpa"] == pytest.approx(shift_kpa, abs=5.0)
        assert found.reason == "the pressure with the lever on its stop is no longer the baseline"


def test_a_shift_that_friction_could_hold_is_let_pass() -> None:
    assert shifted(1.0, -2.0).verdict == "short"
    assert shifted(-1.0, -2.0).verdict == "short"


def test_a_level_far_from_the_baseline_is_refused_and_accuses_nothing_of_binding() -> None:
    found = shifted(45.0, -6.0)
    assert found.verdict == "no result"
    assert "the pressure stands still 6." in str(found.reason)
    assert "the baseline has changed" in str(found.reason)
    assert [f.code for f in found.findings if f.severity == "stop"] == []
