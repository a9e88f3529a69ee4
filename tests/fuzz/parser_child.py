"""The fixture's program in real MicroPython, one input after the other, each on a fresh board."""

from __future__ import annotations

import subprocess
from pathlib import Path
from types import TracebackType

from firmware.scripts import SCRIPTS
from rodtrue.resources import room_path
from rodtrue.virtual.interpreter import find_interpreter


class ParserChild:
    """flash: the folder that is the board's flash."""

    def __init__(self, flash: Path) -> None:
        command = [*find_interpreter().command, str(SCRIPTS / "fuzz_parser.py"), str(room_path("firmware"))]
        self._process = subprocess.Popen(
            command, cwd=flash, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )

    def answer(self, data: bytes, *, unsealed: bool = False) -> tuple[bytes, int, int]:
        """Return what the fixture said to `data`, how many frames it refused, and how many bytes it left unread."""
        pipe_in, pipe_out = self._process.stdin, self._process.stdout
        assert pipe_in is not None and pipe_out is not None
        pipe_in.write(("u" if unsealed else "s") + data.hex() + "\n")
        pipe_in.flush()
        line = pipe_out.readline()
        words = line.rstrip("\n").split(" ")
        if len(words) != 4:
            pipe_in.close()
            raise AssertionError("the fixture's program ended: " + line + pipe_out.read())
        return bytes.fromhex(words[0]), int(words[1]), int(words[3])

    def __enter__(self) -> ParserChild:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None and not pipe.closed:
                pipe.close()
        self._process.wait(timeout=30)
