"""`rodtrue hinge`: the broken-line fit of any two columns."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    app.command("hinge", epilog="Example: rodtrue hinge bands.csv --x x --y y --json")(hinge)


def hinge(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="A CSV with a heading line.")],
    x: Annotated[str, typer.Option("--x", metavar="COL", help="Column of the abscissa.")],
    y: Annotated[str, typer.Option("--y", metavar="COL", help="Column of the ordinate.")],
    flat_left: Annotated[bool, typer.Option("--flat-left", help="Hold the left line level.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Fit two straight lines that meet: the exact least-squares break point of any data."""
    from rodtrue.analysis.hinge import NoHinge, fit_hinge
    from rodtrue.capture.csv_file import read_columns
    from rodtrue.judging import encode
    from rodtrue.model.errors import InputError

    xs, ys = read_columns(file, [x, y])
    try:
        fit = fit_hinge(xs, ys, flat_left=flat_left)
    except NoHinge as reason:
        raise InputError(f"{file}: no break point: {reason}", "Give data that bend once.") from reason
    if as_json:
        typer.echo(encode(fit))
        return
    interval = "not determined" if fit.interval is None else f"{fit.interval[0]:.6g} to {fit.interval[1]:.6g}"
    error = "not determined" if fit.standard_error is None else f"{fit.standard_error:.4g}"
    typer.echo(f"break point     {fit.break_point:.6g}")
    typer.echo(f"standard error  {error}")
    typer.echo(f"95 % interval   {interval}")
    typer.echo(f"slope left      {fit.slope_left:.6g}")
    typer.echo(f"slope right     {fit.slope_right:.6g}")
    typer.echo(f"left at x = 0   {fit.intercept:.6g}")
    typer.echo(f"residual sum    {fit.rss:.6g}  ({fit.n} rows)")
