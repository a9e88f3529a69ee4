"""The parts' budget as terms, and what a calibration takes the place of."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from rodtrue.analysis.budget import travel_rows, with_instrument
from rodtrue.analysis.reference import Rests
from rodtrue.calibration.files import load_calibration
from rodtrue.calibration.parts_budget import parse_parts_budget, parts_budget, terms_of_calibration, terms_of_parts
from rodtrue.calibration.record import record_of
from rodtrue.model.conditions import Conditions
from rodtrue.profiles import load_profile

VERSION_1 = Path(__file__).parents[1] / "data" / "calibration" / "format_version_1.json"


def budget_of(*rows: dict[str, Any]) -> bytes:
    shared = {"distribution": "rectangular", "why": "made up"}
    return json.dumps({"schema": "rodtrue.parts-budget/1", "rows": [{**shared, **row} for row in rows]}).encode()


def channels() -> list[dict[str, Any]]:
    record = record_of(load_calibration(VERSION_1))
    names = ("scale_half_width", "nonlinearity_half_width")
    return [{name: getattr(channel, name) for name in names} for channel in record.channels]


def test_every_row_of_the_shipped_budget_has_its_place() -> None:
    terms = terms_of_parts(parts_budget())
    assert terms.source == "parts"
    for name in ("travel_scale", "travel_near_mm", "travel_far_mm", "pressure_gain", "pressure_local_kpa"):
        assert getattr(terms, name) > 0, name


def test_rows_combine_as_standard_uncertainties() -> None:
    # JCGM 100:2008, 4.3.7, 4.3.9 note 1 (u-shaped: a / sqrt 2), 5.1.2; a normal row states its 95 % half-width.
    budget = parse_parts_budget(
        budget_of(
            {"name": "a", "channel": "travel", "applies_to": "distance", "half_width": 0.3, "unit": "percent"},
            {"name": "b", "channel": "travel", "applies_to": "distance", "half_width": 0.4, "unit": "percent"},
            {"name": "c", "channel": "pressure", "applies_to": "constant", "half_width": 1.96, "unit": "kPa",
             "distribution": "normal"},
            {"name": "d", "channel": "travel", "applies_to": "constant", "half_width": 0.1, "unit": "mm",
             "distribution": "u-shaped"},
        ),
        "made up",
    )  # fmt: skip
    terms = terms_of_parts(budget)
    assert terms.travel_scale == pytest.approx(0.005)
    assert terms.pressure_offset_kpa / math.sqrt(3) == pytest.approx(1.0)
    assert terms.travel_constant_mm / math.sqrt(3) == pytest.approx(0.1 / math.sqrt(2))


def test_scatter_that_the_fit_sees_is_not_counted_twice() -> None:
    row = {"name": "noise", "channel": "travel", "applies_to": "constant", "half_width": 9.0, "unit": "mm"}
    budget = parse_parts_budget(budget_of({**row, "in_statistical_part": True}), "made up")
    assert terms_of_parts(budget).travel_constant_mm == 0.0


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"applies_to": "reading", "unit": "mm"}, "is not known for travel"),
        ({"applies_to": "distance", "unit": "mm", "half_width": -1.0}, "half-width -1"),
        ({"applies_to": "distance", "unit": "inch"}, "unit"),
    ],
)
def test_a_row_without_a_place_is_refused_by_name(row: dict[str, Any], says: str) -> None:
    from rodtrue.model.errors import InputError

    base = {"name": "odd", "channel": "travel", "half_width": 1.0}
    with pytest.raises(InputError, match=says):
        parse_parts_budget(budget_of({**base, **row}), "made up")


def test_a_calibration_takes_the_place_of_scale_and_nonlinearity_and_leaves_temperature_and_play() -> None:
    parts, found = terms_of_parts(parts_budget()), terms_of_calibration(channels(), parts_budget())
    kept = [row for row in parts_budget().rows if row.name == "travel_temperature"]
    travel = channels()[0]
    assert found.travel_scale == pytest.approx(math.hypot(travel["scale_half_width"], kept[0].half_width / 100))
    assert found.travel_far_mm == pytest.approx(math.sqrt(2) * travel["nonlinearity_half_width"])
    assert found.travel_near_mm <= parts.travel_near_mm
    assert found.travel_constant_mm == parts.travel_constant_mm
    assert found.pressure_offset_kpa < parts.pressure_offset_kpa


def test_rows_of_the_rod_errors_budget_follow_the_terms_and_say_where_they_are_from() -> None:
    profile, rests = load_profile(), Rests(0.0, 25.0, [0.0], [25.0])
    terms = terms_of_parts(parts_budget())
    conditions = Conditions(kind="board", instrument=terms)
    rows = {row.name: row for row in travel_rows(-8.0, rests, with_instrument(profile, terms), conditions)}
    assert rows["travel nonlinearity"].half_width == terms.travel_far_mm
    assert rows["travel scale"].half_width == terms.travel_scale
    assert "parts" in rows["travel scale"].note
    assert rows["axis and arc"].half_width == profile.instrument.axis_and_arc
    of_csv = {row.name: row for row in travel_rows(-8.0, rests, profile, Conditions())}
    assert of_csv["travel nonlinearity"].half_width == pytest.approx(0.08)
    assert "joint and converter" not in of_csv


def test_the_invented_shops_sensors_lie_within_their_parts() -> None:
    from rodtrue.virtual.scenario import load_scenario, shipped_scenarios

    terms = terms_of_parts(parts_budget())
    for name in shipped_scenarios():
        sensors = load_scenario(name).sensors
        assert max(map(abs, sensors.pressure_gain)) <= terms.pressure_gain
        assert max(map(abs, sensors.pressure_offset_kpa)) <= terms.pressure_offset_kpa
