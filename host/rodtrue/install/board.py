"""A board at its interpreter's raw prompt, spoken to through mpremote.

mpremote writes its troubles to standard output; they are kept from it and told as a FixtureError.
"""

from __future__ import annotations

import ast
import contextlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from types import TracebackType

import serial
from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport

from rodtrue.install.build import Target
from rodtrue.model.errors import FixtureError

_PROMPT_WITHIN_S = 5
_READ_TIMEOUT_S = 1.0
_FRESH = ".new"
_FACTS = """import os, sys
_i = sys.implementation
_s = os.statvfs("/")
print((_i.name, tuple(_i.version), getattr(_i, "_machine", ""), sys.platform, getattr(_i, "_mpy", 0),
    _s[1] * _s[3], max(_s[0], 512), [f[0] for f in os.ilistdir() if f[1] & 0x8000]))
"""
_RENAME = """import os
try:
    os.rename({0!r}, {1!r})
except OSError:
    os.remove({1!r})
    os.rename({0!r}, {1!r})
"""


@dataclass(frozen=True)
class BoardFacts:
    """What a board says of itself. Sizes in bytes; block_bytes: what a file's size is rounded up to."""

    interpreter: str
    version: tuple[int, ...]
    version_text: str
    machine: str
    platform: str
    target: Target
    free_bytes: int
    block_bytes: int
    files: frozenset[str]

    @property
    def leftovers(self) -> list[str]:
        """Files that an installation cut short has left beside their place."""
        return sorted(name for name in self.files if name.endswith(_FRESH))


class Board:
    """An open board. Raises: FixtureError from every call where it does not answer as MicroPython does."""

    def __init__(self, port: str) -> None:
        """Open the port and interrupt what runs there; what runs the program again is a restart."""
        self._port = port
        with self._told():
            self._transport = SerialTransport(port, timeout=_READ_TIMEOUT_S)
        try:
            with self._told():
                self._transport.enter_raw_repl(soft_reset=False, timeout_overall=_PROMPT_WITHIN_S)
        except FixtureError as error:
            self.close()
            raise FixtureError(
                f"port {port}: no MicroPython prompt answers",
                "Hold the fixture's button while plugging it in, then install again. A new board needs MicroPython "
                "for the RP2040 on it first.",
            ) from error

    def facts(self) -> BoardFacts:
        """Ask what it is."""
        with self._told():
            said = self._transport.exec(_FACTS).decode(errors="replace")
        try:
            name, version, machine, platform, mpy, free, block, files = ast.literal_eval(said.strip())
            numbers = tuple(int(part) for part in version[:3])
        except (ValueError, SyntaxError, TypeError) as error:
            raise FixtureError(
                f"port {self._port}: what answers is not MicroPython; it said: {said.strip()[:200]!r}",
                "Put MicroPython for the RP2040 on the board first.",
            ) from error
        text = ".".join(str(part) for part in version if part != "")
        return BoardFacts(
            name, numbers, text, machine, platform, Target.from_number(mpy), free, block, frozenset(files)
        )

    def sha256(self, name: str) -> str:
        """Return the hash of a file as the board reads it, hexadecimal."""
        with self._told():
            return bytes(self._transport.fs_hashfile(name, "sha256")).hex()

    def write_fresh(self, name: str, content: bytes) -> None:
        """Write a file beside the one of that name."""
        with self._told():
            self._transport.fs_writefile(name + _FRESH, content)

    def fresh_sha256(self, name: str) -> str:
        """Return the hash of the file written beside `name`."""
        return self.sha256(name + _FRESH)

    def take_fresh(self, name: str) -> None:
        """Put the file written beside `name` in its place."""
        with self._told():
            self._transport.exec(_RENAME.format(name + _FRESH, name))

    def remove(self, name: str) -> None:
        """Remove a file."""
        with self._told():
            self._transport.fs_rmfile(name)

    def restart(self) -> None:
        """Reset it, and with that lose it."""
        with self._told():
            self._transport.exec_raw_no_follow("import machine\nmachine.reset()")

    def close(self) -> None:
        """Give the port back."""
        # A board that has restarted is gone, and has nothing to say any more.
        with contextlib.suppress(OSError, serial.SerialException), contextlib.redirect_stdout(io.StringIO()):
            self._transport.close()

    def __enter__(self) -> Board:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            with contextlib.redirect_stdout(io.StringIO()):
                yield
        except TransportExecError as error:
            last = str(error.error_output).strip().splitlines()[-1:] or ["nothing"]
            raise FixtureError(
                f"port {self._port}: the board's interpreter refused a step: {last[0]}",
                "Unplug the board, hold its button while plugging it in, and install again.",
            ) from error
        except (TransportError, serial.SerialException, OSError) as error:
            raise FixtureError(
                f"port {self._port}: the board stopped answering ({error})",
                "Check the cable, hold the board's button while plugging it in, and install again.",
            ) from error
