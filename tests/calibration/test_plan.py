"""What a run asks for, and when a reading stands."""

import numpy as np
import pytest

from rodtrue.calibration.document import Point
from rodtrue.calibration.plan import follows, left_to_take, places_of, plan, refuse_too_few, settled
from rodtrue.model.errors import InputError


def test_points_are_asked_up_and_down_in_every_cycle() -> None:
    asked = [(target.cycle, target.direction, target.value) for target in plan([1.0, 2.0], 2)]
    one = [("up", 1.0), ("up", 2.0), ("down", 2.0), ("down", 1.0)]
    assert asked == [(cycle, *step) for cycle in (1, 2) for step in one]


def test_points_are_read_in_either_unit_system() -> None:
    # NIST SP 811, appendix B: 1 psi = 6.894757 kPa, 1 in = 25.4 mm.
    assert places_of("pressure", "10, 20 psi") == pytest.approx([68.94757, 137.89515], rel=1e-6)
    assert places_of("travel", "1,2 in") == pytest.approx([25.4, 50.8])


@pytest.mark.parametrize(
    ("quantity", "text", "says"),
    [
        ("pressure", "5 psi, 30 kPa", "units psi, kPa"),
        ("pressure", "5,10 mm", "units mm"),
        ("travel", "5,10", "no unit"),
        ("travel", "5,x mm", "units x, mm"),
        ("travel", "5,,10 mm", "'' is not a number"),
        ("travel", "5,10,10 mm", "not in rising order"),
        ("travel", "10,5 mm", "not in rising order"),
    ],
)
def test_points_that_mix_units_or_do_not_rise_are_refused(quantity: str, text: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        places_of(quantity, text)


def test_a_reading_that_creeps_has_not_settled_and_a_noisy_one_has() -> None:
    rng = np.random.default_rng(3)
    still = 20_000 + 15 * rng.standard_normal(500)
    creeping = still + np.linspace(0.0, 60.0, 500)
    assert settled(creeping.astype(np.uint16)) is None
    found = settled(still.astype(np.uint16))
    assert found is not None
    assert found.code == pytest.approx(20_000, abs=3)
    assert found.sd_codes == pytest.approx(15, rel=0.2)


@pytest.mark.parametrize(
    ("quantity", "text"),
    [("pressure", "5,10,20,40,80,500 psi"), ("pressure", "-1,10 psi"), ("travel", "10,101 mm"), ("travel", "1,4 in")],
)
def test_points_beyond_the_sensors_range_are_refused_before_anybody_sets_them(quantity: str, text: str) -> None:
    with pytest.raises(InputError, match="not within the sensor's"):
        places_of(quantity, text)


def test_too_few_points_are_refused_before_the_first_is_set() -> None:
    refuse_too_few("travel", [1.0, 2.0, 3.0, 4.0, 5.0])
    with pytest.raises(InputError, match="4 named; a calibration needs 5"):
        refuse_too_few("travel", [1.0, 2.0, 3.0, 4.0])


def test_a_run_broken_off_is_asked_only_for_the_rest_of_its_points() -> None:
    planned = plan([1.0, 2.0], 2)
    taken = [Point(target.cycle, target.direction, target.value, 100.0, 1.0, 500) for target in planned]
    assert left_to_take(planned, [], "travel") == planned
    assert left_to_take(planned, taken[:3], "travel") == planned[3:]
    assert left_to_take(planned, taken, "travel") == []


@pytest.mark.parametrize(
    ("places", "cycles", "says"),
    [([1.0, 3.0], 2, "cycle 1, up, 2 mm; asked for now is cycle 1, up, 3 mm"), ([1.0, 2.0], 1, "no further one")],
)
def test_points_that_are_not_the_beginning_of_the_plan_are_refused(
    places: list[float], cycles: int, says: str
) -> None:
    taken = [Point(target.cycle, target.direction, target.value, 100.0, 1.0, 500) for target in plan([1.0, 2.0], 2)]
    with pytest.raises(InputError, match=says):
        left_to_take(plan(places, cycles), taken, "travel")


@pytest.mark.parametrize(
    ("reference_mm", "code", "expected"),
    [
        (20.0, 17_040.0, True),
        (20.0, 11_800.0, False),
        (20.0, 6_500.0, False),
        (20.0, 40_000.0, False),
        (10.0, 0.0, True),
    ],
)
def test_a_reading_that_has_not_moved_as_its_reference_did_is_noticed(
    reference_mm: float, code: float, expected: bool
) -> None:
    before = Point(1, "up", 10.0, 11_796.0, 1.0, 500)
    assert follows(before, Point(1, "up", reference_mm, code, 1.0, 500), "travel") is expected
    assert follows(None, before, "travel")
