"""`rodtrue demo`: the main job with no hardware and no questions, on a virtual fixture."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.options import FAULT_HELP, FaultWord, FirstUnitsOption, UnitsWord
from rodtrue.cli.with_unit import LENGTH_HELP, rod_error_mm

if TYPE_CHECKING:
    from rich.console import Console

    from rodtrue.model.both_units import Units
    from rodtrue.model.result import Result
    from rodtrue.run.guided import GuidedRun
    from rodtrue.run.session import Session
    from rodtrue.virtual.plant import Plant

AS_FOUND_SPEED, AS_LEFT_SPEED = 1.8, 6.0
"""Seconds of the run shown in one second, for a person who watches: under a minute in all."""

FRAMES_PER_S = 15


class Layout(StrEnum):
    """The linkage of the virtual unit."""

    direct = "direct"
    one_bell_crank = "one-bell-crank"
    two_bell_cranks = "two-bell-cranks"


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("demo", epilog="Example: rodtrue demo --rod-error 3 --seed 7")(demo)


def demo(
    rod_error: Annotated[
        float,
        typer.Option(
            metavar="LENGTH",
            parser=rod_error_mm,
            help=f"The virtual rod's error: negative short, positive long. {LENGTH_HELP}",
        ),
    ] = -2.5,
    layout: Annotated[Layout, typer.Option(help="The virtual unit's linkage.")] = Layout.direct,
    fault: Annotated[FaultWord | None, typer.Option(metavar="FAULT", help=FAULT_HELP)] = None,
    seed: Annotated[int, typer.Option(help="Another number draws another unit of the same kind.")] = 1,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to write; a new folder in it.")] = Path(
        "rodtrue-out"
    ),
    fast: Annotated[bool, typer.Option("--fast", help="As fast as it goes, not paced for a person.")] = False,
    units: FirstUnitsOption = UnitsWord.inch,
    as_json: Annotated[bool, typer.Option("--json", help="Only the as-found result, as JSON.")] = False,
) -> None:
    """Show the whole job on a virtual fixture: run, verdict, correction, run again.

    Needs no hardware. What it finds is no measurement, and every file says so.
    """
    from rich.console import Console

    from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
    from rodtrue.cli.outputs import write_plot
    from rodtrue.judging import encode
    from rodtrue.model.errors import InputError
    from rodtrue.model.result import JOB_SCHEMA, Job
    from rodtrue.profiles import parse_profile, profile_text, shipped_profiles
    from rodtrue.report import write_report
    from rodtrue.run.guided import GuidedRun, RunSettings
    from rodtrue.run.job import new_folder, write_job
    from rodtrue.run.recorder import Recorder
    from rodtrue.run.session import open_virtual
    from rodtrue.virtual.plant import Plant
    from rodtrue.virtual.scenario import scenario_for

    name = f"example-{layout}"
    if name not in shipped_profiles():
        shown = ", ".join(word for word in Layout if f"example-{word}" in shipped_profiles())
        raise InputError(f"layout {layout}: no example unit has it yet", f"Layouts that can be shown: {shown}.")
    text, where = profile_text(name)
    profile = parse_profile(text, where)
    terms = terms_of_parts(parts_budget())
    plant = Plant(scenario_for(profile, rod_error_mm=rod_error, fault=fault, terms=terms), seed)
    made_with_mm = plant.rod_error_mm  # a fault may have added to what was asked for
    console = Console(stderr=as_json, width=80)
    folder = new_folder(out, "demo")
    settings = RunSettings(profile, text, folder, operator="demo", unit=f"invented unit, seed {seed}")
    with open_virtual(plant, "manual") as session:
        run = GuidedRun(Recorder(session.client, session.identity), settings)
        try:
            _play(run, session, plant, console, paced=console.is_terminal and not (fast or as_json), show=not as_json)
        finally:
            run.close()
    as_found, as_left = run.results["as-found"], run.results.get("as-left")
    job = Job(JOB_SCHEMA, as_found, as_left, customer="Invented customer", laboratory="Invented shop (made up)")
    files = [
        *run.captures.values(),
        write_job(folder, job),
        write_plot(folder, as_found, as_left),
        write_report(folder / "report.pdf", job, units.value),
    ]
    if as_json:
        typer.echo(encode(as_found))
    else:
        _show_end(as_found, as_left, made_with_mm, units.value)
    typer.echo("Written: " + "\n         ".join(str(path) for path in files), err=as_json)


def _play(run: GuidedRun, session: Session, plant: Plant, console: Console, *, paced: bool, show: bool) -> None:
    """Play the job to its end; with `show`, on the terminal as it goes."""
    import time
    from contextlib import nullcontext

    from rich.live import Live

    from rodtrue.cli.live_show import picture
    from rodtrue.run.autopilot import Autopilot, Pacer
    from rodtrue.run.hand import VirtualHand

    pilot = Autopilot(
        run,
        VirtualHand(plant.hand, plant.handle),
        session.client.clock,
        adjust=show,
        fault=plant.handle.fault,
    )
    pacer = Pacer(session.client.clock, AS_FOUND_SPEED if paced else None)
    live = Live(console=console, auto_refresh=False, transient=True) if show else None
    shown_at_s = 0.0

    def each() -> None:
        nonlocal shown_at_s
        if paced and "as-left" in run.captures:
            pacer.speed = AS_LEFT_SPEED
        pacer.keep()
        now_s = time.monotonic()
        if live is not None and now_s - shown_at_s >= 1 / FRAMES_PER_S:
            shown_at_s = now_s
            note = f"shown {pacer.speed:g} times as fast" if pacer.speed else ""
            live.update(picture(run, virtual=True, note=note), refresh=True)

    with live or nullcontext():
        pilot.play(each)


def _show_end(as_found: Result, as_left: Result | None, rod_error_mm: float, first: Units) -> None:
    from rodtrue.cli.show import show_result
    from rodtrue.cli.textplot import draw_result
    from rodtrue.run.words import VIRTUAL_MARK, length

    typer.echo(f"Rodtrue demo: {VIRTUAL_MARK.upper()}. Invented unit, invented shop.\n")
    typer.echo("AS FOUND")
    show_result(as_found, first)
    typer.echo("")
    typer.echo("\n".join(draw_result(as_found.plot, units=first)))
    typer.echo(f"  The virtual rod was made with an error of {length(rod_error_mm, signed=True, first=first)}.\n")
    if as_left is not None:
        typer.echo("AS LEFT, the correction made")
        show_result(as_left, first)
        typer.echo("")
