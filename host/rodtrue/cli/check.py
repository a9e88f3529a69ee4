"""`rodtrue check`: the guided run in the terminal, with questions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.options import (
    CustomerOption,
    DriveWord,
    LaboratoryOption,
    NotesOption,
    OperatorOption,
    OrderOption,
    PortOption,
    ReferenceWord,
    UnitOption,
    UnitsOption,
    UnitsWord,
)
from rodtrue.cli.records_options import Place
from rodtrue.cli.virtual_unit import VirtualUnit, give_calibration, of_virtual_unit

if TYPE_CHECKING:
    from rich.console import Console

    from rodtrue.model.result import Job
    from rodtrue.run.guided import GuidedRun

OUT = Path("rodtrue-out")
REFERENCE_HELP = "What travel 0 stands for; lever_stop: a valve body alone, on a bench."


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("check", epilog="Example: rodtrue check --port virtual --operator A.B. --unit 'truck 12'")(check)


@of_virtual_unit
def check(
    virtual: VirtualUnit,
    port: PortOption = "auto",
    profile: Annotated[str, typer.Option(help="A shipped profile or a TOML file.")] = "example-direct",
    drive: Annotated[DriveWord, typer.Option(help="How the pin is moved.")] = DriveWord.slide,
    reference: Annotated[ReferenceWord, typer.Option(help=REFERENCE_HELP)] = ReferenceWord.curb_idle,
    operator: OperatorOption = None,
    unit: UnitOption = None,
    customer: CustomerOption = None,
    laboratory: LaboratoryOption = None,
    order: OrderOption = None,
    notes: NotesOption = None,
    units: UnitsOption = UnitsWord.inch,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to write, a new folder in it.")] = OUT,
    tag: Annotated[str | None, typer.Option(help="What for: `check standard` for the drift watch.")] = None,
    serial: Annotated[str | None, typer.Option(help="The valve body's serial number, for the report.")] = None,
    place: Place = None,
    as_json: Annotated[bool, typer.Option("--json", help="The job as JSON at the end.")] = False,
) -> None:
    """Measure a rod, step by step: cautions, zero, baseline, sweeps, verdict, adjusting, measuring again.

    With --drive bench --reference lever_stop a valve body alone: no rod, the lever itself is moved.
    With --port virtual the hands are virtual too: press Enter.
    """
    from dataclasses import replace

    from rich.console import Console

    from rodtrue.cli.keyboard import Keyboard
    from rodtrue.cli.records_watch import FixtureWatch
    from rodtrue.cli.terminal import TerminalRun
    from rodtrue.judging import encode
    from rodtrue.model.errors import RodtrueError
    from rodtrue.profiles import parse_profile, profile_text
    from rodtrue.records.keeping import keep
    from rodtrue.run.cautions import leave_safe
    from rodtrue.run.guided import GuidedRun, RunSettings
    from rodtrue.run.hand import VirtualHand
    from rodtrue.run.job import new_folder
    from rodtrue.run.recorder import Recorder
    from rodtrue.run.session import open_fixture

    virtual.refuse_at(port)
    document = virtual.document()
    text, where = profile_text(profile)
    loaded = parse_profile(text, where)
    console = Console(stderr=as_json, width=80, highlight=False)
    # Made before anything is opened, so that what cannot be is refused first.
    settings = RunSettings(
        loaded,
        text,
        out,
        drive=drive.value,
        reference=reference.value,
        operator=operator,
        unit=unit,
        checklists=True,
    )

    with open_fixture(port, lambda: virtual.plant(loaded, drive.value, reference.value)) as session:
        if document is not None:
            give_calibration(session, document)
        settings = replace(settings, folder=new_folder(out, "check"))
        recorder = Recorder(session.client, session.identity)
        run = GuidedRun(recorder, settings)
        plant = session.plant
        watch = FixtureWatch(console, place, tag, str(recorder.identity["unique_id"]), virtual=run.is_virtual)
        hand = VirtualHand(plant.hand, plant.handle) if plant is not None else None
        watch.before()
        ended_by: RodtrueError | None = None
        try:
            TerminalRun(run, console, Keyboard(), hand, units.value).go()
        except KeyboardInterrupt:
            console.print("\nStopped by hand; what was captured is kept.")
            console.print(leave_safe(settings.drive, settings.reference))
        except RodtrueError as error:
            # Told at the end: a verdict formed before it, as found perhaps, is still to be kept.
            ended_by = error
            console.print(leave_safe(settings.drive, settings.reference))
        finally:
            run.close()
            for path in run.captures.values():
                console.print(f"Captured: {path}", soft_wrap=True)
    said = {"customer": customer, "laboratory": laboratory, "reference": order, "notes": notes}
    job = _finish(run, settings.folder, said, serial, units, console)
    if job is not None:
        console.print(keep(job, settings.folder / "job.json", place, tag, serial), soft_wrap=True)
        watch.after()
        if as_json:
            typer.echo(encode(job))
    if ended_by is not None:
        raise ended_by


def _finish(
    run: GuidedRun,
    folder: Path,
    said: dict[str, str | None],
    serial: str | None,
    units: UnitsWord,
    console: Console,
) -> Job | None:
    """Write the job, its plot and its report where there is a result; say so where there is none."""
    from rodtrue.cli.outputs import write_plot
    from rodtrue.model.result import JOB_SCHEMA, Job
    from rodtrue.report import write_report
    from rodtrue.run.job import write_job

    as_found, as_left = run.results.get("as-found"), run.results.get("as-left")
    if as_found is None:
        console.print("No verdict was formed, so no job was written.")
        return None
    job = Job(JOB_SCHEMA, as_found, as_left, **said)
    for path in (
        write_job(folder, job),
        write_plot(folder, as_found, as_left),
        write_report(folder / "report.pdf", job, units.value, valve_body_serial=serial),
    ):
        console.print(f"Written: {path}", soft_wrap=True)
    return job
