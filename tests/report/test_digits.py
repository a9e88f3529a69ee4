"""Numbers for people: no more digits than their uncertainty has, no minus before nothing, both unit systems."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from report.stored import result
from rodtrue.cli.show import budget_lines
from rodtrue.model.both_units import Units, in_order, length, pressure, slope, speed
from rodtrue.model.result import BudgetRow, Characteristic, Job
from rodtrue.report.document import report_data
from rodtrue.report.shown import chance_text, characteristic_texts, freedom_text, half_width_texts
from rodtrue.run.words import span


def test_what_rounds_to_nothing_has_no_minus() -> None:
    told = [length(-0.001), length(-0.001, True), span(-0.001, 0.001), pressure(-0.01), slope(-0.001), speed(-0.01)]
    assert not [text for text in told if re.search(r"-0\.?0* ", text)]
    assert length(-0.02, True) == "-0.001 in (-0.02 mm)"


def test_a_value_ends_where_its_uncertainty_does() -> None:
    full = Characteristic("full_pressure", 430.91, "kPa", 29.83, (300.0, None), "within")
    assert characteristic_texts(full, "metric")["first"] == "431 ± 30 kPa"
    assert characteristic_texts(full, "metric")["other"] == "62.5 ± 4.3 psi"
    small = replace(full, unit="mm", value=0.2724, expanded_uncertainty=0.0171, limits=(None, None))
    assert characteristic_texts(small, "inch")["first"] == "0.0107 ± 0.0007 in"


def test_many_degrees_of_freedom_are_many_and_no_chance_is_certain() -> None:
    assert [freedom_text(number, "-") for number in (9.4, 1000.0, 81018.0, 1e9, None)] == [
        *("9", "1000", "> 1000", "> 1000", "-")
    ]
    assert [chance_text(chance) for chance in (0.0, 0.0004, 0.0123, 0.9993, 1.0)] == [
        *("under 0.1 %", "under 0.1 %", "1.2 %", "over 99.9 %", "over 99.9 %")
    ]


def test_a_half_width_is_told_in_both_systems_and_a_proportion_as_one() -> None:
    row = BudgetRow("baseline since its step", 0.5, "kPa", "rectangular", 1.732, 0.0898, 0.0259, None)
    assert half_width_texts(row, "inch") == ("0.073 psi", "0.50 kPa")
    assert half_width_texts(replace(row, unit="mm"), "metric") == ("0.50 mm", "0.020 in")
    assert half_width_texts(replace(row, half_width=0.00676, unit="mm/mm"), "inch") == ("0.68 %",)
    assert half_width_texts(replace(row, half_width=0.0000022, unit="mm"), "inch") == ("8.7e-08 in", "2.2e-06 mm")


@pytest.mark.parametrize("units", ["inch", "metric"])
def test_the_budget_of_terminal_and_report_stands_in_both_systems_with_no_digits_beyond(units: Units) -> None:
    run = result(rod_error_mm=0.1)
    lines = "\n".join(budget_lines(run.budget, units))
    assert in_order(lines, units) == lines
    half_widths = re.findall(r"([\d.]+) (?:in|mm|psi|kPa|%)", lines.split("\n", 1)[1])
    assert len(half_widths) > 10
    assert all(len(text.replace(".", "").lstrip("0")) <= 2 for text in half_widths), lines
    report = report_data(Job("rodtrue.job/1", run), units)
    for told, row in zip(report["lab"]["runs"][0]["budget"], run.budget, strict=True):
        assert ("psi" in told[1], "kPa" in told[1]) == (row.unit == "kPa",) * 2
        assert told[7] in ("∞", "> 1000") or float(told[7]) <= 1000
    assert "100.0" not in str(report["lab"]["numbers"]) and "0.0%" not in str(report["lab"]["numbers"])
