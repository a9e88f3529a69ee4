"""The command line. Each command module registers its own; heavy libraries load where they are used."""

from __future__ import annotations

import importlib
import shutil
import sys
import textwrap
from functools import partial
from io import StringIO, TextIOWrapper

import typer

from rodtrue import __version__
from rodtrue.cli.plain_streams import drop_unwritable, plain_streams
from rodtrue.model.errors import InputError, RodtrueError
from rodtrue.plain_text import is_utf8

COMMAND_MODULES = (
    "demo", "check", "page", "capture", "judge", "report", "records", "lab",
    "calibrate", "fixture", "profile", "hinge", "shifts", "dump",
)  # fmt: skip
"""Modules of this package in the order in which `--help` lists their commands."""

app = typer.Typer(
    name="rodtrue",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Measure a throttle rod: find where the lever starts, say long, short or correct, and which way to turn.",
    epilog="Advice for a qualified person; the unit's service information and local codes come first.",
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"rodtrue {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: bool = typer.Option(
        False, "--version", callback=_print_version, is_eager=True, help="Show the version."
    ),
) -> None:
    pass


_ENDED_BY_CTRL_C = 130
"""What typer makes of a keyboard interrupt that a command lets through."""

for _name in COMMAND_MODULES:
    importlib.import_module(f"rodtrue.cli.{_name}").register(app)


def main() -> None:
    """Run the command line; end with 0, 2 (bad input or usage) or 3 (fixture trouble)."""
    _take_any_input()
    with plain_streams():
        _run()


def _take_any_input() -> None:
    """Let whatever is typed or piped in be read: bytes that are no UTF-8 spelt out, none at all as one that ended."""
    if sys.stdin is None:
        sys.stdin = StringIO()
    elif isinstance(sys.stdin, TextIOWrapper):
        sys.stdin.reconfigure(errors="backslashreplace")


def _run() -> None:
    try:
        _refuse_other_than_utf8(sys.argv[1:])
        app()
    except RodtrueError as error:
        typer.echo(_to_width(f"rodtrue: {error.message}\n{error.next_step}"), err=True)
        drop_unwritable()
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        _end_by_hand()
    except SystemExit as end:
        if end.code == _ENDED_BY_CTRL_C:
            _end_by_hand()
        raise


def _refuse_other_than_utf8(arguments: list[str]) -> None:
    """Refuse at the door what no capture, result or record could hold. Raises: InputError."""
    for argument in arguments:
        if not is_utf8(argument):
            raise InputError(
                f"argument {argument!r}: not UTF-8", "Type it in UTF-8; rename a file whose name is not."
            )


def _to_width(text: str) -> str:
    """Return the text in lines that a terminal shows whole; paths stay in one piece. Unchanged where none reads."""
    if not sys.stderr.isatty():
        return text
    width = shutil.get_terminal_size().columns
    fill = partial(textwrap.fill, width=width, break_long_words=False, break_on_hyphens=False)
    return "\n".join(fill(line) for line in text.splitlines())


def _end_by_hand() -> None:
    typer.echo("rodtrue: stopped by hand before it was done", err=True)
    sys.exit(2)
