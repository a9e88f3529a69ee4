"""Lines typed by a person, read beside the port: a thread waits for the keyboard, the run does not."""

from __future__ import annotations

import queue
import sys
import threading
from typing import TextIO

MOST_AHEAD = 1000
"""Lines read before they are asked for: `yes` never ends, and what feeds it waits."""


class Keyboard:
    """What is typed, line by line. person: whether somebody sits there, or a script feeds the lines."""

    def __init__(self, source: TextIO | None = None) -> None:
        self._source = source or sys.stdin
        self.person = self._source.isatty()
        self._lines: queue.Queue[str | None] = queue.Queue(MOST_AHEAD)
        threading.Thread(target=self._listen, name="keyboard", daemon=True).start()

    def line(self) -> str | None:
        """Return the next line without its end, stripped; None where nothing has been typed yet.

        Raises: EOFError once the input has ended.
        """
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        if line is None:
            self._lines.put(None)
            raise EOFError
        return line.strip()

    def forget(self) -> None:
        """Drop what a person typed before the question was there. A script's lines stay."""
        while self.person:
            try:
                line = self._lines.get_nowait()
            except queue.Empty:
                return
            if line is None:
                self._lines.put(None)
                return

    def _listen(self) -> None:
        try:
            for line in self._source:
                self._lines.put(line)
        except (OSError, ValueError):
            pass  # closed under the reader at the program's end: as good as the end of the input
        self._lines.put(None)
