"""The points of a guided calibration, one by one: set by a person or by the virtual bench's hands."""

from __future__ import annotations

import os.path
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from rodtrue.calibration.plan import Target, follows, left_to_take, plan
from rodtrue.calibration.points_file import Points, append_point, read_points
from rodtrue.calibration.standards import Standards, not_traceable
from rodtrue.cli.calibrate_bench import VirtualHands, ask, open_bench, say
from rodtrue.model.counted import counted
from rodtrue.model.errors import FixtureError, InputError, RodtrueError
from rodtrue.model.units import kpa_to_psi, mm_to_inch
from rodtrue.run.calibrating import CAUTIONS, NotSettled, fixture_of, next_number, refuse_other_fixture, take_point
from rodtrue.run.job import new_folder

if TYPE_CHECKING:
    from rodtrue.calibration.document import Point
    from rodtrue.run.session import Session

UNITS = {"travel": "mm", "pressure": "kPa"}


def warn_untold(standards: Standards) -> None:
    """Say loudly what the certificate will not be able to say of the references."""
    for quantity, standard in (("travel", standards.travel), ("pressure", standards.pressure)):
        if untold := not_traceable(standard):
            say(
                f"[!] {quantity}: {untold} of the reference {standard.name} not told. The certificate will say that "
                "it is not shown to be traceable."
            )


def measure(
    port: str, places: dict[str, list[float]], cycles: int, standards: Standards, out: Path, go_on: Path | None
) -> tuple[Points, Path]:
    """Take all points from a fixture, or what is left of them; return them and the folder they are written to.

    go_on: the points of a run that was broken off. Each point is on the disk before the next is asked.
    Raises: InputError where those are not the beginning of this run, or of another fixture; FixtureError where the
    fixture is lost. What was taken until then is kept, and where is said.
    """
    before = None if go_on is None else _begun(go_on)
    with open_bench(port) as (session, hands):
        fixture = fixture_of(session.identity)
        taken = before or Points(fixture)
        refuse_other_fixture(taken.fixture, session.identity)
        taken.fixture, taken.number = fixture, next_number(session.client)
        left = {
            quantity: left_to_take(plan(values, cycles), taken.of(quantity), quantity)
            for quantity, values in places.items()
        }
        _greet(session, hands, left)
        path = go_on or new_folder(out, "calibration") / "points.csv"
        try:
            for quantity in places:
                standard = standards.travel if quantity == "travel" else standards.pressure
                many = f"{counted(len(places[quantity]), 'point')} up and down, {counted(cycles, 'cycle')}"
                say(f"\n{quantity.upper()} against {standard.name}: {many}")
                _say_where_to_begin(left[quantity], places[quantity], UNITS[quantity])
                for target in left[quantity]:
                    last = next(reversed(taken.of(quantity)), None)
                    point = _take(session, hands, quantity, target, last)
                    append_point(path, taken, quantity, point)
                    taken.of(quantity).append(point)
                    say(f"  {_asked(target, UNITS[quantity])}: code {point.code:.1f}, scatter {point.sd_codes:.1f}")
        except (RodtrueError, KeyboardInterrupt):
            _say_kept(taken, path)
            raise
        finally:
            if hands is None:
                say("Relieve the pressure before you disconnect anything.")
        return taken, path.parent


def _begun(path: Path) -> Points:
    if os.path.exists(path.parent / "calibration.json"):  # a name too long is refused where it is read
        raise InputError(
            f"{path}: that run is whole, its calibration stands beside it",
            "Begin a new run without --continue, or work these points out anew with --points.",
        )
    return read_points(path)


def _greet(session: Session, hands: VirtualHands | None, left: dict[str, list[Target]]) -> None:
    identity = session.identity
    say(f"{session.port}: {fixture_of(identity).kind} {identity.unique_id.hex()}")
    say(f"{counted(sum(map(len, left.values())), 'point')} to take; broken off, the run can go on later.")
    if hands is not None:
        say("VIRTUAL FIXTURE, NOT A MEASUREMENT: a virtual bench places every point.")
    for caution in CAUTIONS:
        say(f"[!] {caution}")
    if hands is None:
        ask("Read and understood: type yes", ("yes",))


def _say_where_to_begin(left: list[Target], places: list[float], unit: str) -> None:
    """Where a run goes on in the middle of a stroke, its end comes first: else the sensor's play is missed."""
    if not left:
        say("All of these are taken already.")
        return
    first = left[0]
    up = first.direction == "up"
    if first.value != (places[0] if up else places[-1]):
        end = f"below {_both(places[0], unit)}" if up else f"up to {_both(places[-1], unit)}"
        say(f"Go {end} first, and come {'up' if up else 'down'} from there.")


def _say_kept(taken: Points, path: Path) -> None:
    count = len(taken.travel) + len(taken.pressure)
    if count and path.exists():
        say(f"\nBroken off; kept: {counted(count, 'point')} taken. Go on with the same command and options, and:")
        typer.echo(f"  --continue {path}", err=True)


def _take(
    session: Session, hands: VirtualHands | None, quantity: str, target: Target, before: Point | None
) -> Point:
    """Have a point set and take it; a reading that does not stand still, or has not followed, is asked for again."""
    asked = _asked(target, UNITS[quantity])
    for _ in range(3):
        if hands is None:
            way = "below" if target.direction == "up" else "above"
            ask(f"Set {asked}, coming from {way}; then Enter", ("",))
        else:
            hands.place(quantity, target.value)
        try:
            point = take_point(session.client, quantity, target)
        except NotSettled:
            say("  the reading still creeps: bleed the line, look for a leak, let it rest")
            continue
        if follows(before, point, quantity):
            return point
        say("  the reading has not followed: is the point set, is the sensor the right one and the right way round?")
    raise FixtureError(
        f"{asked}: the reading did not come to rest there in three tries",
        "Look at the sensor, its plug and its clamp; bleed the line; then go on.",
    )


def _asked(target: Target, unit: str) -> str:
    return f"cycle {target.cycle}, {target.direction}: {_both(target.value, unit)}"


def _both(value: float, unit: str) -> str:
    if unit == "mm":
        return f"{mm_to_inch(value):.4f} in ({value:.3f} mm)"
    return f"{kpa_to_psi(value):.2f} psi ({value:.3f} kPa)"
