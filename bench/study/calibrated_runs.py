"""Virtual fixtures calibrated on the virtual bench, and runs judged before and after: no firmware, no wire."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

import rodtrue_protocol as wire
from rodtrue.analysis.budget import with_instrument
from rodtrue.analysis.judge import judge
from rodtrue.calibration.document import CalibratedFixture, CalibrationDocument, Channel, Estimated, Point
from rodtrue.calibration.making import make_document
from rodtrue.calibration.parts_budget import parts_budget, terms_of_calibration, terms_of_parts
from rodtrue.calibration.plan import DEFAULT_PLACES, Target, places_of, plan
from rodtrue.calibration.points_file import Points
from rodtrue.calibration.record import record_of
from rodtrue.calibration.standards import VIRTUAL_STANDARDS
from rodtrue.capture.notes import calibration_fields
from rodtrue.capture.scaling import NOMINAL, Scaling, scaling_of
from rodtrue.findings_table import load_findings_table
from rodtrue.model.codes import PRESSURE_SPAN_KPA
from rodtrue.model.conditions import Conditions, Drive
from rodtrue.model.instrument import InstrumentTerms
from rodtrue.model.profile import Profile
from rodtrue.model.result import Judgement
from rodtrue.model.samples import Samples
from rodtrue.profiles import load_profile
from rodtrue.virtual.calibration_bench import CalibrationBench
from rodtrue.virtual.direct import play
from rodtrue.virtual.motion import guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for
from rodtrue.virtual.truth import Truth

CYCLES = 3
RATE_HZ = 500
SETTLE_S, TAKE_S = 3.0, 1.0
DAY = date(2026, 3, 31)
PRESSURE_BOW_SPAN_KPA = 600.0
"""Over which the plant states its pressure sensor's bow."""


def calibrate(truth: Truth, seed: int, *, cycles: int = CYCLES) -> CalibrationDocument:
    """Return the calibration that the virtual bench gives a fixture with these sensors."""
    bench = CalibrationBench(truth, seed)
    points = Points(CalibratedFixture("virtual", wire_id(), "study"))
    for quantity in ("travel", "pressure"):
        for target in plan(places_of(quantity, DEFAULT_PLACES[quantity]), cycles):
            points.of(quantity).append(_take(bench, quantity, target))
    return make_document(points, VIRTUAL_STANDARDS, generation=1, done=DAY)


def wire_id() -> str:
    """Return the id of the fixtures of this study."""
    return "5354554459000001"


def _take(bench: CalibrationBench, quantity: str, target: Target) -> Point:
    column = 0 if quantity == "travel" else 1
    if quantity == "travel":
        bench.handle.place(travel_mm=target.value)
    else:
        bench.handle.place(pressure_kpa=target.value)
    bench.samples(100, SETTLE_S)
    codes = bench.samples(RATE_HZ, TAKE_S)[:, column].astype(np.float64)
    return Point(
        target.cycle, target.direction, target.value, float(codes.mean()), float(codes.std(ddof=1)), len(codes)
    )


@dataclass(frozen=True)
class Known:
    """What the plant's sensor was made with, in the words of `SensorErrors`."""

    offset: float
    gain: float
    curvature: float


def known_errors(truth: Truth) -> tuple[Known, Known]:
    """Return the errors of travel and pressure sensor that a calibration is to find."""
    travel = Known(
        truth.travel_offset_mm - truth.travel_scale * truth.travel_origin_mm, truth.travel_scale, truth.travel_bow_mm
    )
    bow = truth.pressure_bow_kpa * (PRESSURE_SPAN_KPA / PRESSURE_BOW_SPAN_KPA) ** 2
    tilt = 4 * truth.pressure_bow_kpa / PRESSURE_BOW_SPAN_KPA - 4 * bow / PRESSURE_SPAN_KPA
    return travel, Known(truth.pressure_offset_kpa, truth.pressure_gain + tilt, bow)


def bent_sensors(seed: int) -> Truth:
    """Return a fixture whose sensors have a drawn gain, offset and curvature and nothing else wrong."""
    rng = np.random.default_rng([seed, 7])
    drawn = Plant(scenario_for(load_profile(), rod_error_mm=-2.5), seed).truth
    return replace(
        drawn,
        nonlinearity_mm=0.0,
        travel_offset_mm=float(rng.uniform(0.0, 1.0)),
        travel_scale=float(rng.uniform(-0.02, 0.02)),
        travel_bow_mm=float(rng.uniform(-0.5, 0.5)),
        pressure_gain=float(rng.uniform(-0.02, 0.02)),
        pressure_offset_kpa=float(rng.uniform(-15.0, 15.0)),
        pressure_bow_kpa=float(rng.uniform(-1.5, 1.5)),
    )


def covered(channel: Channel, known: Known) -> dict[str, bool]:
    """Return by name whether each known error lies in the interval found."""

    def holds(found: Estimated, value: float) -> bool:
        return abs(found.value - value) <= found.expanded_uncertainty

    errors = channel.errors
    return {
        "offset": holds(errors.offset, known.offset),
        "gain": holds(errors.gain, known.gain),
        "curvature": holds(errors.curvature, known.curvature),
    }


@dataclass(frozen=True)
class Pair:
    """One run judged with nominal values and the parts' budget, and again with its fixture's calibration."""

    right: str
    before: Judgement
    after: Judgement


def study_profile(rod_short_mm: float) -> Profile:
    """Return the default profile with another limit for a short rod (invented)."""
    profile = load_profile()
    return replace(profile, limits=replace(profile.limits, rod_short_mm=rod_short_mm))


def before_and_after(profile: Profile, rod_error_mm: float, seed: int, drive: Drive) -> Pair:
    """Return one run of a fixture of its parts, judged before and after its calibration."""
    parts = terms_of_parts(parts_budget())
    plant = Plant(scenario_for(profile, rod_error_mm=rod_error_mm, drive=drive, terms=parts), seed)
    held = calibration_fields(_stored(calibrate(plant.truth, seed)))
    nominal = play(plant, guided_run(plant.hand, sweeps=6, halves_s=(3.0, 6.0)), RATE_HZ)
    right = "short" if rod_error_mm < -profile.limits.rod_short_mm else "correct"
    calibrated = terms_of_calibration(held["channels"], parts_budget())
    return Pair(
        right,
        _judge(nominal, profile, drive, parts),
        _judge(_rescaled(nominal, scaling_of(held)), profile, drive, calibrated),
    )


def _stored(document: CalibrationDocument) -> Any:
    return wire.Calibration(0, document.generation, wire.encode_calibration(record_of(document)))


def _judge(samples: Samples, profile: Profile, drive: Drive, terms: InstrumentTerms) -> Judgement:
    state = "missing" if terms.source == "parts" else "in order"
    conditions = Conditions(kind="virtual", drive=drive, calibration=state, instrument=terms)
    return judge(samples, with_instrument(profile, terms), conditions, load_findings_table())


def _rescaled(nominal: Samples, scaling: Scaling) -> Samples:
    """Return the samples as a calibration reads their codes."""

    def codes(values: np.ndarray[Any, Any], channel: Any) -> np.ndarray[Any, Any]:
        return np.rint(((values - channel.c0) / channel.c1 + channel.r0) * 65536.0)

    return replace(
        nominal,
        travel_mm=scaling.travel.values(codes(nominal.travel_mm, NOMINAL.travel)),
        pressure_kpa=scaling.pressure.values(codes(nominal.pressure_kpa, NOMINAL.pressure)),
    )
