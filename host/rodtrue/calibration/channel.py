"""From the points of one channel to its calibration: curve, sensor errors, figures, and what the budget takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from rodtrue.calibration.document import Channel, Curve, Estimated, Point, ReferenceStandard, SensorErrors
from rodtrue.calibration.fit import Fit, NoFit, fit_polynomial
from rodtrue.calibration.performance import performance
from rodtrue.model.codes import CODE_SPAN, LIVE_END, LIVE_ZERO

Array = NDArray[np.float64]
LEAST_PLACES = 5
"""Reference points without which a curve's uncertainty says little."""
_SQRT3 = math.sqrt(3)


def calibrate_channel(
    quantity: Literal["travel", "pressure"],
    points: Sequence[Point],
    standard: ReferenceStandard,
    *,
    full_scale: float,
    degree: int = 2,
    temperature_c: float = 20.0,
) -> Channel:
    """Return a channel's calibration from its points, in the order taken.

    full_scale: nominal span of the channel in mm or kPa.
    Raises: NoFit: fewer than 5 different reference points. NotInOrder: an up that falls or a down that rises.
    """
    reference = np.array([point.reference for point in points])
    codes = np.array([point.code for point in points])
    readings = nominal_reading(codes, full_scale)
    figures = performance(
        reference,
        readings,
        [point.cycle for point in points],
        [point.direction for point in points],
        full_scale,
    )
    places, code_means = _means(reference, codes)
    if len(places) < LEAST_PLACES:
        raise NoFit(f"{len(places)} different reference points for {quantity}; at least {LEAST_PLACES} are needed")
    ratios = code_means / CODE_SPAN
    curve = fit_polynomial(ratios, places, degree=degree, x0=float(np.mean(ratios)))
    return Channel(
        quantity=quantity,
        unit="mm" if quantity == "travel" else "kPa",
        full_scale=full_scale,
        standard=standard,
        points=list(points),
        curve=Curve(
            degree,
            curve.x0,
            [float(c) for c in curve.coefficients],
            [[float(c) for c in row] for row in curve.covariance],
            curve.residual_sd,
            curve.degrees_of_freedom,
        ),
        errors=_sensor_errors(places, nominal_reading(code_means, full_scale), standard, full_scale, degree),
        performance=figures,
        scale_half_width=_scale_half_width(curve, ratios, standard),
        nonlinearity_half_width=math.hypot(_left_over(curve, points), standard.half_width),
        temperature_c=temperature_c,
    )


def nominal_reading(codes: Array, full_scale: float) -> Array:
    """Return what codes read by the nominal scaling, in the unit of `full_scale`."""
    return (codes / CODE_SPAN - LIVE_ZERO) / (LIVE_END - LIVE_ZERO) * full_scale


def reading_uncertainty(channel: Channel, value: float, probability: float = 0.95) -> Estimated:
    """Return a single reading near `value` and its expanded uncertainty, the reference's own included.

    Combined from the curve, what single points leave of it (hysteresis and repeatability included) and the
    reference, all in the channel's unit; degrees of freedom by Welch-Satterthwaite (JCGM 100:2008,
    G.4.1, equation G.2b).
    The covariance belongs to the curve as regressed, so no inversion is needed.
    """
    ratio = _ratio_at(channel.curve, value)
    covariance = np.array(channel.curve.covariance)
    powers = (ratio - channel.curve.r0) ** np.arange(len(covariance))
    scatter = max(channel.curve.residual_sd, float(np.sqrt(np.mean(residuals(channel) ** 2))))
    of_fit = max(0.0, float(powers @ covariance @ powers)) + scatter**2
    freedom = channel.curve.degrees_of_freedom
    of_reference = (channel.standard.half_width**2 + (channel.standard.half_width_relative * value) ** 2) / 3
    return _expanded(value, of_fit, freedom, of_reference, probability)


def residuals(channel: Channel) -> Array:
    """Return each point's departure from the curve, shape (points,): calibrated reading less reference."""
    codes = np.array([point.code for point in channel.points])
    reference = np.array([point.reference for point in channel.points])
    return _curve_at(channel.curve, codes) - reference


def _curve_at(curve: Curve, codes: Array) -> Array:
    shape = np.polynomial.polynomial.polyval(codes / CODE_SPAN - curve.r0, curve.coefficients)
    return np.asarray(shape, np.float64)


def _ratio_at(curve: Curve, value: float) -> float:
    """Return the code ratio at which the curve gives a value, by Newton's method; the curve is nearly straight."""
    shape = np.polynomial.Polynomial(curve.coefficients)
    ratio = 0.0
    for _ in range(20):
        ratio -= float((shape(ratio) - value) / shape.deriv()(ratio))
    return ratio + curve.r0


def _means(reference: Array, codes: Array) -> tuple[Array, Array]:
    """Return the different reference values, rising, and the mean code at each."""
    places, which = np.unique(reference, return_inverse=True)
    return places, np.asarray(np.bincount(which, weights=codes) / np.bincount(which), np.float64)


def _sensor_errors(
    places: Array, readings: Array, standard: ReferenceStandard, full_scale: float, degree: int
) -> SensorErrors:
    """Return offset, gain and curvature with their uncertainties: reading less reference, on the reference.

    With t = reference / full scale the error is c0 + c1 t + c2 t^2; as curvature x 4 t (1 - t) has slope
    4 x curvature at 0, gain = (c1 + c2) / full scale and curvature = -c2 / 4.
    """
    fit = fit_polynomial(places / full_scale, readings - places, degree=degree)
    coefficients, covariance, freedom = fit.coefficients, fit.covariance, fit.degrees_of_freedom
    gain = np.array([0.0, 1.0, 1.0][: degree + 1]) / full_scale
    offset = _expanded(float(coefficients[0]), covariance[0, 0], freedom, standard.half_width**2 / 3)
    of_gain = _expanded(
        float(gain @ coefficients), float(gain @ covariance @ gain), freedom, standard.half_width_relative**2 / 3
    )
    if degree == 1:
        return SensorErrors(offset, of_gain, Estimated(0.0, 0.0, freedom))
    curvature = _expanded(-float(coefficients[2]) / 4, covariance[2, 2] / 16, freedom, 0.0)
    return SensorErrors(offset, of_gain, curvature)


def _expanded(
    value: float, of_fit: float, freedom: float, of_reference: float, probability: float = 0.95
) -> Estimated:
    """Return a value with its expanded uncertainty from two variances, the second without degrees of freedom.

    Source: JCGM 100:2008, G.4.1, equation G.2b.
    """
    variance = of_fit + of_reference
    effective = freedom * (variance / of_fit) ** 2 if of_fit > 0 else math.inf
    factor = stats.t.ppf(0.5 + probability / 2, min(effective, 1e9))
    return Estimated(value, float(factor * math.sqrt(variance)), float(min(effective, 1e9)))


def _scale_half_width(curve: Fit, ratios: Array, standard: ReferenceStandard) -> float:
    """Return the relative half-width of the scale at the least known end of the range, as a rectangular one.

    It reaches as far at 95 % as the slope's Student interval, so that few points are not taken for many.
    """
    normal = stats.norm.ppf(0.975)
    widest = 0.0
    for ratio in (float(ratios.min()), float(ratios.max())):
        u = curve.slope_uncertainty(ratio) / abs(curve.slope(ratio)) * curve.student_factor() / normal
        widest = max(widest, u)
    return math.hypot(_SQRT3 * widest, standard.half_width_relative)


def _left_over(curve: Fit, points: Sequence[Point]) -> float:
    """Return the half-width of what the curve leaves: the largest departure of a direction's mean at a point.

    Hysteresis is in it; scatter from cycle to cycle is averaged, as it is over a run's strokes.
    """
    by_place: dict[tuple[str, float], list[float]] = {}
    for point in points:
        by_place.setdefault((point.direction, point.reference), []).append(point.code)
    return max(
        abs(float(curve.value(float(np.mean(codes)) / CODE_SPAN)) - reference)
        for (_, reference), codes in by_place.items()
    )
