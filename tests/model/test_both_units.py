"""Values in both unit systems, and texts turned to the order wanted.

Factors: NIST SP 811, appendix B: 1 in = 25.4 mm, 1 psi = 6.894757 kPa.
"""

from __future__ import annotations

import pytest

from rodtrue.model.both_units import in_order, length, pressure, slope, speed


def test_either_system_can_come_first() -> None:
    assert length(2.54) == "0.100 in (2.54 mm)"
    assert length(-2.54, True, "metric") == "-2.54 mm (-0.100 in)"
    assert pressure(68.94757, "metric") == "69 kPa (10.0 psi)"
    assert slope(6.894757 / 25.4 * 40) == "40 psi/in (10.9 kPa/mm)"
    assert speed(25.4, "metric") == "25 mm/s (1.0 in/s)"


@pytest.mark.parametrize(
    ("inches_first", "metric_first"),
    [
        ("rests 0.010 in (0.25 mm) from the zero", "rests 0.25 mm (0.010 in) from the zero"),
        ("3.7 psi (25 kPa), over 10.0 psi (69 kPa)", "25 kPa (3.7 psi), over 69 kPa (10.0 psi)"),
        ("9 mph (14 km/h) earlier", "14 km/h (9 mph) earlier"),
        ("between -0.1 and +0.2 in (-2.5 and +5.1 mm).", "between -2.5 and +5.1 mm (-0.1 and +0.2 in)."),
        ("0.2 to 1.6 in (5.0 to 40.6 mm)", "5.0 to 40.6 mm (0.2 to 1.6 in)"),
        ("3.7 ± 4.2 psi (25.4 ± 29.2 kPa)", "25.4 ± 29.2 kPa (3.7 ± 4.2 psi)"),
        ("41 psi/in (11.1 kPa/mm)", "11.1 kPa/mm (41 psi/in)"),
        ("54 degF (12 degC) only", "12 degC (54 degF) only"),
        ("2-3 upshifts about 5 mph (8 km/h)", "2-3 upshifts about 8 km/h (5 mph)"),
    ],
)
def test_pairs_in_a_text_are_turned_and_a_text_already_in_order_stays(inches_first: str, metric_first: str) -> None:
    assert in_order(inches_first, "metric") == metric_first
    assert in_order(metric_first, "inch") == inches_first
    assert in_order(inches_first, "inch") == inches_first
    assert in_order(metric_first, "metric") == metric_first


@pytest.mark.parametrize("text", ["unit 12 in (3 of 4)", "12 in (5 in) wide", "2 V (3 A)", "", "(0.5 mm)"])
def test_what_is_no_pair_of_values_is_left_alone(text: str) -> None:
    assert in_order(text, "metric") == text
