"""What the terminal shows while a run goes on."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from rodtrue.cli.live_show import status_line
from rodtrue.cli.textplot import draw
from rodtrue.run.prompts import Sweeping


def a_run(stage: str, travel_mm: float) -> Any:
    live = SimpleNamespace(travel_mm=travel_mm, zero_mm=12.0, pressure_kpa=25.0, sweeps=[])
    return SimpleNamespace(stage=stage, live=live, prompt=Sweeping(0, 3, "Open fully, let go."))


def test_a_pin_at_rest_reads_nought_whichever_side_the_noise_puts_it() -> None:
    assert status_line(a_run("sweeps", 11.999)).startswith(" 0.000 in (  0.00 mm)")
    assert status_line(a_run("sweeps", 11.9)).startswith("-0.004 in ( -0.10 mm)")


@pytest.mark.parametrize(("stage", "counted"), [("return", "Openings 0 of 3"), ("sweeps", "Sweeps 0 of 3")])
def test_what_is_counted_is_named_as_it_was_asked_for(stage: str, counted: str) -> None:
    assert counted in status_line(a_run(stage, 12.0))


def test_the_plot_says_what_its_marks_are_where_it_has_any() -> None:
    trace = [(0.0, 20.0), (10.0, 100.0)]
    with_fit = draw(trace, [trace], width=78)[-1]
    assert "o: the fitted line" in with_fit and len(with_fit) <= 78
    assert "fitted" not in draw(trace)[-1]
