"""Jobs made up for the records: no measurement behind them, every field a record draws on filled."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from rodtrue.model.result import (
    CaptureRef,
    Characteristic,
    Correction,
    Finding,
    Fixture,
    Job,
    Plot,
    Probability,
    Result,
    RodError,
    Statistical,
)

CHARACTERISTICS = [
    Characteristic("baseline", 25.5, "kPa", 0.6, (5.0, 60.0), "within"),
    Characteristic("full_pressure", 431.0, "kPa", 3.0, (300.0, None), "within"),
    Characteristic("slope", 11.1, "kPa/mm", 0.1, (5.0, 20.0), "within"),
    Characteristic("friction", 0.26, "mm", None, (None, 0.75), "within"),
]

RESULT = Result(
    schema="rodtrue.result/1",
    file="as-found.capture",
    profile="example-direct",
    fixture=Fixture("board", "micropython", {"unique_id": "00c0ffee00c0ffee"}, {"generation": 3}),
    taken_at="2026-10-14T09:30:00+00:00",
    operator="A.B.",
    unit="invented unit 12",
    capture=CaptureRef(None, None),
    versions={"rodtrue": "0.1.0"},
    drive="slide",
    reference="curb_idle",
    rod_unhooked=True,
    verdict="short",
    reason=None,
    body_verdict="conforming",
    rod_error=RodError(
        -2.44, (-0.5, 1.0), 0.23, 0.1, 2.3, 0.975, 20.0, (-2.67, -2.21), None, Statistical(0.01, 9, (-2.5, -2.4))
    ),
    probability=Probability(0.0, 1.0, 0.0),
    settle=None,
    lever_start_mm=2.44,
    opening_onset_mm=2.57,
    closing_onset_mm=2.31,
    friction_mm=0.26,
    lag_s=0.012,
    characteristics=CHARACTERISTICS,
    strokes=[],
    correction=Correction("lengthen", 2.44, None, "slip joint"),
    plot=Plot(),
    budget=[],
    findings=[Finding("ripple_high", "warning", "Ripple is high.", {"kpa": 4.2})],
    cautions=[{"code": "chock_wheels", "text": "Chock the wheels."}],
)


def job(number: int = 0, *, as_left: bool = True, customer: str | None = "Invented Garage", **changes: Any) -> Job:
    """A job; the number alone makes it another job. Changes are of both runs' fields."""
    found = replace(RESULT, **{"unit": f"invented unit {number}", **changes})
    left = replace(
        found,
        file="as-left.capture",
        verdict="correct",
        rod_error=replace(found.rod_error, value_mm=0.02, interval_mm=(-0.21, 0.25)) if found.rod_error else None,
    )
    return Job("rodtrue.job/1", found, left if as_left else None, customer, None, f"order {number}", None)
