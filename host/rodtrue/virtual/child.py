"""The interpreter child: started, spoken to over two pipes, ended. The messages are in standin/channel.py."""

from __future__ import annotations

import contextlib
import json
import os
import struct
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rodtrue.model.errors import FixtureError
from rodtrue.virtual.interpreter import NAMED_BY, Interpreter

POWER_ON = 1
WATCHDOG = 3
STANDIN = Path(__file__).resolve().parent / "standin"
_HEAD = struct.Struct("<BH")
_LAST_WORDS = 2000
_ENDS_WITHIN_S = 5.0


@dataclass(frozen=True)
class BoardSettings:
    """What the stand-in board is told when it is switched on.

    ticks_start_us: where the device ticks begin (they wrap at 2^30 us). stalls_us: pairs (from, for) of
    device time since power-up in which the host takes nothing. window: bytes the line takes ahead of the
    host, 0 for any number.
    """

    firmware: Path
    flash: Path
    wiring: dict[str, int]
    ticks_start_us: int = 0
    unique_id: bytes = b"VIRTUAL\x01"
    window: int = 0
    stalls_us: Sequence[tuple[int, int]] = ()


class Child:
    """One interpreter from power-up or reset to its end."""

    def __init__(
        self,
        interpreter: Interpreter,
        settings: BoardSettings,
        *,
        reset_cause: int = POWER_ON,
        scratch: int = 0,
        switches: int = 0,
    ) -> None:
        """Start it; switches: the contacts at power-up, as bits.

        Raises: FixtureError where the interpreter cannot be started.
        """
        self._command = interpreter.command[0]
        child_reads, self._to_child = os.pipe()
        self.fd, child_writes = os.pipe()
        self._log = tempfile.TemporaryFile()  # noqa: SIM115 - closed in end()
        self._received = bytearray()
        config = {
            "firmware": str(settings.firmware),
            "ticks_start_us": settings.ticks_start_us,
            "reset_cause": reset_cause,
            "scratch": scratch,
            "switches": switches,
            "unique_id": settings.unique_id.hex(),
            "wiring": settings.wiring,
            "window": settings.window,
            "stalls": [list(stall) for stall in settings.stalls_us],
            "interpreter": interpreter.name,
        }
        try:
            self._process = subprocess.Popen(
                [
                    *interpreter.command,
                    str(STANDIN / interpreter.first_file),
                    str(child_reads),
                    str(child_writes),
                ],
                cwd=settings.flash,
                stdin=subprocess.DEVNULL,
                stdout=self._log,
                stderr=self._log,
                pass_fds=(child_reads, child_writes),
                # Ctrl-C at the terminal is for the host; the device must live to answer its last request.
                start_new_session=True,
            )
        except OSError as error:
            os.close(self._to_child)
            os.close(self.fd)
            self._log.close()
            raise FixtureError(
                f"the interpreter {self._command} cannot be run: {error.strerror}", self._way_out()
            ) from error
        finally:
            os.close(child_reads)
            os.close(child_writes)
        self._send(b"S", json.dumps(config).encode())

    def messages(self) -> Iterator[tuple[bytes, bytes]]:
        """Read once and yield (kind, payload) of every whole message; a last one of kind b"" at its end."""
        data = os.read(self.fd, 65536)
        self._received += data
        while len(self._received) >= _HEAD.size:
            kind, length = _HEAD.unpack_from(self._received)
            if len(self._received) < _HEAD.size + length:
                break
            payload = bytes(self._received[_HEAD.size : _HEAD.size + length])
            del self._received[: _HEAD.size + length]
            yield bytes((kind,)), payload
        if not data:
            yield b"", b""

    def grant(
        self,
        number: int,
        until_us: int,
        more: bool,
        codes: NDArray[np.uint16],
        switches: NDArray[np.uint8],
    ) -> None:
        """Answer a wish for time: codes shape (n, 8), switches shape (n,), or (1,) where n is 0."""
        head = struct.pack("<BQBH", number, until_us, more, len(codes))
        self._send(b"C", head + codes.astype("<u2").tobytes() + switches.tobytes())

    def show_first(self, codes: NDArray[np.uint16], switches: NDArray[np.uint8]) -> None:
        """Tell what the converter reads before any time has passed: codes shape (1, 8), switches (1,)."""
        self._send(b"F", codes.astype("<u2").tobytes() + switches.tobytes())

    def give_input(self, data: bytes) -> None:
        """Hand over bytes that came from the host."""
        self._send(b"I", data)

    def give_window(self, count: int) -> None:
        """Give back bytes of the line's window."""
        self._send(b"K", struct.pack("<I", count))

    def last_words(self) -> str:
        """Return the end of what it wrote beside its pipes, and how it ended."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(_ENDS_WITHIN_S)
        self._log.seek(0, os.SEEK_END)
        self._log.seek(max(0, self._log.tell() - _LAST_WORDS))
        text = self._log.read().decode(errors="replace").strip()
        return f"exit code {self._process.returncode}" + (f": {text}" if text else "")

    def failure_at_start(self, what: str) -> FixtureError:
        """Return the error of a child whose program did not begin."""
        return FixtureError(f"the interpreter {self._command} {what}", self._way_out())

    def end(self) -> None:
        """End the process and close everything. Ending it again does nothing."""
        if self._log.closed:
            return
        self._process.kill()
        self._process.wait()
        for fd in (self._to_child, self.fd):
            os.close(fd)
        self._log.close()

    def _send(self, kind: bytes, payload: bytes) -> None:
        message = _HEAD.pack(kind[0], len(payload)) + payload
        # A child that has ended shows at its other pipe, with its reason.
        with contextlib.suppress(BrokenPipeError):
            while message:
                message = message[os.write(self._to_child, message) :]

    def _way_out(self) -> str:
        return f"Install the MicroPython wheel again, or name a MicroPython that runs in {NAMED_BY}."
