"""The profile's section [shifts]: optional, and strict where it is there."""

import pytest

from rodtrue.model.errors import InputError
from rodtrue.profiles import load_profile, parse_profile, shipped_profiles
from rodtrue.shifts.predict import predict_shifts
from shifts.example_unit import changed, changed_text

SHAFT = "shaft_rpm = [0.0, 925.0, 3780.0]"
ROAD = "road_kmh = [0.0, 35.0, 145.0]"
AXLE, TYRE = "axle_ratio = 3.25", "tyre_radius_mm = 330.0"


def test_every_shipped_profile_that_has_shift_data_is_invented_and_predicts():
    loaded = [load_profile(name) for name in shipped_profiles()]
    with_data = [profile for profile in loaded if profile.shifts is not None]
    assert "example-direct" in {profile.name for profile in with_data}
    for profile in with_data:
        assert profile.invented
        prediction = predict_shifts(profile)
        assert all(row.exact.upshift.kmh is not None for row in prediction.openings)
        assert prediction.kickdown_ends.exact.kmh is not None


def test_section_may_be_left_out():
    text = changed_text()
    assert parse_profile(text[: text.index("[shifts.throttle]")], "without").shifts is None


def test_governor_may_be_given_by_road_speed():
    profile = changed((SHAFT, ROAD), (AXLE, ""), (TYRE, ""))
    assert profile.shifts.governor.road_kmh == (0.0, 35.0, 145.0)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ([("stroke_mm = 5.0", "stroke = 5.0")], "shifts.valve"),
        ([("stroke_mm = 5.0", "stroke_mm = 5.0\nweight = 1.0")], "unknown field shifts.valve.weight"),
        ([("[shifts.valve]", "[shifts.ratio]\nfirst = 2.4\n[shifts.valve]")], "unknown field shifts.ratio"),
        ([("stroke_mm = 5.0", "stroke_mm = 0.0")], "shifts.valve.stroke_mm"),
        ([("throttle_area_mm2 = 92.0", "throttle_area_mm2 = -92.0")], "shifts.valve.throttle_area_mm2"),
        ([("kickdown_area_mm2 = 135.0", "kickdown_area_mm2 = inf")], "shifts.valve.kickdown_area_mm2"),
        ([("kickdown_area_mm2 = 135.0", 'kickdown_area_mm2 = "big"')], "shifts.valve.kickdown_area_mm2"),
        ([("full_kpa = 525.0", "full_kpa = nan")], "shifts.throttle.full_kpa"),
        ([("plateau_kpa = 425.0", "plateau_kpa = 25.0")], "baseline_kpa < plateau_kpa"),
        ([("full_kpa = 525.0", "full_kpa = 400.0")], "plateau_kpa <= full_kpa"),
        ([("wide_open_mm = 45.0", "wide_open_mm = 43.0")], "shifts.throttle.detent_mm"),
        ([("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = [0.0, 150.0, 150.0]")], "pressure_kpa must rise"),
        ([("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = [5.0, 150.0, 620.0]")], "must begin with 0"),
        ([("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = [0.0, 620.0]")], "belong in pairs"),
        ([("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = []")], "two or more"),
        ([(SHAFT, "shaft_rpm = [0.0, 3780.0, 925.0]")], "shifts.governor.shaft_rpm must rise"),
        ([(SHAFT, "shaft_rpm = [-1.0, 925.0, 3780.0]")], "shifts.governor.shaft_rpm"),
        ([(SHAFT, "")], "either road_kmh or shaft_rpm"),
        ([(SHAFT, f"{SHAFT}\n{ROAD}")], "either road_kmh or shaft_rpm"),
        ([(SHAFT, ROAD)], "shifts.governor.axle_ratio belongs with shaft_rpm"),
        ([(TYRE, "")], "shifts.governor.tyre_radius_mm belongs with shaft_rpm"),
        ([(AXLE, "axle_ratio = 0.0")], "shifts.governor.axle_ratio"),
    ],
)
def test_mistake_is_refused_by_field(changes, named):
    with pytest.raises(InputError) as refusal:
        changed(*changes)
    assert named in refusal.value.message
    assert refusal.value.next_step


@pytest.mark.parametrize(
    ("change", "cause"),
    [
        (("part_throttle_area_mm2 = 111.0", "part_throttle_area_mm2 = 190.0"), "part-throttle plug"),
        (("kickdown_area_mm2 = 135.0", "kickdown_area_mm2 = 190.0"), "kickdown plug"),
        (("spring_rate_n_per_mm = 0.24", "spring_rate_n_per_mm = 2.4"), "spring"),
    ],
)
def test_valve_that_would_come_back_at_once_is_refused(change, cause):
    with pytest.raises(InputError, match=f"hunt.*{cause}"):
        changed(change)
