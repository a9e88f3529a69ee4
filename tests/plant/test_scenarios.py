"""Shipped scenarios: of this schema, marked invented, every field read; another schema is refused, and named."""

import tomllib
from dataclasses import fields, is_dataclass
from typing import get_type_hints

import msgspec
import pytest

import rodtrue.virtual.scenario as scenarios
from rodtrue.model.errors import InputError
from rodtrue.virtual.scenario import Scenario, load_scenario, shipped_scenarios

SHIPPED = scenarios.room("shared") / "scenarios"


def unread(entry: dict, kind: type, at: str = "") -> list[str]:
    """Return the keys of a file that no field takes up."""
    known = {field.name for field in fields(kind)}
    hints = get_type_hints(kind)
    found = [f"{at}{key}" for key in entry if key not in known]
    for key in known & set(entry):
        if is_dataclass(hints[key]) and isinstance(entry[key], dict):
            found += unread(entry[key], hints[key], f"{at}{key}.")
    return found


@pytest.mark.parametrize("name", shipped_scenarios())
def test_a_shipped_scenario_is_invented_named_as_its_file_and_read_to_the_last_key(name):
    scenario = load_scenario(name)
    assert (scenario.name, scenario.invented) == (name, True)
    assert name == f"invented-shop-{scenario.layout}"
    assert unread(tomllib.loads((SHIPPED / f"{name}.toml").read_text("utf-8")), Scenario) == []


def test_a_misspelled_key_would_be_seen():
    assert unread({"name": "x", "fault_size": {}, "hand": {"tremor_hz": [1, 2], "tremor": 1}}, Scenario) == [
        "fault_size",
        "hand.tremor",
    ]


@pytest.fixture
def changed(tmp_path, monkeypatch):
    """Return what loads a copy of a shipped scenario with one piece of its text changed."""

    def load(before: str, after: str) -> Scenario:
        text = (SHIPPED / "invented-shop-direct.toml").read_text("utf-8")
        assert text.count(before) == 1
        (tmp_path / "scenarios").mkdir()
        (tmp_path / "scenarios" / "made-up.toml").write_text(text.replace(before, after), "utf-8")
        monkeypatch.setattr(scenarios, "room", lambda _: tmp_path)
        return load_scenario("made-up")

    return load


def test_a_change_within_the_schema_is_read(changed):
    scenario = changed("full_pressure_kpa = [380.0, 470.0]", "full_pressure_kpa = [381, 470]")
    assert scenario.valve.full_pressure_kpa == (381.0, 470.0)


@pytest.mark.parametrize(("before", "after", "told"), [
    ('schema = "rodtrue.scenario/1"', 'schema = "rodtrue.scenario/2"', r"\$.schema"),
    ('schema = "rodtrue.scenario/1"\n', "", "schema"),
    ('layout = "direct"', 'layout = "sideways"', r"\$.layout"),
    ("full_pressure_kpa = [380.0, 470.0]", "full_pressure_kpa = [380.0]", r"\$.valve.full_pressure_kpa"),
    ("full_pressure_kpa = [380.0, 470.0]", 'full_pressure_kpa = "high"', r"\$.valve.full_pressure_kpa"),
    ("full_pressure_kpa", "pressure_kpa", "full_pressure_kpa"),
])  # fmt: skip
def test_another_schema_or_a_field_that_is_not_its_own_is_refused_with_its_place(changed, before, after, told):
    with pytest.raises(msgspec.ValidationError, match=told):
        changed(before, after)


def test_a_scenario_that_is_not_shipped_is_told_with_those_that_are():
    with pytest.raises(InputError, match="not a shipped scenario") as refused:
        load_scenario("invented-shop-sideways")
    assert "invented-shop-direct" in str(refused.value) + str(vars(refused.value))
