"""`rodtrue page`: the bench page in the browser."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.options import OperatorOption, PortOption, UnitOption
from rodtrue.cli.records_options import Place

if TYPE_CHECKING:
    from rodtrue.page.access import Gate

HTTP_PORT = 8713


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("page", epilog="Example: rodtrue page --port virtual")(page)


def page(
    port: PortOption = "auto",
    profile: Annotated[str, typer.Option(help="The profile offered first: a shipped one or a TOML file.")] = (
        "example-direct"
    ),
    http: Annotated[
        int, typer.Option(min=0, max=65535, metavar="PORT", help="Its TCP port; 0: any free one.")
    ] = HTTP_PORT,
    listen: Annotated[
        bool, typer.Option("--listen", help="Open to the shop's network too, behind an access code; not encrypted.")
    ] = False,
    no_open: Annotated[bool, typer.Option("--no-open", help="Do not open a browser.")] = False,
    operator: OperatorOption = None,
    unit: UnitOption = None,
    place: Place = None,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to write, a new folder for each run.")] = Path(
        "rodtrue-out"
    ),
) -> None:
    """Open the bench page: the guided run in the browser of this computer, live, up to the report.

    Only this computer can see it, unless --listen is given. Needs no network.
    """
    from rodtrue.page.access import AccessSettings, shop_addresses
    from rodtrue.page.choice import Choice
    from rodtrue.page.engine import Engine
    from rodtrue.page.history import RecordsDesk
    from rodtrue.page.server import open_http_port, serve
    from rodtrue.profiles import load_profile

    load_profile(profile)  # a profile that cannot be read is told here and not in the browser
    listening = open_http_port(http, shop=listen)
    http = listening.getsockname()[1]
    settings = AccessSettings(http, tuple(shop_addresses()) if listen else ())
    offered = Choice(port=port, profile=profile, operator=operator, unit=unit)
    engine = Engine(out, offered, RecordsDesk(place))
    serve(engine, listening, settings, lambda gate: _say_where(gate, http, open_browser=not no_open))


def _say_where(gate: Gate, http: int, *, open_browser: bool) -> None:
    from rodtrue.page.access.qr import qr_text

    here = f"http://127.0.0.1:{http}/"
    typer.echo(f"The bench page: {here}")
    for address in gate.addresses:
        typer.echo(f"On the shop's network, not encrypted: {address}")
    if gate.addresses and sys.stdout.isatty():
        typer.echo(f"Access code: {gate.code}")
        typer.echo(f"Or scan this; it opens the page once, within ten minutes:\n{qr_text(gate.entry_link())}")
    elif gate.addresses:  # what is kept in a file or handed on is no place for a code
        typer.echo("The access code is shown on the page itself, at this computer only.")
    typer.echo("Ctrl-C ends it; what was captured is kept.")
    if open_browser:
        import webbrowser

        webbrowser.open(here)
