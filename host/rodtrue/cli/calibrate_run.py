"""`rodtrue calibrate run`: the guided calibration in the terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.options import OperatorOption, PortOption

if TYPE_CHECKING:
    from rodtrue.calibration.document import CalibrationDocument, Point
    from rodtrue.calibration.plan import Target
    from rodtrue.calibration.points_file import Points
    from rodtrue.calibration.standards import Standards
    from rodtrue.run.session import Session
    from rodtrue.virtual.calibration_bench import CalibrationBench

OUT = Path("rodtrue-out")
TRAVEL_HELP = "Rising values and one unit, mm or in, for instance '5,15,25 mm'."
PRESSURE_HELP = "Rising values and one unit, psi or kPa, for instance '5,10,20 psi'."


class VirtualHands:
    """The hands at the virtual bench."""

    def __init__(self, bench: CalibrationBench) -> None:
        self._handle = bench.handle

    def hold_button(self, pressed: bool) -> None:
        """Press the fixture's button, or let it go."""
        self._handle.button = pressed

    def place(self, quantity: str, value: float) -> None:
        """Set the slide, or load the pressure standard."""
        if quantity == "travel":
            self._handle.place(travel_mm=value)
        else:
            self._handle.place(pressure_kpa=value)


@contextmanager
def open_bench(port: str) -> Iterator[tuple[Session, VirtualHands | None]]:
    """Open a fixture for calibration: a port, or with `virtual` one on a virtual bench and the hands at it."""
    from rodtrue.run.session import DEFAULT_SEED, VIRTUAL, default_plant, open_port, open_virtual
    from rodtrue.virtual.calibration_bench import CalibrationBench

    if port != VIRTUAL:
        with open_port(port) as session:
            yield session, None
        return
    # The sensors of the very unit that `check --port virtual` measures with.
    bench = CalibrationBench(default_plant().truth, DEFAULT_SEED)
    with open_virtual(bench, "manual") as session:
        yield session, VirtualHands(bench)


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
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to write, a new folder in it.")] = OUT,
    as_json: Annotated[bool, typer.Option("--json", help="The calibration as JSON at the end.")] = False,
) -> None:
    """Calibrate travel and pressure against references, point by point, up and down, several cycles.

    Writes each point as it is taken, then the calibration, its certificate and a plot of the residuals; keeps a
    copy in your data folder. `rodtrue calibrate store` then writes it into the fixture.
    """
    from dataclasses import asdict

    import msgspec

    from rodtrue.calibration.making import make_document, overdue_standards
    from rodtrue.calibration.plan import DEFAULT_PLACES, places_of, refuse_too_few
    from rodtrue.calibration.points_file import read_points
    from rodtrue.calibration.standards import VIRTUAL_STANDARDS, load_standards
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
        typer.echo(f"[!] The reference {name} is overdue for its own calibration.", err=True)
    if points is not None:
        taken, held = read_points(points), 0
        folder = new_folder(out, "calibration")
    else:
        taken, held, folder = _measure(port, places, cycles, used, out)
    document = make_document(
        taken, used, generation=held + 1, done=today, due=due_day, operator=operator or "", degree=degree
    )
    _write(document, folder)
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
        _say(f"[!] The points count as taken today, {today.isoformat()}; --done names the day they were taken.")
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


def _measure(
    port: str, places: dict[str, list[float]], cycles: int, standards: Standards, out: Path
) -> tuple[Points, int, Path]:
    """Take all points from a fixture; return them, the generation it holds, and the folder they are written to."""
    from rodtrue.calibration.plan import plan
    from rodtrue.calibration.points_file import Points, append_point
    from rodtrue.run.calibrating import CAUTIONS, fixture_of
    from rodtrue.run.job import new_folder

    with open_bench(port) as (session, hands):
        fixture = fixture_of(session.identity)
        taken = Points(fixture)
        _say(f"{session.port}: {fixture.kind} {fixture.unique_id}")
        if hands is not None:
            _say("VIRTUAL FIXTURE, NOT A MEASUREMENT: a virtual bench places every point.")
        for caution in CAUTIONS:
            _say(f"[!] {caution}")
        if hands is None:
            _ask("Read and understood: type yes", ("yes",))
        folder = new_folder(out, "calibration")
        for quantity, unit in (("travel", "mm"), ("pressure", "kPa")):
            standard = standards.travel if quantity == "travel" else standards.pressure
            many = f"{len(places[quantity])} points up and down, {cycles} cycles"
            _say(f"\n{quantity.upper()} against {standard.name}: {many}")
            for target in plan(places[quantity], cycles):
                point = _take(session, hands, quantity, unit, target)
                append_point(folder / "points.csv", fixture, quantity, point)
                taken.of(quantity).append(point)
        if hands is None:
            _say("Relieve the pressure before you disconnect anything.")
        held = session.client.read_calibration()
        return taken, 0 if held is None else held.generation, folder


def _take(session: Session, hands: VirtualHands | None, quantity: str, unit: str, target: Target) -> Point:
    """Have a point set and take it; a reading that does not stand still is asked for again."""
    from rodtrue.model.errors import FixtureError
    from rodtrue.model.units import kpa_to_psi, mm_to_inch
    from rodtrue.run.calibrating import NotSettled, take_point

    other = f"{mm_to_inch(target.value):.4f} in" if unit == "mm" else f"{kpa_to_psi(target.value):.2f} psi"
    asked = f"cycle {target.cycle}, {target.direction}: {other} ({target.value:.3f} {unit})"
    for _ in range(3):
        if hands is None:
            way = "from below" if target.direction == "up" else "from above"
            _ask(f"Set {asked}, coming {way}; Enter when it is set", ("",))
        else:
            hands.place(quantity, target.value)
        try:
            point = take_point(session.client, quantity, target)
        except NotSettled:
            _say("  the reading still creeps: bleed the line, look for a leak, let it rest")
            continue
        _say(f"  {asked}: code {point.code:.1f}, scatter {point.sd_codes:.1f}")
        return point
    raise FixtureError(
        f"{asked}: the reading did not come to rest in three tries; the points until then are kept",
        "Bleed the line, tighten the slide's clamp, and start again.",
    )


def _write(document: CalibrationDocument, folder: Path) -> None:
    from rodtrue.calibration.certificate import certificate_text
    from rodtrue.calibration.files import keep_copy, save_calibration
    from rodtrue.cli.calibrate_plot import plot_document
    from rodtrue.run.job import cannot_write

    text = certificate_text(document)
    _say("\n" + text)
    written = [folder / "calibration.json"]
    save_calibration(document, written[0])
    written.append(keep_copy(document))
    certificate = folder / "certificate.md"
    try:
        certificate.write_text(text, "utf-8")
    except OSError as error:
        raise cannot_write(certificate, error) from error
    plot_document(document, folder / "residuals.png")
    for path in (*written, certificate, folder / "residuals.png"):
        _say(f"Written: {path}")
    _say(f"Next: rodtrue calibrate store {written[0]} --port PORT")


def _say(text: str) -> None:
    typer.echo(text, err=True)


def _ask(text: str, answers: tuple[str, ...]) -> None:
    """Ask until one of the answers comes. Raises: InputError where the input ends."""
    from rodtrue.model.errors import InputError

    while True:
        typer.echo(f"{text}: ", err=True, nl=False)
        typed = sys.stdin.readline()
        if not typed:
            raise InputError(
                "the input ended before the calibration was over; the points until then are kept",
                "Run `rodtrue calibrate run` in a terminal.",
            )
        if typed.strip().lower() in answers:
            return
