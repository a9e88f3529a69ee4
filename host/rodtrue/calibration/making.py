"""From points and standards to the document."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy
import scipy

from rodtrue import __version__
from rodtrue.calibration.channel import calibrate_channel
from rodtrue.calibration.document import SCHEMA, CalibrationDocument, Channel, Point, ReferenceStandard
from rodtrue.calibration.fit import NoFit
from rodtrue.calibration.plan import LEAST_FOLLOWED, MOST_FOLLOWED
from rodtrue.calibration.points_file import Points
from rodtrue.calibration.standards import Standards
from rodtrue.model.codes import PRESSURE_SPAN_KPA, TRAVEL_SPAN_MM
from rodtrue.model.errors import InputError


def make_document(
    points: Points,
    standards: Standards,
    *,
    generation: int,
    done: date,
    due: date | None = None,
    operator: str = "",
    degree: int = 2,
    remarks: str = "",
) -> CalibrationDocument:
    """Return the calibration document of these points.

    due: None for a year after `done`. Raises: InputError where the points do not make a calibration.
    """
    degc = 20.0 if standards.environment.air_degc is None else standards.environment.air_degc

    def channel(taken: list[Point], standard: ReferenceStandard, full_scale: float) -> Channel:
        made = fitted(taken, standard, full_scale)
        followed = 1 + made.errors.gain.value
        if not LEAST_FOLLOWED < followed < MOST_FOLLOWED:
            raise InputError(
                f"{made.quantity} points: the reading moved {followed:.2g} times as far as the reference",
                "See that every point was set, and that the sensor is the right one and the right way round.",
            )
        return made

    def fitted(taken: list[Point], standard: ReferenceStandard, full_scale: float) -> Channel:
        quantity = "travel" if taken is points.travel else "pressure"
        try:
            return calibrate_channel(
                "travel" if quantity == "travel" else "pressure",
                taken,
                standard,
                full_scale=full_scale,
                degree=degree,
                temperature_c=degc,
            )
        except NoFit as problem:
            raise InputError(f"{quantity} points: {problem}", "Take more different points, up and down.") from problem

    return CalibrationDocument(
        schema=SCHEMA,
        fixture=points.fixture,
        generation=generation,
        done=done.isoformat(),
        due=(due or year_after(done)).isoformat(),
        operator=operator,
        travel=channel(points.travel, standards.travel, TRAVEL_SPAN_MM),
        pressure=channel(points.pressure, standards.pressure, PRESSURE_SPAN_KPA),
        environment=standards.environment,
        remarks=remarks,
        versions={"rodtrue": __version__, "numpy": numpy.__version__, "scipy": scipy.__version__},
    )


def renumbered(document: CalibrationDocument, number: int, today: date) -> CalibrationDocument:
    """Return the same calibration issued again under another number, saying which one it replaces."""
    said = f"Issued again on {today.isoformat()}: the points and results of calibration number {document.generation}."
    return replace(document, generation=number, remarks=f"{document.remarks} {said}".strip())


def year_after(day: date) -> date:
    """Return the same day a year later; the 28th for a 29th of February."""
    try:
        return day.replace(year=day.year + 1)
    except ValueError:
        return day.replace(year=day.year + 1, day=28)


def overdue_standards(standards: Standards, done: date) -> list[str]:
    """Return the names of the standards that were due before the calibration."""
    both = (standards.travel, standards.pressure)
    return [standard.name for standard in both if standard.due is not None and standard.due < done.isoformat()]
