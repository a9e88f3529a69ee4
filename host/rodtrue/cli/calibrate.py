"""`rodtrue calibrate`: fits, the guided calibration, and what a fixture or a file holds."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rodtrue.cli import calibrate_run
from rodtrue.cli.calibrate_fit import fit
from rodtrue.cli.options import PortOption

JsonOption = Annotated[bool, typer.Option("--json", help="One JSON document.")]


def register(app: typer.Typer) -> None:
    """Add the command and its own commands to the command line."""
    calibrate = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Calibrate a fixture's sensors.")
    calibrate.command("fit", epilog="Example: rodtrue calibrate fit points.csv --x reference --y reading --json")(fit)
    calibrate.command(
        "run", epilog="Example: rodtrue calibrate run --port auto --standards shop.toml --operator A.B."
    )(calibrate_run.run)
    calibrate.command("store", epilog="Example: rodtrue calibrate store calibration.json --port auto")(store)
    calibrate.command("show", epilog="Example: rodtrue calibrate show calibration.json")(show)
    calibrate.command("standards", epilog="Example: rodtrue calibrate standards > shop.toml")(standards)
    app.add_typer(calibrate, name="calibrate", epilog="Example: rodtrue calibrate run --port virtual")


def store(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A calibration written by `calibrate run`.")],
    port: PortOption = "auto",
    over_pressure: Annotated[
        float | None,
        typer.Option(min=0, metavar="KPA", help="The fixture sounds at once above it; default: as it is now."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Write a calibration into its fixture (hold the button 2 s), read it back and compare.

    The fixture keeps the calibration it held before until the new one is whole.
    """
    import msgspec

    from rodtrue.calibration.files import load_calibration
    from rodtrue.run.calibrating import store as store_in

    document = load_calibration(file)
    with calibrate_run.open_bench(port) as (session, bench):
        stored = store_in(
            session.client,
            session.identity,
            document,
            over_pressure_kpa=over_pressure,
            say=lambda text: typer.echo(text, err=True),
            hold_button=None if bench is None else bench.hold_button,
        )
    if as_json:
        typer.echo(msgspec.json.encode({"port": session.port, "stored": True, "generation": stored.generation}))
    else:
        typer.echo(f"Stored, read back and equal: calibration number {stored.generation} of this fixture.")
    if bench is not None:
        typer.echo("A virtual fixture of --port virtual forgets it when this command ends.", err=True)


def show(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="A calibration file; without one, the fixture's.")
    ] = None,
    port: PortOption = "auto",
    as_json: JsonOption = False,
    plot: Annotated[Path | None, typer.Option(metavar="FILE.png", help="Draw the residuals of FILE.")] = None,
) -> None:
    """Show the certificate of a calibration file, or what a fixture holds."""
    from dataclasses import asdict

    import msgspec

    from rodtrue.calibration.certificate import certificate_text
    from rodtrue.calibration.files import load_calibration
    from rodtrue.model.errors import InputError

    if file is None:
        if plot is not None:
            raise InputError("--plot without a calibration file", "Name the file: the fixture keeps no points.")
        _show_stored(port, as_json)
        return
    document = load_calibration(file)
    typer.echo(msgspec.json.encode(asdict(document)) if as_json else certificate_text(document), nl=as_json)
    if plot is not None:
        from rodtrue.cli.calibrate_plot import plot_document

        plot_document(document, plot)


def _show_stored(port: str, as_json: bool) -> None:
    import msgspec

    from rodtrue.run.calibrating import threshold_words
    from rodtrue.run.recorder import read_calibration

    with calibrate_run.open_bench(port) as (session, _):
        held = read_calibration(session.client)
        unique_id = session.identity.unique_id.hex()
    if as_json:
        typer.echo(msgspec.json.encode({"port": session.port, "fixture_id": unique_id, "calibration": held}))
    elif held is None:
        typer.echo(f"{session.port}: fixture {unique_id} holds no calibration: nominal values are used.")
    else:
        due = held["due"] or "not agreed"
        typer.echo(f"{session.port}: fixture {unique_id} holds calibration number {held['generation']}")
        typer.echo(f"  done {held['done']}, due {due}; of fixture {held['fixture_id']}")
        typer.echo(f"  references: {held['references'] or 'not told'}")
        typer.echo(f"  sounds at once above {threshold_words(held['over_pressure_kpa'])}")
        for name, unit, channel in zip(("travel", "pressure"), ("mm", "kPa"), held["channels"], strict=True):
            typer.echo(
                f"  {name} = {channel['c0']:.6g} + {channel['c1']:.6g} (r - {channel['r0']:.6g})"
                + (f" + {channel['c2']:.6g} (r - {channel['r0']:.6g})^2" if channel["degree"] == 2 else "")
                + f" {unit}"
            )
            typer.echo(
                f"    scale within {100 * channel['scale_half_width']:.3g} %, nonlinearity within "
                f"{channel['nonlinearity_half_width']:.3g} {unit}, at {channel['temperature_c']:.1f} degC"
            )


def standards() -> None:
    """Print a file of reference standards to fill in, for `calibrate run --standards`."""
    from rodtrue.calibration.standards import TEMPLATE

    typer.echo(TEMPLATE, nl=False)
