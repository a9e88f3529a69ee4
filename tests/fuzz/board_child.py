"""The fixture's program in real MicroPython on a board that lives on from one word to the next."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

from firmware.scripts import SCRIPTS
from rodtrue.resources import room_path
from rodtrue.virtual.interpreter import find_interpreter


@dataclass(frozen=True)
class Told:
    """What came of a word. refused: frames refused since the board was new; unread: bytes; heap_bytes: taken."""

    sent: bytes
    refused: int
    unread: int
    heap_bytes: int


class BoardChild:
    """flash: the folder that is the board's flash."""

    def __init__(self, flash: Path) -> None:
        command = [*find_interpreter().command, str(SCRIPTS / "hostile_host.py"), str(room_path("firmware"))]
        self._process = subprocess.Popen(
            command, cwd=flash, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )

    def say(self, word: str, argument: object = "") -> Told:
        """Say a word of the script's and return what came of it. Raises: AssertionError where the program ended."""
        pipe_in, pipe_out = self._process.stdin, self._process.stdout
        assert pipe_in is not None and pipe_out is not None
        pipe_in.write(f"{word} {argument}\n")
        pipe_in.flush()
        line = pipe_out.readline()
        told = line.split()
        if len(told) != 4:
            pipe_in.close()
            raise AssertionError("the fixture's program ended: " + line + pipe_out.read())
        sent = b"" if told[0] == "-" else bytes.fromhex(told[0])
        return Told(sent, *map(int, told[1:]))

    def close(self) -> None:
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None and not pipe.closed:
                pipe.close()
        self._process.wait(timeout=30)
