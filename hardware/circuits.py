"""The fixture's circuits, worked out: every number in the pages of this folder comes from here.

Pure arithmetic from the parts' ratings as parts.md asks for them. Units are in the names; ratios are of the
sensors' supply, which is the converter's reference.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

CODES = 65536
CONVERTER_STEPS = 4096


@dataclass(frozen=True)
class Ratings:
    """What the parts are asked to be."""

    supply_v: float = 5.0
    logic_v: float = 3.3
    # Potentiometer: electrical stroke, resistance and their tolerances.
    stroke_mm: float = 100.0
    stroke_tolerance_mm: float = 0.5
    track_ohm: float = 5000.0
    track_tolerance: float = 0.20
    track_ppm_per_k: float = 600.0
    track_linearity: float = 0.001
    track_wave_mm: float = 50.0
    end_match: float = 0.005
    joint_play_mm: float = 0.02
    live_zero: float = 0.1
    live_end: float = 0.9
    pull_down_ohm: float = 2.2e6
    leak_typical_a: float = 1e-9
    leak_most_a: float = 1e-6
    # Filter: the same corner on both channels, each resistor less what its sensor already has.
    filter_ohm: float = 10_000.0
    pressure_filter_ohm: float = 10_500.0
    filter_f: float = 100e-9
    filter_f_tolerance: float = 0.05
    filter_ohm_tolerance: float = 0.01
    # Transducer.
    range_kpa: float = 2068.0
    transducer_ohm: float = 100.0
    transducer_a: float = 0.010
    offset_of_span: float = 0.01
    scale: float = 0.01
    nlhr_of_span: float = 0.0025
    drift_of_span_per_k: float = 0.0002
    # Converter (MCP3208).
    clock_hz: float = 1e6
    clocks: int = 24
    acquisition_clocks: float = 1.5
    sample_f: float = 20e-12
    switch_ohm: float = 1000.0
    reference_a: float = 150e-6
    converter_a: float = 400e-6
    inl_steps: float = 1.0
    rate_hz: float = 500.0
    rate_most_hz: float = 1000.0
    # Thermistor.
    thermistor_ohm: float = 10_000.0
    thermistor_beta_k: float = 3435.0
    thermistor_pull_up_ohm: float = 10_000.0
    # Supply of the sensors.
    fuse_ohm: float = 3.0
    supply_series_ohm: float = 4.7
    supply_f: float = 470e-6
    monitor_v: float = 3.0
    monitor_tolerance: float = 0.005
    monitor_ohm: float = 1000.0
    # Cable: 2 m of 0.25 mm2 copper.
    lead_m: float = 2.0
    lead_ohm_per_m: float = 0.070
    lead_contact_ohm: float = 0.02
    # Temperatures: of the box and the sensors beside an engine, against where the parts are rated.
    room_degc: float = 25.0
    hottest_degc: float = 60.0
    # Drivers and contacts.
    lamp_v: float = 2.1
    lamp_ohm: float = 150.0
    lamp_base_ohm: float = 2200.0
    sounder_a: float = 0.050
    sounder_base_ohm: float = 1000.0
    base_v: float = 0.7
    saturation_v: float = 0.2
    contact_pull_up_ohm: float = 10_000.0
    contact_series_ohm: float = 1000.0
    contact_f: float = 100e-9
    # Mounting.
    axis_deg: float = 2.0
    pin_radius_mm: float = 60.0
    rear_joint_mm: float = 250.0
    side_offset_mm: float = 10.0
    rod_mm: float = 500.0
    # Hose.
    hose_m: float = 0.6
    oil_sound_m_per_s: float = 1000.0


RATINGS = Ratings()


def parallel(a_ohm: float, b_ohm: float) -> float:
    """Return two resistances in parallel."""
    return a_ohm * b_ohm / (a_ohm + b_ohm)


def corner_hz(ohm: float, farad: float) -> float:
    """Return an RC's corner: 1 / (2 pi R C) (any textbook)."""
    return 1.0 / (2.0 * math.pi * ohm * farad)


def low_pass_gain(frequency_hz: float, tau_s: float) -> float:
    """Return what an RC of this time constant leaves of a frequency: 1 / sqrt(1 + (2 pi f tau)^2)."""
    return 1.0 / math.hypot(1.0, 2.0 * math.pi * frequency_hz * tau_s)


def end_ohm(track_ohm: float, r: Ratings = RATINGS) -> float:
    """Return the end resistor that puts a track between live zero and live end (each end alike)."""
    return track_ohm * r.live_zero / (r.live_end - r.live_zero)


def live_ratios(track_ohm: float, each_end_ohm: float) -> tuple[float, float]:
    """Return the wiper's ratios at the track's two ends, unloaded."""
    whole = track_ohm + 2.0 * each_end_ohm
    return each_end_ohm / whole, (each_end_ohm + track_ohm) / whole


def wiper_ohm(ratio: float, r: Ratings = RATINGS) -> float:
    """Return the divider's resistance as its wiper shows it: x (1 - x) R."""
    return ratio * (1.0 - ratio) * (r.track_ohm + 2.0 * end_ohm(r.track_ohm, r))


def loaded_ratio(ratio: float, r: Ratings = RATINGS) -> float:
    """Return the ratio with the pull-down at the wiper: exact divider of source and load."""
    return ratio * r.pull_down_ohm / (r.pull_down_ohm + wiper_ohm(ratio, r))


def pull_down_scale_error(from_mm: float, to_mm: float, r: Ratings = RATINGS) -> float:
    """Return by how much of itself a distance reads wrong for the pull-down's load."""
    span = r.live_end - r.live_zero
    near, far = (r.live_zero + span * at / r.stroke_mm for at in (from_mm, to_mm))
    return (loaded_ratio(far, r) - loaded_ratio(near, r)) / (far - near) - 1.0


def open_wiper_ratio(other_ratio: float, rate_hz: float, r: Ratings = RATINGS) -> float:
    """Return what an open wire reads at worst: the sample capacitor brings charge of the other channel."""
    conversions_per_s = 4.0 * rate_hz
    brought_ohm = 1.0 / (conversions_per_s * r.sample_f)
    return other_ratio * r.pull_down_ohm / (r.pull_down_ohm + brought_ohm)


def carried_over(source_ohm: float, rate_hz: float, r: Ratings = RATINGS) -> float:
    """Return how much of the other channel's difference appears: f C R, with the capacitor never emptied."""
    return 4.0 * rate_hz * r.sample_f * source_ohm


def thermistor_ohm(degc: float, r: Ratings = RATINGS) -> float:
    """Return the thermistor's resistance by the beta equation."""
    return r.thermistor_ohm * math.exp(r.thermistor_beta_k * (1 / (degc + 273.15) - 1 / 298.15))


def thermistor_ratio(degc: float, r: Ratings = RATINGS) -> float:
    """Return the thermistor's share of the supply."""
    ohm = thermistor_ohm(degc, r)
    return ohm / (ohm + r.thermistor_pull_up_ohm)


def swing(amplitude: float, distance: float, wave: float) -> float:
    """Return the most that a smooth error of this amplitude changes over a distance: 2 A sin(pi d / wave)."""
    return 2.0 * amplitude * math.sin(math.pi * min(distance / wave, 0.5))


def swing_out_mm(travel_mm: float, r: Ratings = RATINGS) -> float:
    """Return what the pin's arc adds to the sensor's reading: its rear joint lets it swing after the pin."""
    turn = math.asin(travel_mm / r.pin_radius_mm)
    aside = r.pin_radius_mm * (1.0 - math.cos(turn))
    return math.hypot(r.rear_joint_mm + travel_mm, aside) - r.rear_joint_mm - travel_mm


def _code(ratio: float) -> int:
    return round(ratio * CODES)


def values(r: Ratings = RATINGS) -> dict[str, float]:
    """Return every number the pages show, by name; percentages, kOhm, us and the like are in the names."""
    span = r.live_end - r.live_zero
    each_end = end_ohm(r.track_ohm, r)
    whole = r.track_ohm + 2 * each_end
    unmatched = [live_ratios(r.track_ohm * (1 + sign * r.track_tolerance), each_end) for sign in (-1, 1)]
    end_source, middle_source = wiper_ohm(r.live_zero, r), wiper_ohm(0.5, r)
    tau_travel = [(r.filter_ohm + ohm) * r.filter_f for ohm in (end_source, middle_source)]
    tau_pressure = (r.pressure_filter_ohm + r.transducer_ohm) * r.filter_f
    tolerance = math.hypot(r.filter_f_tolerance, r.filter_ohm_tolerance)
    lag_apart = tau_travel[1] - tau_pressure + math.sqrt(2.0) * tolerance * tau_travel[1]
    source = r.filter_ohm + middle_source
    conversion_s = r.clocks / r.clock_hz
    acquisition_s = r.acquisition_clocks / r.clock_hz
    settle_s = math.log(2 * CONVERTER_STEPS) * r.switch_ohm * r.sample_f
    step_mm = r.stroke_mm / span / CONVERTER_STEPS
    step_kpa = r.range_kpa / span / CONVERTER_STEPS
    sensors_a = (
        r.transducer_a
        + r.supply_v / whole
        + r.supply_v / (r.thermistor_ohm + r.thermistor_pull_up_ohm)
        + (r.supply_v - r.monitor_v) / r.monitor_ohm
        + r.reference_a
        + r.converter_a
    )
    lead = r.lead_m * r.lead_ohm_per_m + r.lead_contact_ohm
    return {
        **{field.name: getattr(r, field.name) for field in fields(r)},
        "track_kohm": r.track_ohm / 1000,
        "track_tolerance_percent": 100 * r.track_tolerance,
        "end_ohm": each_end,
        "whole_ohm": whole,
        "low_track_ohm": r.track_ohm * (1 - r.track_tolerance),
        "high_track_ohm": r.track_ohm * (1 + r.track_tolerance),
        "low_track_zero_percent": 100 * unmatched[0][0],
        "high_track_zero_percent": 100 * unmatched[1][0],
        "low_track_scale_percent": 100 * ((unmatched[0][1] - unmatched[0][0]) / span - 1),
        "high_track_scale_percent": 100 * ((unmatched[1][1] - unmatched[1][0]) / span - 1),
        "end_match_percent": 100 * r.end_match,
        "end_scale_percent": 100 * (1 - span) * r.end_match,
        "track_drift_percent": 100 * (1 - span) * r.track_ppm_per_k * 1e-6 * (r.hottest_degc - r.room_degc),
        "pull_down_mohm": r.pull_down_ohm / 1e6,
        "pull_down_near_percent": 100 * pull_down_scale_error(0.0, 50.0, r),
        "pull_down_whole_percent": 100 * pull_down_scale_error(0.0, 100.0, r),
        "pull_down_far_percent": 100 * pull_down_scale_error(90.0, 100.0, r),
        "pull_down_most_mm": max(
            (x - loaded_ratio(x, r)) / span * r.stroke_mm for x in (i / 1000 for i in range(100, 901))
        ),
        "open_typical_ratio": r.leak_typical_a * r.pull_down_ohm / r.supply_v,
        "open_leak_limit_na": 0.05 * r.supply_v / r.pull_down_ohm * 1e9,
        "open_rest_ratio": open_wiper_ratio(0.13, r.rate_hz, r),
        "open_full_ratio": open_wiper_ratio(r.live_end, r.rate_hz, r),
        "end_source_ohm": end_source,
        "middle_source_ohm": middle_source,
        "filter_kohm": r.filter_ohm / 1000,
        "pressure_filter_kohm": r.pressure_filter_ohm / 1000,
        "filter_nf": r.filter_f * 1e9,
        "corner_end_hz": corner_hz(r.filter_ohm + end_source, r.filter_f),
        "corner_middle_hz": corner_hz(r.filter_ohm + middle_source, r.filter_f),
        "corner_pressure_hz": corner_hz(r.pressure_filter_ohm + r.transducer_ohm, r.filter_f),
        "tau_end_ms": 1000 * tau_travel[0],
        "tau_middle_ms": 1000 * tau_travel[1],
        "tau_pressure_ms": 1000 * tau_pressure,
        "lag_apart_ms": 1000 * lag_apart,
        "lag_apart_um": 1000 * 20.0 * lag_apart,
        "filter_200hz_gain": low_pass_gain(200.0, tau_pressure),
        "filter_2khz_gain": low_pass_gain(2000.0, tau_pressure),
        "leak_typical_mm": r.leak_typical_a * source / r.supply_v / span * r.stroke_mm,
        "leak_most_mm": r.leak_most_a * source / r.supply_v / span * r.stroke_mm,
        "clock_mhz": r.clock_hz / 1e6,
        "conversion_us": 1e6 * conversion_s,
        "pair_us": 2e6 * conversion_s,
        "interval_us": 1e6 / (4 * r.rate_hz),
        "interval_least_us": 1e6 / (4 * r.rate_most_hz),
        "pair_share_percent": 100 * 2 * conversion_s * 4 * r.rate_most_hz,
        "conversions_per_s": 8 * r.rate_hz,
        "conversions_most_per_s": 8 * r.rate_most_hz,
        "converter_most_per_s": 1 / conversion_s,
        "acquisition_us": 1e6 * acquisition_s,
        "settle_us": 1e6 * settle_s,
        "sample_pf": r.sample_f * 1e12,
        "unfiltered_limit_kohm": (acquisition_s / (math.log(2 * CONVERTER_STEPS) * r.sample_f) - r.switch_ohm) / 1000,
        "share_steps": r.sample_f / (r.sample_f + r.filter_f) * CONVERTER_STEPS,
        "carried_percent": 100 * carried_over(source, r.rate_hz, r),
        "carried_travel_mm": carried_over(source, r.rate_hz, r) * 400.0 / r.range_kpa * r.stroke_mm,
        "carried_kpa_per_mm": carried_over(r.pressure_filter_ohm + r.transducer_ohm, r.rate_hz, r)
        * r.range_kpa
        / r.stroke_mm,
        "step_mm": step_mm,
        "step_kpa": step_kpa,
        "thermistor_25_code": _code(thermistor_ratio(25.0, r)),
        "thermistor_15_code": _code(thermistor_ratio(15.0, r)),
        "thermistor_35_code": _code(thermistor_ratio(35.0, r)),
        "thermistor_80_code": _code(thermistor_ratio(80.0, r)),
        "thermistor_source_ohm": parallel(r.thermistor_ohm, r.thermistor_pull_up_ohm),
        "thermistor_25_mw": 1000 * (r.supply_v / 2) ** 2 / r.thermistor_ohm,
        "sensors_ma": 1000 * sensors_a,
        "supply_drop_v": sensors_a * (r.fuse_ohm + r.supply_series_ohm),
        "supply_needed_v": 4.75 + sensors_a * (r.fuse_ohm + r.supply_series_ohm),
        "supply_corner_hz": corner_hz(r.supply_series_ohm, r.supply_f),
        "monitor_ma": 1000 * (r.supply_v - r.monitor_v) / r.monitor_ohm,
        "monitor_code": _code(r.monitor_v / r.supply_v),
        "monitor_475_code": _code(r.monitor_v / 4.75),
        "monitor_525_code": _code(r.monitor_v / 5.25),
        "monitor_error_v": r.supply_v * r.monitor_tolerance,
        "lead_ohm": lead,
        "lead_drop_mv": 1000 * lead * r.transducer_a,
        "lead_offset_kpa": lead * r.transducer_a / r.supply_v / span * r.range_kpa,
        "lead_scale_percent": 100 * 2 * lead * r.transducer_a / r.supply_v,
        "lamp_ma": 1000 * (r.supply_v - r.lamp_v - r.saturation_v) / r.lamp_ohm,
        "lamp_base_ma": 1000 * (r.logic_v - r.base_v) / r.lamp_base_ohm,
        "lamp_gain": (r.supply_v - r.lamp_v - r.saturation_v)
        / r.lamp_ohm
        / ((r.logic_v - r.base_v) / r.lamp_base_ohm),
        "sounder_base_ma": 1000 * (r.logic_v - r.base_v) / r.sounder_base_ohm,
        "sounder_gain": r.sounder_a / ((r.logic_v - r.base_v) / r.sounder_base_ohm),
        "contact_ma": 1000 * r.logic_v / (r.contact_pull_up_ohm + r.contact_series_ohm),
        "contact_low_v": r.logic_v * r.contact_series_ohm / (r.contact_pull_up_ohm + r.contact_series_ohm),
        "contact_close_ms": 1000 * parallel(r.contact_series_ohm, r.contact_pull_up_ohm) * r.contact_f,
        "contact_open_ms": 1000 * r.contact_pull_up_ohm * r.contact_f,
        "zero_code": _code(r.live_zero),
        "middle_code": _code(0.5),
        "end_code": _code(r.live_end),
        "zero_v": r.live_zero * r.supply_v,
        "travel_10mm_codes": _code(span * 10.0 / r.stroke_mm),
        "travel_10mm_apart_codes": _code(
            span
            / r.stroke_mm
            * (
                10.0 * (r.stroke_tolerance_mm / r.stroke_mm + (1 - span) * r.end_match)
                + 10.0 * abs(pull_down_scale_error(90.0, 100.0, r))
                + swing(r.track_linearity * r.stroke_mm, 10.0, r.track_wave_mm)
                + r.inl_steps * step_mm
            )
        ),
        "pressure_100kpa_codes": _code(span * 100.0 / r.range_kpa),
        "zero_low_code": _code(r.live_zero * 0.97),
        "zero_high_code": _code(r.live_zero * 1.03),
        "pressure_low_code": _code(r.live_zero - 0.01 * span - 0.0018),
        "pressure_high_code": _code(r.live_zero + 0.01 * span + 0.0018),
        "axis_percent": 100 * (1 - math.cos(math.radians(r.axis_deg))),
        "arc_5mm_mm": swing_out_mm(5.0, r),
        "arc_20mm_mm": swing_out_mm(20.0, r),
        "arc_45mm_mm": swing_out_mm(45.0, r),
        "aside_mm": math.hypot(r.rod_mm, r.side_offset_mm) - r.rod_mm,
        "accident_ma": 1000 * (12.0 - r.supply_v - 0.6) / r.filter_ohm,
        "hose_quarter_wave_hz": r.oil_sound_m_per_s / (4 * r.hose_m),
        "hose_long_quarter_wave_hz": r.oil_sound_m_per_s / (4 * 1.5),
        "linearity_short_mm": swing(r.track_linearity * r.stroke_mm, 5.0, r.track_wave_mm),
        "linearity_whole_mm": 2 * r.track_linearity * r.stroke_mm,
        "nlhr_kpa": r.nlhr_of_span * r.range_kpa,
        "nlhr_short_kpa": swing(r.nlhr_of_span * r.range_kpa, 50.0, 2 * r.range_kpa),
        "offset_kpa": r.offset_of_span * r.range_kpa,
        "drift_kpa": r.drift_of_span_per_k * r.range_kpa * (r.hottest_degc - r.room_degc),
        "drift_percent": 100 * r.drift_of_span_per_k * (r.hottest_degc - r.room_degc),
    }
