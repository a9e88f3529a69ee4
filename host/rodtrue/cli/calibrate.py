"""`rodtrue calibrate`: fits, the guided calibration, and what a fixture or a file holds."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli import calibrate_run
from rodtrue.cli.calibrate_bench import open_bench, say
from rodtrue.cli.calibrate_fit import fit
from rodtrue.cli.options import PortOption
from rodtrue.cli.with_unit import pressure_kpa

if TYPE_CHECKING:
    from rodtrue.calibration.document import CalibrationDocument

JsonOption = Annotated[bool, typer.Option("--json", help="One JSON document.")]

FORGETS = (
    "The fixture of --port virtual forgets what is stored in it when the command ends. To measure with a "
    "calibration: rodtrue check --port virtual --calibration FILE. Or serve a virtual fixture (rodtrue fixture "
    "virtual), which holds it until it is ended, store into the port it names, and press its button with lines "
    '{"button": true} and {"button": false}; or judge a capture with --calibration FILE.'
)


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
        str | None,
        typer.Option(
            metavar="PRESSURE", help="'260 psi' or '1800 kPa': the fixture sounds at once above it; default: as now."
        ),
    ] = None,
    renumber: Annotated[
        bool, typer.Option("--renumber", help="Store it under the fixture's next number, with a new certificate.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Write a calibration into its fixture (hold the button 2 s), read it back and compare.

    The fixture keeps the calibration it held before until the new one is whole. Certificate and fixture say the same
    number: one that is not the fixture's next is refused, unless --renumber issues it again under that.
    The fixture of --port virtual forgets it when the command ends; one served by `rodtrue fixture virtual` holds it
    while it runs.
    """
    import msgspec

    from rodtrue.calibration.files import load_calibration
    from rodtrue.calibration.making import renumbered
    from rodtrue.cli.calibrate_results import write_again
    from rodtrue.run.calibrating import next_number, refuse_other_fixture
    from rodtrue.run.calibrating import store as store_in

    document = load_calibration(file)
    threshold_kpa = None if over_pressure is None else pressure_kpa("--over-pressure", over_pressure)
    with open_bench(port) as (session, bench):
        number = next_number(session.client)
        if renumber and number != document.generation:
            refuse_other_fixture(document.fixture, session.identity)
            document = renumbered(document, number, date.today())
            write_again(document, file)
        stored = store_in(
            session.client,
            session.identity,
            document,
            over_pressure_kpa=threshold_kpa,
            say=say,
            hold_button=None if bench is None else bench.hold_button,
        )
    if as_json:
        told = {"port": session.port, "stored": stored.written, "generation": stored.generation}
        typer.echo(msgspec.json.encode(told))
    elif not stored.written:
        typer.echo(f"The fixture holds just this already, as its number {stored.generation}: nothing was written.")
    else:
        typer.echo(f"Stored, read back and equal: calibration number {stored.generation} of this fixture.")
    if bench is not None:
        say(FORGETS)


def show(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="A calibration file; without one, the fixture's.")
    ] = None,
    port: PortOption = "auto",
    as_json: JsonOption = False,
    plot: Annotated[Path | None, typer.Option(metavar="FILE.png", help="Draw the residuals of FILE.")] = None,
    at: Annotated[
        str | None, typer.Option(metavar="VALUE", help="What a reading there is worth: '12.5 mm', '60 psi'.")
    ] = None,
) -> None:
    """Show the certificate of a calibration file, or what a fixture holds."""
    from dataclasses import asdict

    import msgspec

    from rodtrue.calibration.certificate import certificate_text
    from rodtrue.calibration.files import load_calibration
    from rodtrue.model.errors import InputError

    if file is None:
        if plot is not None or at is not None:
            raise InputError(
                "--plot or --at without a calibration file", "Name the file: the fixture keeps no points."
            )
        _show_stored(port, as_json)
        return
    document = load_calibration(file)
    if at is not None:
        _show_reading(document, at, as_json)
        return
    typer.echo(msgspec.json.encode(asdict(document)) if as_json else certificate_text(document), nl=as_json)
    if plot is not None:
        from rodtrue.cli.calibrate_plot import plot_document

        plot_document(document, plot)


def _show_reading(document: CalibrationDocument, at: str, as_json: bool) -> None:
    """Show the expanded uncertainty of one calibrated reading at a value."""
    import msgspec

    from rodtrue.calibration.certificate import between
    from rodtrue.calibration.channel import reading_uncertainty
    from rodtrue.calibration.plan import places_of
    from rodtrue.model.errors import InputError
    from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH

    channel = document.travel if at.strip().endswith(("mm", "in")) else document.pressure
    values = places_of(channel.quantity, at)
    if len(values) != 1:
        raise InputError(f"--at {at!r}: {len(values)} values", "Give one, such as '12.5 mm' or '60 psi'.")
    found = reading_uncertainty(channel, values[0])
    ends = [point.reference for point in channel.points]
    covered = min(ends) <= found.value <= max(ends)
    if as_json:
        told = {"quantity": channel.quantity, "unit": channel.unit, "value": found.value, "covered": covered}
        typer.echo(msgspec.json.encode({**told, "expanded_uncertainty": found.expanded_uncertainty}))
        return
    trade, per = ("in", MM_PER_INCH) if channel.unit == "mm" else ("psi", KPA_PER_PSI)
    value, reach = found.value, found.expanded_uncertainty
    typer.echo(
        f"a {channel.quantity} reading of {value:.6g} {channel.unit} ({value / per:.6g} {trade}): give or take "
        f"{reach:.3g} {channel.unit} ({reach / per:.3g} {trade}), 95 %"
    )
    if not covered:
        typer.echo(f"  [!] beyond the calibration, {between(min(ends), max(ends), channel.unit)}: not covered by it")


def _show_stored(port: str, as_json: bool) -> None:
    import msgspec

    from rodtrue.calibration.certificate import between, curve_text
    from rodtrue.run.calibrating import threshold_words
    from rodtrue.run.recorder import read_calibration

    with open_bench(port) as (session, _):
        held = read_calibration(session.client)
        unique_id = session.identity.unique_id.hex()
    if as_json:
        typer.echo(msgspec.json.encode({"port": session.port, "fixture_id": unique_id, "calibration": held}))
    elif held is None:
        typer.echo(f"{session.port}: fixture {unique_id} holds no calibration: nominal values are used.")
    else:
        due = held["due"] or "not agreed"
        typer.echo(f"{session.port}: fixture {unique_id}")
        typer.echo(f"  holds calibration number {held['generation']}, done {held['done']}, due {due}")
        if held["fixture_id"] != unique_id:
            typer.echo(f"  [!] it is of another fixture, {held['fixture_id']}: not used")
        typer.echo(f"  references: {held['references'] or 'not told'}")
        typer.echo(f"  sounds at once above {threshold_words(held['over_pressure_kpa'])}")
        for name, unit, channel in zip(("travel", "pressure"), ("mm", "kPa"), held["channels"], strict=True):
            coefficients = [channel["c0"], channel["c1"], channel["c2"]][: channel["degree"] + 1]
            typer.echo(f"  {name} / {unit} = {curve_text(coefficients, channel['r0'])}")
            if held["range"] is not None:
                ends = held["range"][name]
                typer.echo(f"    from {between(ends['lowest'], ends['highest'], unit)}")
            typer.echo(
                f"    scale within {100 * channel['scale_half_width']:.3g} %, nonlinearity within "
                f"{channel['nonlinearity_half_width']:.3g} {unit}, at {channel['temperature_c']:.1f} degC"
            )
        if held["range"] is None:
            typer.echo("  its range is not known here: the fixture keeps none, and this computer no copy")
        else:
            typer.echo(f"  range by {held['range']['from']}: the fixture keeps none")


def standards() -> None:
    """Print a file of reference standards to fill in, for `calibrate run --standards`."""
    from rodtrue.calibration.standards import TEMPLATE

    typer.echo(TEMPLATE, nl=False)
