"""The circuits' values, against network analysis, formulas of textbooks and the parts' data sheets."""

import json
import math
from pathlib import Path

import circuits
import numpy as np
import pytest

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
V = circuits.values()
R = circuits.RATINGS


def divider_ratio(travel_part: float, track_ohm: float, each_end_ohm: float, load_ohm: float) -> float:
    """Node analysis (Kirchhoff) with numpy: supply 1 V, nodes upper end, wiper, lower end."""
    lower, upper = max(travel_part * track_ohm, 1e-3), max((1 - travel_part) * track_ohm, 1e-3)
    conductance = np.array([
        [1 / each_end_ohm + 1 / upper, -1 / upper, 0.0],
        [-1 / upper, 1 / upper + 1 / lower + 1 / load_ohm, -1 / lower],
        [0.0, -1 / lower, 1 / lower + 1 / each_end_ohm],
    ])  # fmt: skip
    return float(np.linalg.solve(conductance, np.array([1 / each_end_ohm, 0.0, 0.0]))[1])


def test_end_resistors_give_ten_to_ninety_percent():
    each = circuits.end_ohm(R.track_ohm)
    assert divider_ratio(0.0, R.track_ohm, each, 1e15) == pytest.approx(0.1, abs=1e-6)
    assert divider_ratio(1.0, R.track_ohm, each, 1e15) == pytest.approx(0.9, abs=1e-6)


@pytest.mark.parametrize(("sign", "zero", "scale"), [
    (-1, "low_track_zero_percent", "low_track_scale_percent"),
    (1, "high_track_zero_percent", "high_track_scale_percent"),
])  # fmt: skip
def test_what_an_unmatched_track_costs(sign, zero, scale):
    track = R.track_ohm * (1 + sign * R.track_tolerance)
    low, high = (divider_ratio(part, track, V["end_ohm"], 1e15) for part in (0.0, 1.0))
    assert V[zero] == pytest.approx(100 * low, abs=1e-3)
    assert V[scale] == pytest.approx(100 * ((high - low) / 0.8 - 1), abs=1e-3)


def test_matching_within_half_a_percent_keeps_the_scale_within_a_tenth():
    worst = 0.0
    for sign in (-1, 1):
        each = V["end_ohm"] * (1 + sign * R.end_match)
        low, high = (divider_ratio(part, R.track_ohm, each, 1e15) for part in (0.0, 1.0))
        worst = max(worst, abs((high - low) / 0.8 - 1))
    assert V["end_scale_percent"] == pytest.approx(100 * worst, rel=0.01)


def test_pull_downs_load_on_the_divider_is_as_stated():
    each = V["end_ohm"]
    parts = np.linspace(0.0, 1.0, 201)
    loaded = np.array([divider_ratio(part, R.track_ohm, each, R.pull_down_ohm) for part in parts])
    wrong_mm = (0.1 + 0.8 * parts - loaded) / 0.8 * 100
    assert V["pull_down_most_mm"] == pytest.approx(wrong_mm.max(), rel=0.01)
    for key, first, last in (("near", 0, 100), ("whole", 0, 200), ("far", 180, 200)):
        off = (loaded[last] - loaded[first]) / (0.8 * (parts[last] - parts[first])) - 1
        assert V[f"pull_down_{key}_percent"] == pytest.approx(100 * off, abs=0.002)


@pytest.mark.parametrize(("source", "series", "key"), [
    ("end_source_ohm", "filter_ohm", "corner_end_hz"),
    ("middle_source_ohm", "filter_ohm", "corner_middle_hz"),
    ("transducer_ohm", "pressure_filter_ohm", "corner_pressure_hz"),
])  # fmt: skip
def test_at_the_corner_an_rc_lets_half_the_power_through(source, series, key):
    """|1 / (1 + j w R C)| is 1 / sqrt 2 at the corner (any textbook), by complex impedances."""
    impedance = 1 / (2j * math.pi * V[key] * R.filter_f)
    gain = abs(impedance / (impedance + V[source] + V[series]))
    assert gain == pytest.approx(1 / math.sqrt(2), rel=1e-9)


def test_both_corners_are_150_hz_where_the_lever_starts():
    assert V["corner_end_hz"] == pytest.approx(150.0, rel=0.01)
    assert V["corner_pressure_hz"] == pytest.approx(150.0, rel=0.01)


def test_channels_apart_in_time_by_less_than_a_converter_step_of_travel():
    assert V["lag_apart_um"] < 1000 * V["step_mm"]


def test_converter_runs_inside_its_data_sheet():
    """MCP3208 data sheet: 100 000 conversions/s at 5 V, 50 000 at 2.7 V (read in an excerpt); clock at most
    2 MHz at 5 V, acquisition 1.5 clocks, 20 pF behind 1 kOhm (from memory).
    """
    pins = json.loads((HARDWARE / "pins.json").read_text("utf-8"))["converter"]
    assert pins["clock_hz"] == R.clock_hz <= 2_000_000
    assert V["converter_most_per_s"] <= 50_000
    assert V["conversions_most_per_s"] <= V["converter_most_per_s"]
    assert V["pair_us"] < V["interval_least_us"]
    assert V["settle_us"] < V["acquisition_us"]


def test_acquisition_settles_to_half_a_step():
    """One minus exp(-t / RC), the charging of a capacitor (textbook), at the stated times."""
    tau = R.switch_ohm * R.sample_f
    assert math.exp(-V["settle_us"] * 1e-6 / tau) == pytest.approx(0.5 / 4096)
    source = V["unfiltered_limit_kohm"] * 1000 + R.switch_ohm
    assert math.exp(-V["acquisition_us"] * 1e-6 / (source * R.sample_f)) == pytest.approx(0.5 / 4096)
    assert R.filter_ohm > V["unfiltered_limit_kohm"] * 1000, "then the text's reason for C1 and C2 falls away"


def test_charge_carried_between_channels_is_as_stated():
    """Simulated: capacitors of both channels sampled in turn by one sample capacitor that is never emptied."""
    ohm = R.filter_ohm + V["middle_source_ohm"]
    interval_s = 1 / (4 * R.rate_hz)
    held = 0.0
    for _ in range(4000):
        sampled = 1.0
        shared = (held * R.filter_f + sampled * R.sample_f) / (R.filter_f + R.sample_f)
        held = shared * math.exp(-interval_s / (ohm * R.filter_f))
    mean = shared * (ohm * R.filter_f / interval_s) * (1 - math.exp(-interval_s / (ohm * R.filter_f)))
    assert 100 * mean == pytest.approx(V["carried_percent"], rel=0.05)


def test_an_open_wire_reads_below_the_self_tests_limit_at_rest():
    assert V["open_rest_ratio"] < 0.05
    assert V["open_typical_ratio"] < 0.05


def test_drivers_saturate_within_what_a_pin_gives():
    """4 mA is the RP2040's default drive (data sheet, from memory); a gain of 100 is what parts.md asks for."""
    for name in ("lamp", "sounder"):
        assert V[f"{name}_base_ma"] < 4.0
        assert V[f"{name}_gain"] < 100 / 3
    assert 0.8 * 20 < V["lamp_ma"] <= 20


def test_contacts_read_as_what_they_are():
    """RP2040 input low below 0.8 V at 3.3 V (data sheet, from memory)."""
    assert V["contact_low_v"] < 0.8
    assert 5 * V["contact_open_ms"] < 30


def test_isolator_asked_for_leaves_the_sensors_their_supply():
    parts = (HARDWARE / "parts.md").read_text("utf-8")
    asked_v = float(parts.split("output ")[2].split(" to 5.25 V")[0])
    assert V["supply_needed_v"] <= asked_v < V["supply_needed_v"] + 0.02


def test_mounting_figures_follow_from_geometry():
    """cos of the angle; Pythagoras for the rod set aside; the pin's arc by points on a circle."""
    assert V["axis_percent"] == pytest.approx(100 * (1 - np.cos(np.deg2rad(2.0))))
    assert V["aside_mm"] == pytest.approx(10.0**2 / (2 * 500.0), rel=0.001)
    for travel_mm in (5.0, 20.0, 45.0):
        pin = 60.0 * np.exp(1j * (np.pi / 2 - np.arcsin(travel_mm / 60.0)))
        long_mm = abs(pin - (60.0j - 250.0))
        assert V[f"arc_{travel_mm:.0f}mm_mm"] == pytest.approx(long_mm - 250.0 - travel_mm, abs=1e-9)


def test_hose_does_not_resonate_in_the_pumps_ripple():
    """Quarter wave of a dead-ended line: c / 4 L (acoustics textbook); ripple 60 to 300 Hz."""
    assert V["hose_quarter_wave_hz"] == pytest.approx(1000.0 / (4 * 0.6))
    assert V["hose_quarter_wave_hz"] > 300
    assert 60 < V["hose_long_quarter_wave_hz"] < 300
