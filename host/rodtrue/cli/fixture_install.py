"""`rodtrue fixture install`: the firmware onto a board."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from rodtrue.cli.options import JsonOption, PortOption
from rodtrue.model.counted import counted

if TYPE_CHECKING:
    from rodtrue.install.build import Build
    from rodtrue.install.installer import Installed

_RP2040 = "an RP2040 (armv6m)"


def install(
    port: PortOption = "auto",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would be done; only say hello.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Install the firmware on the board at a port, verify it, restart it, and say hello.

    Finds the board by its USB identity, enters maintenance, checks MicroPython's version and the room, compiles for
    the board's processor, copies, and reads every file back. The calibration on the board stays.
    """
    from rodtrue.install.installer import install as put_on_board

    if dry_run:
        _show_plan(port, as_json)
        return
    done = put_on_board(port, say=lambda text: typer.echo(text, err=True))
    if as_json:
        _print_json(_told(done))
        return
    there = f"{len(done.unchanged)} there already"
    typer.echo(f"Installed on {done.port}: {counted(len(done.copied), 'file')} copied and verified, {there}.")
    if done.removed:
        typer.echo(f"Removed, older forms of the same: {', '.join(done.removed)}.")
    generation = done.identity.calibration_generation
    typer.echo(
        f"Its calibration was kept (generation {generation})."
        if generation
        else "It holds no calibration yet: calibrate before relying on its numbers."
    )
    typer.echo(f"Next: rodtrue fixture self-test --port {done.port}")


def _show_plan(port: str, as_json: bool) -> None:
    """Say what would be done. What is built is shown also where no board can be found for it."""
    from rodtrue.install.build import FIXTURE_BOARD, build
    from rodtrue.install.installer import LEAST_MICROPYTHON, plan
    from rodtrue.model.errors import FixtureError

    try:
        planned = plan(port)
    except FixtureError:
        if not as_json:
            _show_files(build(FIXTURE_BOARD))
        raise
    running = planned.running
    if as_json:
        _print_json(
            {
                "dry_run": True,
                "port": planned.place.port,
                "running_firmware": running.firmware_version if running else None,
                "calibration_generation": running.calibration_generation if running else None,
                **_built(planned.build),
            }
        )
        return
    _show_files(planned.build)
    least = ".".join(map(str, LEAST_MICROPYTHON))
    first = (
        f"have the firmware there ({running.firmware_version}) restart into maintenance"
        if running
        else "interrupt what runs there (no fixture program answers)"
    )
    typer.echo(f"At {planned.place.port} this would:")
    steps = (
        first,
        f"check that it is MicroPython {least} or newer, with room",
        "compile again if the processor is another one",
        "copy these files beside the old ones and read each back by its hash",
        "put them in their places, main.py last; the calibration stays",
        "restart it and say hello",
    )
    for number, step in enumerate(steps, 1):
        typer.echo(f"  {number}. {step}")
    typer.echo("Nothing was changed.")


def _show_files(built: Build) -> None:
    total = sum(len(file.content) for file in built.files)
    how = f"compiled for {_RP2040}" if built.compiled_for else f"as source: {built.why_source}"
    typer.echo(f"{counted(len(built.files), 'file')}, {counted(total, 'byte')}, {how}:")
    for file in built.files:
        typer.echo(f"  {file.name:18} {len(file.content):6}  sha256 {file.sha256[:16]}")


def _built(built: Build) -> dict[str, Any]:
    return {
        "compiled_for": built.compiled_for,
        "why_source": built.why_source,
        "files": [{"name": f.name, "bytes": len(f.content), "sha256": f.sha256} for f in built.files],
    }


def _told(done: Installed) -> dict[str, Any]:
    from rodtrue.capture.notes import identity_fields

    return {
        "dry_run": False,
        "port": done.port,
        "micropython": done.facts.version_text,
        "board": done.facts.machine,
        **_built(done.build),
        "copied": done.copied,
        "unchanged": done.unchanged,
        "removed": done.removed,
        "identity": identity_fields(done.identity),
    }


def _print_json(told: dict[str, Any]) -> None:
    import msgspec

    typer.echo(msgspec.json.encode(told))
