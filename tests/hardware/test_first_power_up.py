"""What a builder is told to expect is what firmware and host accept."""

import ast
import re
from pathlib import Path

import circuits
import pytest

from rodtrue.capture.scaling import NOMINAL, supply_v
from rodtrue.cli import app
from rodtrue.resources import room

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
V = circuits.values()
PAGES = sorted(HARDWARE.glob("*.md"))


def window(name: str) -> tuple[int, int]:
    """A pair of limits in the firmware's self-test."""
    text = (room("firmware") / "selftest.py").read_text("utf-8")
    pair = next(line for line in text.splitlines() if line.startswith(f"{name} = "))
    low, high = re.findall(r"const\((\d+)\)", pair)
    return int(low), int(high)


@pytest.mark.parametrize(("first", "last", "limits"), [
    ("zero_low_code", "zero_high_code", "_LIVE"),
    ("pressure_low_code", "pressure_high_code", "_LIVE"),
    ("monitor_525_code", "monitor_475_code", "_SUPPLY"),
    ("thermistor_80_code", "thermistor_15_code", "_THERMISTOR"),
])  # fmt: skip
def test_expected_codes_pass_the_self_test(first, last, limits):
    low, high = window(limits)
    assert low <= V[first] < V[last] <= high


def test_an_open_or_shorted_sensor_fails_the_self_test():
    low, high = window("_LIVE")
    assert V["open_rest_ratio"] * 65536 < low
    assert high < 0.998 * 65536


def test_sensors_ends_pass_the_self_test():
    low, high = window("_LIVE")
    assert low < V["zero_code"] < V["end_code"] < high


def test_codes_for_ten_millimetres_and_a_hundred_kilopascals_are_the_hosts():
    import numpy as np

    start = 6554
    travel = NOMINAL.travel.values(np.array([start, start + V["travel_10mm_codes"]]))
    pressure = NOMINAL.pressure.values(np.array([start, start + V["pressure_100kpa_codes"]]))
    assert np.diff(travel)[0] == pytest.approx(10.0, abs=0.01)
    assert np.diff(pressure)[0] == pytest.approx(100.0, abs=0.1)


def test_supply_codes_are_the_hosts():
    assert supply_v(V["monitor_code"]) == pytest.approx(5.0, abs=0.001)
    assert supply_v(V["monitor_475_code"]) == pytest.approx(4.75, abs=0.001)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_in_the_folder_lead_somewhere_in_the_folder(page):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
        assert (HARDWARE / target).is_file(), target


def test_the_readme_lists_every_file_of_the_folder():
    text = (HARDWARE / "README.md").read_text("utf-8")
    for path in HARDWARE.iterdir():
        if path.is_file() and path.suffix != ".svg" and path.name != "README.md":
            assert path.name in text, path.name
    mounting = (HARDWARE / "mounting.md").read_text("utf-8")
    for path in HARDWARE.glob("*.svg"):
        assert path.name in text + mounting, path.name


def test_fixture_commands_in_the_pages_exist():
    import typer.main

    fixture = typer.main.get_command(app).commands["fixture"].commands
    for page in PAGES:
        for name in re.findall(r"`rodtrue fixture ([a-z-]+)", page.read_text("utf-8")):
            assert name in fixture, f"{page.name}: rodtrue fixture {name}"


def test_scripts_of_the_folder_need_nothing_but_python():
    import sys

    own = {path.stem for path in HARDWARE.glob("*.py")}
    for path in HARDWARE.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name.split(".")[0] for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [(node.module or "").split(".")[0]]
            assert set(names) <= own | set(sys.stdlib_module_names), path.name
