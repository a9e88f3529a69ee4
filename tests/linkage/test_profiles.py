"""Profiles with a geometry: the shipped ones work, and what does not fit is refused with file and field."""

import pytest

from rodtrue.linkage import RODS, linkage_of
from rodtrue.model.errors import InputError
from rodtrue.profiles import load_profile, new_profile_text, parse_profile, profile_text, shipped_profiles

ONE, TWO = CHAINS = ("example-one-bell-crank", "example-two-bell-cranks")
HOW = '\nhow = "a 3/16 inch index pin through the upper bell crank, the lever on its stop"'


@pytest.mark.parametrize("name", ["example-direct", *CHAINS])
def test_shipped_profile_is_exact_and_covers_every_rod_error_the_fixture_shows(name):
    profile = load_profile(name)
    linkage = linkage_of(profile)
    assert profile.invented and profile.name == name
    assert linkage.rods == RODS[profile.layout]
    assert linkage.lever_start_mm == pytest.approx(0.0, abs=1e-9)
    for error_mm in (-15.0, 12.0):
        change_mm = linkage.length_change_mm(profile.adjuster.rod, to_rod_error_mm=error_mm)
        found = linkage.changed({profile.adjuster.rod: change_mm})
        assert found.rod_error_mm == pytest.approx(error_mm, abs=1e-9)


def test_every_layout_has_a_shipped_profile():
    assert {load_profile(name).layout for name in shipped_profiles()} == set(RODS)


@pytest.mark.parametrize("name", CHAINS)
def test_new_profile_may_start_from_any_layout(name):
    profile = parse_profile(new_profile_text("my-unit", name), "new")
    assert (profile.name, profile.layout) == ("my-unit", load_profile(name).layout)
    assert profile.note == "Say where these numbers come from."


def test_one_bell_crank_adjusts_its_lower_rod_at_a_slip_joint():
    adjuster = load_profile("example-one-bell-crank").adjuster
    assert (adjuster.rod, adjuster.pitch_mm) == ("lower rod", None)
    assert "upper end of the lower rod" in adjuster.where


def test_two_bell_cranks_set_the_intermediate_rod_first_by_an_index_pin():
    profile = load_profile("example-two-bell-cranks")
    (first,) = profile.set_first
    assert first.rod == "intermediate rod" and "threaded ball socket" in first.where
    assert "3/16 inch index pin through the upper bell crank" in first.how
    assert profile.adjuster.rod == "upper rod" and profile.adjuster.pitch_mm is not None


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        (ONE, ("arm_mm = 75.0\narm_deg", "arm_deg"), "arm_mm"),
        (ONE, ("in_arm_mm = 75.0", "in_arm_mm = -75.0"), "geometry makes no linkage that works: an arm is -75"),
        (ONE, ("in_arm_mm = 75.0", "in_arm_mm = 25.0"), "short of full travel"),
        (ONE, ("travel_deg = 0.0", "travel_deg = 180.0"), "would be pulled, and the action is push"),
        (ONE, ("travel_deg = 0.0", "travel_deg = inf"), "or a place or angle that is no finite number"),
        (ONE, ("travel_deg = 0.0", "travel_deg = nan"), "geometry.travel_deg"),
        (ONE, ('action = "push"', 'action = "pull"'), "every rod would be pushed, and the action is pull"),
        (ONE, ("in_arm_mm", "in_arm_cm"), "geometry.bell_cranks[0]"),
        (ONE, ("pivot_mm = [380.0, -70.0]", "pivot_mm = [380.0]"), "geometry.bell_cranks[0].pivot_mm"),
        (ONE, ('rod = "lower rod"', 'rod = "intermediate rod"'), "adjuster.rod is 'intermediate rod'"),
        (ONE, ('layout = "one-bell-crank"', 'layout = "two-bell-cranks"'), "set_first lacks the intermediate rod"),
        (ONE, ('layout = "one-bell-crank"', 'layout = "direct"'), "adjuster.rod is 'lower rod'"),
        (TWO, ('rod = "upper rod"', 'rod = "intermediate rod"'), "set_first[0].rod is 'intermediate rod', which has"),
        (TWO, ("pitch_mm = 1.058", "pitch_mm = 0.0"), "adjuster.pitch_mm is 0.0"),
        (TWO, ("pitch_mm = 1.058\nhow", "pitch_mm = -1.0\nhow"), "set_first[0].pitch_mm is -1.0"),
        (TWO, ("\nhow =", "\nwhy ="), "set_first[0].why"),
        (TWO, (HOW, ""), "set_first[0].how"),
        (TWO, ('layout = "two-bell-cranks"', 'layout = "one-bell-crank"'), "set_first[0].rod is 'intermediate rod'"),
        ("example-direct", ("[limits]", 'set_first = [{rod = "x", where = ""}]\n[limits]'), "set_first[0].rod"),
        ("example-direct", ("[adjuster]", '[adjuster]\nrod = "upper rod"'), "adjuster.rod is 'upper rod'"),
    ],
)  # fmt: skip
def test_what_makes_no_linkage_of_its_layout_is_refused_with_the_field(name, change, says):
    good = profile_text(name)[0]
    assert change[0] in good
    with pytest.raises(InputError) as refusal:
        parse_profile(good.replace(*change, 1), "bad.toml")
    assert says in refusal.value.message.replace("`", "") + refusal.value.next_step
    assert "bad.toml" in refusal.value.message


def test_layout_with_bell_cranks_needs_a_geometry():
    text = profile_text(ONE)[0]
    without = text[: text.index("[geometry]")] + text[text.index("[lever]") :]
    with pytest.raises(InputError, match="the layout one-bell-crank needs a geometry"):
        parse_profile(without, "bad.toml")


def test_direct_layout_has_no_geometry():
    geometry = profile_text(ONE)[0]
    geometry = geometry[geometry.index("[geometry]") : geometry.index("[lever]")]
    with pytest.raises(InputError, match="geometry is for layouts with bell cranks"):
        parse_profile(profile_text("example-direct")[0] + geometry, "bad.toml")
