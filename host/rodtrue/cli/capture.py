"""`rodtrue capture`: record to a file, until Ctrl-C or for a time."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.options import DriveWord, OperatorOption, PortOption, RateOption, ReferenceWord, UnitOption

if TYPE_CHECKING:
    from rodtrue.run.recorder import Recorder

POLL_S = 0.1


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("capture", epilog="Example: rodtrue capture bench.capture --port virtual --seconds 5")(capture)


def capture(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The capture to write; never written over.")],
    port: PortOption = "auto",
    seconds: Annotated[float | None, typer.Option(min=0.1, help="How long; default: until Ctrl-C.")] = None,
    rate_hz: RateOption = 500,
    drive: Annotated[DriveWord | None, typer.Option(help="How the pin is moved.")] = None,
    reference: Annotated[ReferenceWord, typer.Option(help="What travel 0 stands for.")] = ReferenceWord.curb_idle,
    operator: OperatorOption = None,
    unit: UnitOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="A summary as JSON at the end.")] = False,
) -> None:
    """Record what the fixture sends. A kill at any moment costs at most the unfinished item.

    It marks no steps and asks nothing, so `judge` can form no verdict on the file: for one, use `rodtrue check`;
    for the samples, `rodtrue dump --csv`.
    """
    import msgspec

    from rodtrue.run.recorder import Recorder
    from rodtrue.run.session import default_plant, open_fixture

    with open_fixture(port, default_plant) as session:
        recorder = Recorder(session.client, session.identity)
        try:
            recorder.open_capture(file, rate_hz)
            recorder.note("conditions", drive=drive, reference=reference, operator=operator, unit=unit)
            _record(recorder, seconds)
        finally:
            recorder.close_capture()
    taken = {
        "file": str(file),
        "kind": recorder.identity["kind"],
        "samples": recorder.next_index - recorder.missing_samples,
        "missing": recorder.missing_samples,
    }
    if as_json:
        typer.echo(msgspec.json.encode(taken))
    else:
        typer.echo("{file}: {samples} samples, {missing} known to be missing, from a {kind} fixture".format(**taken))


def _record(recorder: Recorder, seconds: float | None) -> None:
    """Record until the time is over or Ctrl-C; say on standard error how it goes."""
    import sys

    on_terminal = sys.stderr.isatty()
    said: set[str] = set()
    try:
        while seconds is None or (recorder.device_time_s or 0.0) < seconds:
            received = recorder.poll(POLL_S)
            for notice in received.notices:
                if notice.code not in said:
                    said.add(notice.code)
                    typer.echo(f"\n{notice.severity.upper()}: {notice.text}", err=True)
            if on_terminal and len(received.time_s):
                typer.echo(
                    f"\r{_line(recorder, received.travel_mm[-1], received.pressure_kpa[-1])}", nl=False, err=True
                )
    except KeyboardInterrupt:
        typer.echo("\nstopped", err=True)
    else:
        if on_terminal:
            typer.echo("", err=True)


def _line(recorder: Recorder, travel_mm: float, pressure_kpa: float) -> str:
    from rodtrue.model.units import kpa_to_psi, mm_to_inch

    return (
        f"{recorder.device_time_s:8.1f} s  {mm_to_inch(travel_mm):z6.3f} in ({travel_mm:z6.2f} mm)  "
        f"{kpa_to_psi(pressure_kpa):5.1f} psi ({pressure_kpa:5.1f} kPa)"
    )
