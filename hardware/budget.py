"""The uncertainty that the fixture's parts bring, as rows: what budget.json holds and budget.md explains.

From the parts' ratings (circuits.py), without a calibration; nothing was measured on a board.
"""

from __future__ import annotations

from typing import Any

from circuits import RATINGS, values

COMMENT = (
    "Made by hardware/write_pages.py from the ratings that parts.md asks for; nothing was measured on a board. "
    "half_width: of a rectangular or u-shaped distribution, or the 95 % half-width of a normal one. "
    "applies_to: distance (percent of, or error over, a difference of two travels), reading (percent of the "
    "value), full_scale (percent of the sensor's range), constant (the same everywhere). "
    "in_statistical_part: already seen as scatter by the fit, so a judgement does not add it again. "
    "calibration_removes: a calibration at the temperature of use replaces it."
)


def _row(
    name: str,
    channel: str,
    applies_to: str,
    half_width: float,
    unit: str,
    why: str,
    *,
    removes: bool,
    distribution: str = "rectangular",
    **more: Any,
) -> dict[str, Any]:
    return {
        "name": name,
        "channel": channel,
        "applies_to": applies_to,
        "half_width": round(half_width, 3),
        "unit": unit,
        "distribution": distribution,
        "calibration_removes": removes,
        "why": why,
        **more,
    }


def rows() -> list[dict[str, Any]]:
    """Return the budget's rows, travel first."""
    r, v = RATINGS, values()
    return [
        _row("travel_scale", "travel", "distance", 100 * r.stroke_tolerance_mm / r.stroke_mm, "percent",
             "potentiometer: electrical stroke 100 +- 0.5 mm", removes=True),
        _row("travel_end_resistors", "travel", "distance", v["end_scale_percent"], "percent",
             "live-zero resistors: each matched to the track within 0.5 %; a fifth of that reaches the scale",
             removes=True),
        _row("travel_temperature", "travel", "distance", v["track_drift_percent"], "percent",
             "track 600 ppm/K against end resistors, 25 to 60 degC; a fifth of that reaches the scale",
             removes=False),
        _row("travel_pull_down", "travel", "distance", abs(v["pull_down_far_percent"]), "percent",
             "2.2 MOhm pull-down at the wiper: most that any distance on the track is wrong by its load",
             removes=True),
        _row("travel_nonlinearity_short", "travel", "distance", v["linearity_short_mm"], "mm",
             "potentiometer: linearity +- 0.1 % of 100 mm, smooth over half the track: change over up to 5 mm",
             removes=True, distance_up_to_mm=5.0),
        _row("travel_nonlinearity", "travel", "full_scale", 100 * v["linearity_whole_mm"] / r.stroke_mm, "percent",
             "potentiometer: linearity +- 0.1 % of 100 mm at both ends of a distance, over 5 mm", removes=True,
             distance_from_mm=5.0),
        _row("travel_joint_play", "travel", "constant", r.joint_play_mm, "mm",
             "ball joint and clamp at the pin: play when the direction turns round", removes=False),
        _row("travel_converter_inl", "travel", "constant", r.inl_steps * v["step_mm"], "mm",
             "converter: integral nonlinearity +- 1 LSB", removes=False, lsb=r.inl_steps),
        _row("travel_noise", "travel", "constant", 0.5 * v["step_mm"], "mm",
             "half a converter step: noise and quantisation of one sample, the mean of four conversions",
             removes=False, distribution="normal", in_statistical_part=True),
        _row("pressure_scale", "pressure", "reading", 100 * r.scale, "percent",
             "transducer: span +- 1 %", removes=True),
        _row("pressure_offset", "pressure", "constant", v["offset_kpa"], "kPa",
             "transducer: zero +- 1 % of 2068 kPa", removes=True),
        _row("pressure_nonlinearity_hysteresis_repeatability", "pressure", "full_scale", 100 * r.nlhr_of_span,
             "percent", "transducer: nonlinearity, hysteresis and repeatability +- 0.25 % of 2068 kPa together",
             removes=True),
        _row("pressure_nonlinearity_short", "pressure", "distance", v["nlhr_short_kpa"], "kPa",
             "transducer: 0.25 % of 2068 kPa as one smooth bow: change over up to 50 kPa from the baseline",
             removes=True, pressure_up_to_kpa=50.0),
        _row("pressure_temperature", "pressure", "constant", v["drift_kpa"], "kPa",
             "transducer: zero 0.02 % of 2068 kPa a kelvin, 25 to 60 degC", removes=False),
        _row("pressure_temperature_scale", "pressure", "reading", v["drift_percent"], "percent",
             "transducer: span 0.02 % a kelvin, 25 to 60 degC", removes=False),
        _row("pressure_leads", "pressure", "constant", v["lead_offset_kpa"], "kPa",
             "10 mA through 2 m of 0.25 mm2 and its plug: the transducer's ground lies higher than the converter's",
             removes=True),
        _row("pressure_converter_inl", "pressure", "constant", r.inl_steps * v["step_kpa"], "kPa",
             "converter: integral nonlinearity +- 1 LSB", removes=False, lsb=r.inl_steps),
        _row("pressure_noise", "pressure", "constant", 0.5 * v["step_kpa"], "kPa",
             "half a converter step: noise and quantisation of one sample, the mean of four conversions",
             removes=False, distribution="normal", in_statistical_part=True),
    ]


def document() -> dict[str, Any]:
    """Return budget.json's content."""
    return {"schema": "rodtrue.parts-budget/1", "comment": COMMENT, "rows": rows()}
