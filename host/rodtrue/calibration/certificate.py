"""The calibration certificate: all its content as data, and as readable text (Markdown).

Content after ISO/IEC 17025:2017, clauses 7.8.2 and 7.8.4 (from memory); whether a laboratory may call it
accredited is the laboratory's word, not this program's.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from rodtrue.calibration.channel import nominal_reading, reading_uncertainty, residuals
from rodtrue.calibration.document import CalibrationDocument, Channel, Estimated
from rodtrue.calibration.standards import not_traceable
from rodtrue.model.units import kpa_to_psi, mm_to_inch

VIRTUAL_MARK = "Virtual fixture, not a measurement."
WIDTH = 80
_OTHER_UNIT = {"mm": ("in", mm_to_inch), "kPa": ("psi", kpa_to_psi)}


@dataclass(frozen=True)
class Row:
    """One reference value: mean nominal and calibrated readings of both directions, the largest departure of a
    single calibrated reading from it, and the expanded uncertainty (95 %) of a calibrated reading there.
    """

    reference: float
    nominal: float
    calibrated: float
    largest_departure: float
    expanded_uncertainty: float


def certificate_content(document: CalibrationDocument) -> dict[str, Any]:
    """Return everything a certificate shows, plain values ready for JSON: for text, a page or a PDF.

    `mark` is not empty for a virtual fixture and then stands on every page; such a certificate has no
    signatures (`signatures` is empty).
    """
    virtual = document.fixture.kind == "virtual"
    return {
        "title": "Calibration certificate",
        "mark": VIRTUAL_MARK if virtual else "",
        "fixture": {
            "kind": document.fixture.kind,
            "unique_id": document.fixture.unique_id,
            "firmware_version": document.fixture.firmware_version,
            "generation": document.generation,
        },
        "done": document.done,
        "due": document.due,
        "operator": document.operator,
        "environment": {
            "place": document.environment.place,
            "air_degc": document.environment.air_degc,
            "humidity_percent": document.environment.humidity_percent,
            "pressure_medium": document.environment.pressure_medium,
        },
        "method": METHOD,
        "channels": [_channel_content(channel) for channel in document.channels],
        "remarks": document.remarks,
        "versions": dict(document.versions),
        "signatures": [] if virtual else ["Calibrated by", "Checked by"],
    }


METHOD = (
    "Comparison with the reference named, rising and falling, several times. The working curve is a least-squares "
    "fit of the reference value on the code ratio, through the mean of each reference point. Uncertainties are "
    "expanded, 95 %, with Student factors for the effective degrees of freedom; the reference's own is included. "
    "Nonlinearity, hysteresis and repeatability are of the nominal reading, in percent of full scale."
)


def rows_of(channel: Channel) -> list[Row]:
    """Return a channel's reference values in rising order with what it read there."""
    reference = np.array([point.reference for point in channel.points])
    codes = np.array([point.code for point in channel.points])
    departures = residuals(channel)
    rows = []
    for value in np.unique(reference):
        here = reference == value
        rows.append(
            Row(
                float(value),
                float(nominal_reading(codes[here], channel.full_scale).mean()),
                float(value + departures[here].mean()),
                float(np.abs(departures[here]).max()),
                reading_uncertainty(channel, float(value)).expanded_uncertainty,
            )
        )
    return rows


def certificate_text(document: CalibrationDocument) -> str:
    """Return the certificate as Markdown."""
    content = certificate_content(document)
    fixture, environment = content["fixture"], content["environment"]
    lines = [f"# {content['title']}", ""]
    if content["mark"]:
        lines += [f"**{content['mark']}**", ""]
    lines += [
        *_item(
            f"fixture: {fixture['kind']} {fixture['unique_id']}, firmware {fixture['firmware_version'] or 'not told'}"
        ),
        *_item(f"calibration number of this fixture: {fixture['generation']}"),
        *_item(f"done: {content['done']}, next due: {content['due'] or 'not agreed'}"),
        *_item(f"by: {content['operator'] or 'not told'}"),
        *_item(
            f"place: {environment['place'] or 'not told'}; air: {_told(environment['air_degc'], 'degC')}; "
            f"humidity: {_told(environment['humidity_percent'], '%')}; "
            f"medium: {environment['pressure_medium'] or 'not told'}"
        ),
        "",
        *_paragraph(content["method"]),
    ]
    for channel in content["channels"]:
        lines += ["", *_channel_text(channel, virtual=bool(content["mark"]))]
    if content["remarks"]:
        lines += ["", *_paragraph(content["remarks"])]
    if content["signatures"]:
        lines += ["", *(f"{name}: ______________________  Date: ____________" for name in content["signatures"])]
    return "\n".join(lines) + "\n"


def _channel_content(channel: Channel) -> dict[str, Any]:
    standard, figures, curve = channel.standard, channel.performance, channel.curve
    return {
        "quantity": channel.quantity,
        "unit": channel.unit,
        "full_scale": channel.full_scale,
        "temperature_c": channel.temperature_c,
        "standard": {
            "name": standard.name,
            "serial": standard.serial,
            "certificate": standard.certificate,
            "traceability": standard.traceability,
            "due": standard.due,
            "half_width": standard.half_width,
            "half_width_relative": standard.half_width_relative,
            "not_told": not_traceable(standard),
        },
        "range": [min(point.reference for point in channel.points), max(point.reference for point in channel.points)],
        "curve": {
            "regressed": curve.regressed,
            "degree": curve.degree,
            "r0": curve.r0,
            "coefficients": list(curve.coefficients),
            "standard_errors": [float(u) for u in np.sqrt(np.diag(np.array(curve.covariance)))],
            "residual_sd": curve.residual_sd,
            "degrees_of_freedom": curve.degrees_of_freedom,
        },
        "errors": {
            name: {"value": found.value, "expanded_uncertainty": found.expanded_uncertainty}
            for name, found in _errors(channel).items()
        },
        "figures_percent": {
            "nonlinearity, least-squares line": figures.nonlinearity_least_squares,
            "nonlinearity, terminal line": figures.nonlinearity_terminal,
            "nonlinearity, line of least largest departure": figures.nonlinearity_independent,
            "hysteresis": figures.hysteresis,
            "repeatability": figures.repeatability,
        },
        "rows": [
            {
                "reference": row.reference,
                "nominal": row.nominal,
                "calibrated": row.calibrated,
                "largest_departure": row.largest_departure,
                "expanded_uncertainty": row.expanded_uncertainty,
            }
            for row in rows_of(channel)
        ],
        "scale_half_width": channel.scale_half_width,
        "nonlinearity_half_width": channel.nonlinearity_half_width,
    }


def _errors(channel: Channel) -> dict[str, Estimated]:
    errors = channel.errors
    return {"offset": errors.offset, "gain": errors.gain, "curvature": errors.curvature}


def _channel_text(channel: dict[str, Any], *, virtual: bool) -> list[str]:
    unit, standard, curve = channel["unit"], channel["standard"], channel["curve"]
    other, convert = _OTHER_UNIT[unit]
    figures = ", ".join(
        f"{name} {'not told' if value is None else f'{value:.3f} %'}"
        for name, value in channel["figures_percent"].items()
    )
    offset, gain, curvature = (channel["errors"][name] for name in ("offset", "gain", "curvature"))
    working = curve_text(curve["coefficients"], curve["r0"])
    low, high = channel["range"]
    untold = "" if virtual else channel["standard"]["not_told"]
    paragraphs = [
        f"Reference: {standard['name']}, serial {standard['serial'] or 'not told'}, certificate "
        f"{standard['certificate'] or 'not told'}, traceable to {standard['traceability'] or 'not told'}, due "
        f"{standard['due'] or 'not told'}; its error at most {standard['half_width']:g} {unit} and "
        f"{100 * standard['half_width_relative']:g} % of the value.",
        f"**Not shown to be traceable:** {untold} of this reference not told." if untold else "",
        f"Working curve ({curve['regressed']}; r = code / 65536), in {unit}: {working}; residual standard "
        f"deviation {curve['residual_sd']:.3g} {unit}, {curve['degrees_of_freedom']} degrees of freedom.",
        f"Against nominal scaling: offset {offset['value']:.3f} +- {offset['expanded_uncertainty']:.3f} {unit}, gain "
        f"{100 * gain['value']:.3f} +- {100 * gain['expanded_uncertainty']:.3f} %, curvature "
        f"{curvature['value']:.3f} +- {curvature['expanded_uncertainty']:.3f} {unit} at half of "
        f"{channel['full_scale']:g} {unit}. Of full scale: {figures}.",
        f"Calibrated from {between(low, high, unit)}; readings beyond are not covered. Reference in {other} "
        f"and {unit}; then, in {unit}, the mean nominal and calibrated reading there, the largest departure of a "
        "single one, and the expanded uncertainty (95 %) of a calibrated reading:",
    ]
    lines = [f"## {channel['quantity'].capitalize()}"]
    for paragraph in paragraphs:
        lines += ["", *_paragraph(paragraph)] if paragraph else []
    lines += ["", f"| {other} | {unit} | nominal | calibrated | departure | U (95 %) |"]
    lines.append("| --- | --- | --- | --- | --- | --- |")
    lines += [
        f"| {convert(row['reference']):.4g} | {row['reference']:.3f} | {row['nominal']:.3f} | "
        f"{row['calibrated']:.3f} | {row['largest_departure']:.3f} | {row['expanded_uncertainty']:.3f} |"
        for row in channel["rows"]
    ]
    return lines


def curve_text(coefficients: Sequence[float], r0: float) -> str:
    """Return a working curve for people: coefficients in powers of (r - r0), each with its sign."""
    text = ""
    for power, coefficient in enumerate(coefficients):
        sign = "" if not text and coefficient >= 0 else "-" if coefficient < 0 else "+"
        about = "" if power == 0 else f" (r - {r0:.8g})" + ("" if power == 1 else f"^{power}")
        text += (" " if text else "") + sign + (" " if text else "") + f"{abs(coefficient):.8g}{about}"
    return text


def between(low: float, high: float, unit: str) -> str:
    """Return a range for people, psi or inches first."""
    other, convert = _OTHER_UNIT[unit]
    return f"{convert(low):.4g} to {convert(high):.4g} {other} ({low:.4g} to {high:.4g} {unit})"


def _paragraph(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_long_words=False, break_on_hyphens=False)


def _item(text: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent="- ", subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
    )


def _told(value: float | None, unit: str) -> str:
    return "not told" if value is None else f"{value:g} {unit}"
