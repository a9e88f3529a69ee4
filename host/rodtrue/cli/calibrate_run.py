"""`rodtrue calibrate run`: the guided calibration in the terminal."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from rodtrue.cli.calibrate_bench import say
from rodtrue.cli.options import OperatorOption, PortOption

OUT = Path("rodtrue-out")
TRAVEL_HELP = "Rising values and one unit, mm or in, for instance '5,15,25 mm'."
PRESSURE_HELP = "Rising values and one unit, psi or kPa, for instance '5,10,20 psi'."


def run(
    port: PortOption = "auto",
    standards: Annotated[
        Path | None, typer.Option(metavar="FILE.toml", help="Your references: `rodtrue calibrate standards`.")
    ] = None,
    operator: OperatorOption = None,
    cycles: Annotated[int, typer.Option(min=2, max=20, help="Cycles up and down.")] = 3,
    travel_points: Annotated[str | None, typer.Option(metavar="LIST", help=TRAVEL_HELP)] = None,
    pressure_points: Annotated[str | None, typer.Option(metavar="LIST", help=PRESSURE_HELP)] = None,
    degree: Annotated[int, typer.Option(min=1, max=2, help="1: straight line, 2: quadratic.")] = 2,
    done: Annotated[
        str | None, typer.Option(metavar="DAY", help="With --points: when they were taken; default: today.")
    ] = None,
    due: Annotated[
        str | None, typer.Option(metavar="DAY", help="Next one due, as 2027-03-31; default: a year.")
    ] = None,
    points: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="Points already taken, instead of a fixture.")
    ] = None,
    go_on: Annotated[
        Path | None,
        typer.Option("--continue", metavar="FILE.csv", help="Points of a run broken off: only the rest is asked."),
    ] = None,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to write, a new folder in it.")] = OUT,
    as_json: Annotated[bool, typer.Option("--json", help="The calibration as JSON at the end.")] = False,
) -> None:
    """Calibrate travel and pressure against references, point by point, up and down, several cycles.

    Writes each point as it is taken, then the calibration, its certificate and a plot of the residuals; keeps a
    copy in your data folder. `rodtrue calibrate store` then writes it into the fixture. A run broken off goes on
    with --continue and the same options.
    """
    from dataclasses import asdict

    import msgspec

    from rodtrue.calibration.making import make_document, overdue_standards
    from rodtrue.calibration.plan import DEFAULT_PLACES, places_of, refuse_too_few
    from rodtrue.calibration.points_file import read_points
    from rodtrue.calibration.standards import VIRTUAL_STANDARDS, load_standards
    from rodtrue.cli.calibrate_measure import measure, warn_untold
    from rodtrue.cli.calibrate_results import write_results
    from rodtrue.model.errors import InputError
    from rodtrue.run.job import new_folder
    from rodtrue.run.session import VIRTUAL

    places = {
        "travel": places_of("travel", travel_points or DEFAULT_PLACES["travel"]),
        "pressure": places_of("pressure", pressure_points or DEFAULT_PLACES["pressure"]),
    }
    for quantity, values in places.items():
        refuse_too_few(quantity, values)
    today = _done_day(done, points)
    due_day = _due_day(due, today)
    used = None if standards is None else load_standards(standards)
    if used is None and (port == VIRTUAL and points is None):
        used = VIRTUAL_STANDARDS
    if used is None:
        raise InputError(
            "no reference standards named", "Fill in `rodtrue calibrate standards > shop.toml`, give --standards."
        )
    for name in overdue_standards(used, today):
        say(f"[!] The reference {name} is overdue for its own calibration.")
    if used is not VIRTUAL_STANDARDS:
        warn_untold(used)
    if points is not None:
        if go_on is not None:
            raise InputError("--points and --continue", "--points is for a whole set, --continue for the rest.")
        taken, folder = read_points(points), new_folder(out, "calibration")
    else:
        taken, folder = measure(port, places, cycles, used, out, go_on)
    try:
        document = make_document(
            taken, used, generation=taken.number, done=today, due=due_day, operator=operator or "", degree=degree
        )
    except InputError:
        if points is None:
            say(f"The points are kept; work them out anew with --points {folder / 'points.csv'}")
        raise
    write_results(document, folder, port)
    if as_json:
        typer.echo(msgspec.json.encode(asdict(document)))


def _done_day(text: str | None, points: Path | None) -> date:
    """Return the day the points were taken. Raises: InputError for what is no past day, or without --points."""
    from rodtrue.model.errors import InputError

    today = date.today()
    if points is None:
        if text is not None:
            raise InputError("--done without --points", "Points that are taken now are taken today: leave it out.")
        return today
    if text is None:
        say(f"[!] The points count as taken today, {today.isoformat()}; --done names the day they were taken.")
        return today
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise InputError(f"--done {text}: not a day", "Give it as 2026-03-31.") from None
    if day > today:
        raise InputError(f"--done {text}: after today, {today.isoformat()}", "Give the day they were taken.")
    return day


def _due_day(text: str | None, done: date) -> date | None:
    from rodtrue.model.errors import InputError

    if text is None:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise InputError(f"--due {text}: not a day", "Give it as 2027-03-31.") from None
    if day < done:
        raise InputError(f"--due {text}: before it was done, {done.isoformat()}", "Give a later day.")
    return day
