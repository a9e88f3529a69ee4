"""`rodtrue profile`: list, show, write and check profiles."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rodtrue.cli.wrapped import hanging

profile = typer.Typer(no_args_is_help=True, help="Profiles: what is known and demanded of one kind of unit.")


def register(app: typer.Typer) -> None:
    app.add_typer(profile, name="profile")


@profile.command("list", epilog="Example: rodtrue profile list")
def list_profiles(
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document a profile.")] = False,
) -> None:
    """List the profiles that come with the program."""
    from rodtrue.judging import encode
    from rodtrue.profiles import load_profile, shipped_profiles

    for name in shipped_profiles():
        loaded = load_profile(name)
        if as_json:
            typer.echo(encode({"name": loaded.name, "title": loaded.title, "invented": loaded.invented}))
        else:
            typer.echo(f"{loaded.name:24} {loaded.title}")


@profile.command("show", epilog="Example: rodtrue profile show example-direct")
def show(
    name: Annotated[str, typer.Argument(help="A shipped name or a TOML file.")],
    as_json: Annotated[bool, typer.Option("--json", help="The checked profile as one JSON document.")] = False,
) -> None:
    """Show a profile as it is written, after checking it."""
    from rodtrue.judging import encode
    from rodtrue.profiles import load_profile, profile_text

    loaded = load_profile(name)
    typer.echo(encode(loaded) if as_json else profile_text(name)[0], nl=as_json)


@profile.command("new", epilog="Example: rodtrue profile new my-unit --out my-unit.toml")
def new(
    name: Annotated[str, typer.Argument(help="Name of the new profile.")],
    out: Annotated[Path | None, typer.Option(help="Where to write it; default NAME.toml here.")] = None,
    like: Annotated[str, typer.Option(help="Profile to start from.")] = "example-direct",
) -> None:
    """Write a new profile to fill in, every field with its unit. Never overwrites."""
    from rodtrue.model.errors import InputError
    from rodtrue.profiles import new_profile_text
    from rodtrue.whole_file import write_new_whole

    path = out or Path(f"{name}.toml")
    text = new_profile_text(name, like)
    try:
        write_new_whole(path, text.encode())
    except OSError as error:
        why = "exists already" if isinstance(error, FileExistsError) else f"cannot be written ({error.strerror})"
        raise InputError(f"{path}: {why}", "Give another place with --out.") from error
    typer.echo(f"Wrote {path}")
    typer.echo("Take its numbers from the unit's service information, then run:")
    typer.echo(f"  rodtrue profile check {path}")


@profile.command("check", epilog="Example: rodtrue profile check my-unit.toml")
def check(file: Annotated[str, typer.Argument(help="A TOML file or a shipped name.")]) -> None:
    """Check a profile: every field known, of its type and in its range."""
    from rodtrue.profiles import load_profile

    loaded = load_profile(file)
    note = " It is marked as invented: not for a real unit." if loaded.invented else ""
    for line in hanging(f"{file}: in order ({loaded.layout}, {loaded.title}).{note}", rest="  "):
        typer.echo(line)
