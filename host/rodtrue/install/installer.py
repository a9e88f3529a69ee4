"""The installation from beginning to end, in steps that can be cut anywhere and begun again.

Every file is written beside the old one and verified before any takes its place. main.py goes first and
comes back last: a board cut in between starts no half program, and shows its prompt instead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import rodtrue_protocol as wire
from rodtrue.install.board import Board, BoardFacts
from rodtrue.install.build import FIXTURE_BOARD, BoardFile, Build, build
from rodtrue.install.entry import Place, after_restart, choose, enter_maintenance, who_is_there
from rodtrue.link.client import Client
from rodtrue.link.port import Port
from rodtrue.model.errors import FixtureError

LEAST_MICROPYTHON = (1, 26, 0)
"""The first whose timers call from a hard interrupt on this processor (MicroPython pull request 17363)."""

FIXTURE_PLATFORM = "rp2"
MAIN = "main.py"
_KEPT_FREE_BLOCKS = 4
"""Room left for two calibration slots and what the file system needs beside them."""

Say = Callable[[str], None]


@dataclass(frozen=True)
class Plan:
    """What would be done at a place. running: the program that answers there now, if one does."""

    place: Place
    running: wire.Identity | None
    build: Build


@dataclass(frozen=True)
class Installed:
    """What was done. copied, unchanged, removed: names. identity: who answered after the restart."""

    port: str
    facts: BoardFacts
    build: Build
    identity: wire.Identity
    copied: list[str] = field(default_factory=list)
    unchanged: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)


def plan(port: str) -> Plan:
    """Find the board and say hello to it, nothing more; what it would get is built for an RP2040.

    Raises: FixtureError, InputError as `install`.
    """
    place = choose(port)
    return Plan(place, who_is_there(place), build(FIXTURE_BOARD))


def install(port: str, say: Say = lambda text: None, firmware: Path | None = None) -> Installed:
    """Put the firmware on the board at a port; `say` hears each step. Calibrations stay where they are.

    firmware: another folder than the shipped one.
    Raises: FixtureError where there is no board or more than one, where it is not MicroPython, too old or full,
    where a file does not read back as written, or nobody answers afterwards; InputError for a virtual fixture.
    """
    place = choose(port)
    running = who_is_there(place)
    if running is not None:
        say(f"Firmware {running.firmware_version} answers at {place.port}; into maintenance.")
        place = enter_maintenance(place)
    else:
        say(f"No fixture program answers at {place.port}; going to the interpreter's prompt.")
    with Board(place.port) as board:
        facts = board.facts()
        refuse_unfit(place.port, facts)
        say(f"MicroPython {facts.version_text} on {facts.machine or facts.platform}.")
        if facts.platform != FIXTURE_PLATFORM:
            say(f"Note: no RP2040 ({facts.platform}): copied, but it will not measure there.")
        made = build(facts.target, firmware)
        say(f"Compiled for {made.compiled_for}." if made.compiled_for else f"As source: {made.why_source}.")
        copied, unchanged, removed = _put(board, place.port, facts, made, say)
        say("Restarting.")
        board.restart()
    place = after_restart(place)
    with Port(place.port) as line:
        identity = Client(line).hello()
    say(f"Firmware {identity.firmware_version} says hello.")
    return Installed(place.port, facts, made, identity, copied, unchanged, removed)


def refuse_unfit(port: str, facts: BoardFacts) -> None:
    """Raises: FixtureError where a board's interpreter cannot run the firmware."""
    least = ".".join(map(str, LEAST_MICROPYTHON))
    if facts.interpreter != "micropython":
        raise FixtureError(
            f"port {port}: the board runs {facts.interpreter}, not MicroPython",
            f"Put MicroPython {least} or newer for the RP2040 on it first.",
        )
    if facts.version < LEAST_MICROPYTHON:
        raise FixtureError(
            f"port {port}: MicroPython {facts.version_text} is too old; the firmware needs {least} or newer "
            "(hard timer interrupts)",
            "Put a newer MicroPython for the RP2040 on the board, then install again.",
        )


def refuse_full(port: str, facts: BoardFacts, files: list[BoardFile]) -> None:
    """Raises: FixtureError where the board has no room for the files beside what lies there."""
    block = facts.block_bytes
    needed = sum(-(-len(file.content) // block) * block for file in files) + _KEPT_FREE_BLOCKS * block
    if needed > facts.free_bytes:
        raise FixtureError(
            f"port {port}: {facts.free_bytes} bytes are free on the board, {needed} are needed",
            "Remove what else lies on the board, then install again.",
        )


def _put(
    board: Board, port: str, facts: BoardFacts, made: Build, say: Say
) -> tuple[list[str], list[str], list[str]]:
    """Copy what differs; return the names copied, unchanged and removed."""
    same = [file.name for file in made.files if file.name in facts.files and board.sha256(file.name) == file.sha256]
    stale = [file.stale_name for file in made.files if file.stale_name in facts.files]
    removed = [name for name in stale if name is not None]
    if len(same) == len(made.files) and not removed:
        say("Every file is there already.")
        return [], same, []
    for name in facts.leftovers:
        board.remove(name)
    # main.py is taken away while others change, so it is always written.
    files = [file for file in made.files if file.name not in same or file.name == MAIN]
    refuse_full(port, facts, files)
    for file in files:
        say(f"  {file.name}, {len(file.content)} bytes")
        board.write_fresh(file.name, file.content)
        if board.fresh_sha256(file.name) != file.sha256:
            raise FixtureError(
                f"port {port}: {file.name} does not read back as it was written; nothing was replaced",
                "Install again; if it happens again the board's storage is worn: replace the board.",
            )
    say("Every file reads back as written.")
    if MAIN in facts.files:
        board.remove(MAIN)
    for name in removed:
        board.remove(name)
    for file in files:
        board.take_fresh(file.name)
    return [file.name for file in files], [name for name in same if name != MAIN], removed

