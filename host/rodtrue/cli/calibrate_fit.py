"""`rodtrue calibrate fit`: a line or quadratic with its covariance through any two columns."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from rodtrue.calibration.fit import Fit
    from rodtrue.calibration.performance import Performance

UNIT_COLUMN = "unit"


def fit(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="A CSV with a heading line.")],
    x: Annotated[str, typer.Option("--x", metavar="COL", help="Column taken as free of error.")],
    y: Annotated[str, typer.Option("--y", metavar="COL", help="Column regressed on it.")],
    degree: Annotated[int, typer.Option(min=1, max=2, help="1: straight line, 2: quadratic.")] = 1,
    no_intercept: Annotated[bool, typer.Option("--no-intercept", help="Hold the curve at 0 where x = X0.")] = False,
    reference_x: Annotated[float, typer.Option(metavar="X0", help="Coefficients in powers of (x - X0).")] = 0.0,
    cycle: Annotated[str | None, typer.Option(metavar="COL", help="Column of the cycle's number.")] = None,
    direction: Annotated[str | None, typer.Option(metavar="COL", help="Column of up or down.")] = None,
    full_scale: Annotated[
        float | None, typer.Option(metavar="FS", help="Span of y for percentages; default: that of the data.")
    ] = None,
    at: Annotated[
        float | None, typer.Option(metavar="X", help="Also what the fit says there, and how well.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    plot: Annotated[Path | None, typer.Option(metavar="FILE.png", help="Draw the residuals.")] = None,
) -> None:
    """Fit y on x by least squares, with standard errors and correlation.

    With --cycle and --direction also nonlinearity, hysteresis and repeatability in percent of full scale.
    A column named unit, where there is one, must say the same in every row.
    """  # fmt: skip
    import msgspec

    from rodtrue.calibration.fit import NoFit, fit_polynomial
    from rodtrue.capture.csv_file import read_columns
    from rodtrue.model.errors import InputError

    _refuse_no_place("--reference-x", reference_x, x)
    _refuse_no_place("--at", at, x)
    xs, ys = read_columns(file, [x, y])
    _refuse_mixed_units(file)
    try:
        found = fit_polynomial(xs, ys, degree=degree, with_intercept=not no_intercept, x0=reference_x)
    except NoFit as reason:
        raise InputError(f"{file}: no fit of {y} on {x}: {reason}", "Give more points at different x.") from reason
    figures = _figures(file, x, y, cycle, direction, full_scale)
    if plot is not None:
        from rodtrue.cli.calibrate_plot import plot_residuals

        plot_residuals(xs, ys - found.value(xs), plot, x, f"{y} less the fit")
    there = None if at is None else _there(found, at)
    if as_json:
        told = _as_json(found)
        told |= {} if figures is None else {"performance": figures}
        told |= {} if there is None else {"at": there}
        typer.echo(msgspec.json.encode(told))
    else:
        _tell(found, x, y, figures)
        if there is not None:
            outside = "" if xs.min() <= there["x"] <= xs.max() else "; beyond the points, so not covered by them"
            typer.echo(f"at {x} = {there['x']:g}: {y} = {there['value']:.6g}{outside}")
            typer.echo(f"  standard uncertainty {there['curve_uncertainty']:.4g} of the curve,")
            typer.echo(f"  {there['further_uncertainty']:.4g} of one further {y}")


def _refuse_no_place(option: str, value: float | None, x: str) -> None:
    """Refuse a place at which no row of a file could stand. Raises: InputError."""
    from rodtrue.capture.csv_file import LARGEST
    from rodtrue.model.errors import InputError

    if value is not None and not abs(value) <= LARGEST:
        raise InputError(f"{option} {value:g}: not a finite number up to {LARGEST:g}", f"Give a value of {x}.")


def _refuse_mixed_units(file: Path) -> None:
    from rodtrue.capture.csv_file import heading, read_table
    from rodtrue.model.errors import InputError

    if UNIT_COLUMN not in heading(file):
        return
    _, (units,), lines = read_table(file, [], [UNIT_COLUMN])
    for unit, line in zip(units, lines, strict=True):
        if unit != units[0]:
            raise InputError(
                f"{file}, line {line}, column {UNIT_COLUMN}: {unit!r}, before it {units[0]!r}",
                "Give every row in one unit.",
            )


def _figures(
    file: Path, x: str, y: str, cycle: str | None, direction: str | None, full_scale: float | None
) -> Performance | None:
    from rodtrue.calibration.performance import Direction, NotInOrder, performance
    from rodtrue.capture.csv_file import read_table
    from rodtrue.model.errors import InputError

    if cycle is None and direction is None:
        return None
    if cycle is None or direction is None:
        raise InputError("--cycle and --direction go together", "Name both columns, or neither.")
    (xs, ys, cycles), (words,), lines = read_table(file, [x, y, cycle], [direction])
    for word, line in zip(words, lines, strict=True):
        if word not in ("up", "down"):
            raise InputError(
                f"{file}, line {line}, column {direction}: {word!r} is neither up nor down", "Mend that line."
            )
    span = full_scale if full_scale is not None else float(ys.max() - ys.min())
    if not (math.isfinite(span) and span > 0):
        raise InputError(f"full scale {span:g}; it must be above 0", "Give the sensor's span with --full-scale.")
    ways: list[Direction] = ["up" if word == "up" else "down" for word in words]
    try:
        return performance(xs, ys, [int(number) for number in cycles], ways, span)
    except NotInOrder as problem:
        raise InputError(
            f"{file}, line {lines[problem.row]}, column {x}: out of order: {problem}",
            "Give the rows in the order they were taken.",
        ) from problem


def _as_json(fit: Fit) -> dict[str, Any]:
    matrix = [[None if math.isnan(r) else float(r) for r in row] for row in fit.correlation]
    return {
        "coefficients": [float(c) for c in fit.coefficients],
        "standard_errors": [float(u) for u in fit.standard_errors],
        "correlation": matrix[0][1] if len(matrix) == 2 else matrix,
        "residual_sd": fit.residual_sd,
        "r_squared": fit.r_squared,
        "degrees_of_freedom": fit.degrees_of_freedom,
    }


def _there(fit: Fit, at: float) -> dict[str, float]:
    """Return the fit at one x: its value, and the standard uncertainties of the curve and of a further reading."""
    return {
        "x": at,
        "value": float(fit.value(at)),
        "curve_uncertainty": fit.curve_uncertainty(at),
        "further_uncertainty": fit.further_uncertainty(at),
    }


def _tell(fit: Fit, x: str, y: str, figures: Performance | None) -> None:
    about = x if fit.x0 == 0 else f"({x} - {fit.x0:g})"
    typer.echo(f"{y} regressed on {x}" + ("" if fit.with_intercept else ", no intercept"))
    factor = fit.student_factor()
    for power, (c, u) in enumerate(zip(fit.coefficients, fit.standard_errors, strict=True)):
        of = "" if power == 0 else f" {about}" if power == 1 else f" {about}^2"
        typer.echo(f"  c{power} {c: .9g}{of}   standard error {u:.4g}, 95 % +- {factor * u:.4g}")
    if fit.with_intercept:
        typer.echo(f"correlation c0 with c1  {fit.correlation[0, 1]:.4f}")
    typer.echo(f"residual sd  {fit.residual_sd:.6g}  ({fit.degrees_of_freedom} degrees of freedom)")
    typer.echo("R squared    " + ("not determined" if fit.r_squared is None else f"{fit.r_squared:.9f}"))
    if figures is not None:
        typer.echo(f"in percent of a full scale of {figures.full_scale:g}:")
        for name in (
            "nonlinearity_least_squares", "nonlinearity_terminal", "nonlinearity_independent", "hysteresis",
            "repeatability",
        ):  # fmt: skip
            value = getattr(figures, name)
            shown = "not determined" if value is None else f"{value:.4f}"
            typer.echo(f"  {name.replace('_', ', ', 1).replace('_', ' '):32} {shown}")
