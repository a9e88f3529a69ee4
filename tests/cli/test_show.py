"""A result on the terminal: within 80 columns, either unit system first, and the valve body's verdict explained."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from report.stored import result, with_findings
from report.test_metric_first import METRIC_FIRST, US_FIRST
from rodtrue.cli.show import result_lines
from rodtrue.cli.textplot import draw_result
from rodtrue.cli.wrapped import WIDTH
from rodtrue.run.words import Units

RUNS = {
    "long": {"rod_error_mm": 3.0},
    "undecided": {"rod_error_mm": 1.0},
    "at most": {"rod_error_mm": -40.0, "full_mm": 20.0},
    "no result": {"rod_error_mm": -40.0, "full_mm": 20.0, "response": False},
}


@pytest.mark.parametrize("units", ["inch", "metric"])
@pytest.mark.parametrize("run", RUNS)
def test_every_line_fits_and_one_system_comes_first_throughout(run: str, units: Units) -> None:
    lines = result_lines(with_findings(result(**RUNS[run]), 3), units, with_budget=True)
    assert max(map(len, lines)) <= WIDTH
    told = re.sub(r"\s+", " ", " ".join(lines)).replace("+-", "±")
    assert not (US_FIRST if units == "metric" else METRIC_FIRST).findall(told)


def test_the_valve_bodys_verdict_stands_with_its_reason() -> None:
    told = " ".join(line.strip() for line in result_lines(result(rod_error_mm=0.1, full_mm=40.0)))
    assert "Valve body: conforming. Within limits: baseline, full pressure" in told
    told = " ".join(line.strip() for line in result_lines(result(rod_error_mm=0.1)))
    assert "Valve body: undecided. Within limits: baseline, slope" in told
    assert "Not determined: full pressure." in told


def test_of_a_body_alone_its_own_verdict_is_the_main_word_and_said_once() -> None:
    lines = result_lines(result("board", "lever_stop", rod_error_mm=-0.9, full_mm=40.0))
    told = " ".join(line.strip() for line in lines)
    assert "VALVE BODY CONFORMING: Within limits: baseline" in told
    assert "Rod: no result: no curb-idle reference." in told
    assert "NO RESULT" not in told and told.count("Within limits") == 1


@pytest.mark.parametrize("drive", [None, "slide", "throttle"])
def test_that_nobody_told_how_the_pin_was_driven_is_said_beside_the_interval(drive: str | None) -> None:
    told = " ".join(" ".join(result_lines(replace(result(rod_error_mm=3.0), drive=drive))).split())
    assert ("--drive slide counts" in told) == (drive is None)


def test_an_uncertainty_is_never_told_as_nothing() -> None:
    told = "\n".join(result_lines(result(rod_error_mm=0.1)))
    assert " +- " in told and not re.search(r"\+- 0(\.0+)? ", told)


def test_the_plots_axes_are_in_the_system_that_comes_first() -> None:
    plot = result(rod_error_mm=0.1).plot
    assert "in of travel" in draw_result(plot)[-1] and " psi |" in draw_result(plot)[0]
    metric = draw_result(plot, units="metric")
    assert "mm of travel" in metric[-1] and " kPa |" in metric[0] and max(map(len, metric)) <= WIDTH
