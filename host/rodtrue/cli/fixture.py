"""`rodtrue fixture`: what is connected, what it says of itself, and a virtual one to serve."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.fixture_install import install
from rodtrue.cli.fixture_state import info, self_test
from rodtrue.cli.options import FAULT_HELP, FaultWord, JsonOption, PortOption
from rodtrue.cli.with_unit import LENGTH_HELP, rod_error_mm

if TYPE_CHECKING:
    from rodtrue.virtual.handle import Handle


def register(app: typer.Typer) -> None:
    """Add the command and its own commands to the command line."""
    fixture = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Look after fixtures.")
    fixture.command("list", epilog="Example: rodtrue fixture list")(list_fixtures)
    fixture.command("info", epilog="Example: rodtrue fixture info --port auto")(info)
    fixture.command("self-test", epilog="Example: rodtrue fixture self-test --port auto")(self_test)
    fixture.command("install", epilog="Example: rodtrue fixture install --dry-run")(install)
    fixture.command("virtual", epilog="Example: rodtrue fixture virtual --rod-error 3 --tcp 8714")(serve_virtual)
    fixture.command("maintenance", epilog="Example: rodtrue fixture maintenance --port auto")(maintenance)
    app.add_typer(fixture, name="fixture", epilog="Example: rodtrue fixture list")


def list_fixtures(as_json: JsonOption = False) -> None:
    """List connected boards by their USB identity; sends nothing to any port.

    The place in front and the unique number at the end are what --port takes where several are connected.
    """
    from dataclasses import asdict

    import msgspec

    from rodtrue.link.port import find_ports

    found = find_ports()
    for place, port in enumerate(found, start=1):
        if as_json:
            typer.echo(msgspec.json.encode(asdict(port)))
        else:
            typer.echo(f"{place}  {port.device}  {port.description}  {port.serial_number or 'no unique number'}")
    if not found:
        typer.echo("No fixture board is connected. Without hardware: --port virtual", err=True)


def maintenance(
    port: PortOption = "auto",
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask first.")] = False,
) -> None:
    """Restart a fixture once without its program and watchdog, so that an installer can get in.

    The next restart runs the program again.
    """
    from rodtrue.model.errors import InputError
    from rodtrue.run.session import default_plant, open_fixture

    if not yes:
        try:
            agreed = typer.confirm("The fixture will restart without its program. Go on?", err=True)
        except typer.Abort as error:
            raise InputError("maintenance: nobody answered", "Run it in a terminal, or give --yes.") from error
        if not agreed:
            typer.echo("Nothing was done.")
            return
    with open_fixture(port, default_plant) as session:
        session.client.enter_maintenance()
    typer.echo(f"{session.port}: restarting for maintenance; unplug and plug in again to run the program.")


def serve_virtual(
    rod_error: Annotated[
        float,
        typer.Option(metavar="LENGTH", parser=rod_error_mm, help=f"Negative short, positive long. {LENGTH_HELP}"),
    ] = -2.5,
    fault: Annotated[FaultWord | None, typer.Option(metavar="FAULT", help=FAULT_HELP)] = None,
    seed: Annotated[int, typer.Option(help="Another number draws another unit.")] = 1,
    profile: Annotated[str, typer.Option(help="The profile of the unit it stands for.")] = "example-direct",
    tcp: Annotated[
        int | None, typer.Option(min=0, max=65535, metavar="PORT", help="Serve a TCP port; 0 for any.")
    ] = None,
) -> None:
    """Serve a virtual fixture for other programs until Ctrl-C; steered by JSON lines on standard input.

    A line is an object of any of: throttle_mm, rod_hooked, holding_spring, rod_turns, fault, button,
    foot_switch. For instance: {"rod_hooked": false, "holding_spring": true}
    """
    import sys
    import threading

    from rodtrue.profiles import load_profile
    from rodtrue.run.virtual_unit import virtual_plant
    from rodtrue.run.words import VIRTUAL_MARK
    from rodtrue.virtual.fixture import VirtualFixture

    plant = virtual_plant(load_profile(profile), rod_error_mm=rod_error, fault=fault, seed=seed)
    with VirtualFixture(plant, tcp_port=tcp) as fixture:
        typer.echo(fixture.port)
        typer.echo(f"{VIRTUAL_MARK}; open it with --port {fixture.port}; Ctrl-C ends it", err=True)
        threading.Thread(target=_steer, args=(plant.handle, sys.stdin), name="steering", daemon=True).start()
        try:
            threading.Event().wait()
        except KeyboardInterrupt:
            typer.echo("ended", err=True)


def _steer(handle: Handle, lines: Iterable[str]) -> None:
    """Do what each line says; what cannot be understood is said and left out."""
    from rodtrue.model.errors import InputError
    from rodtrue.virtual.steering import steer

    for line in lines:
        if line.strip():
            try:
                steer(handle, line)
            except InputError as error:
                typer.echo(f"rodtrue: {error.message}\n{error.next_step}", err=True)
