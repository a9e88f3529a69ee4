"""A virtual board's flash that goes with its fixture: a folder among the temporary ones.

Where the program is killed it stays, and a later fixture clears it away: the lock on it has gone with its holder,
whatever ended that.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import shutil
import tempfile
import time
from pathlib import Path

PREFIX = "rodtrue-board-"
LEFT_AFTER_S = 60.0
"""A younger folder may be one whose maker has not locked it yet."""


class PassingFlash:
    """A new folder at `path`, held until `remove`. What killed programs of this user left is cleared away first."""

    def __init__(self) -> None:
        for folder in Path(tempfile.gettempdir()).glob(PREFIX + "*"):
            with contextlib.suppress(OSError):
                _clear_if_left(folder)
        self.path = Path(tempfile.mkdtemp(prefix=PREFIX))
        self._held = os.open(self.path, os.O_RDONLY)
        fcntl.flock(self._held, fcntl.LOCK_EX)

    def remove(self) -> None:
        """Take the folder away; again does nothing."""
        if self._held >= 0:
            shutil.rmtree(self.path, ignore_errors=True)
            os.close(self._held)
            self._held = -1


def _clear_if_left(folder: Path) -> None:
    """Take away a folder of this user that nobody holds. Raises: OSError where somebody does, or it is no folder."""
    opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        state = os.fstat(opened)
        if state.st_uid == os.geteuid() and time.time() - state.st_mtime > LEFT_AFTER_S:
            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
            shutil.rmtree(folder)
    finally:
        os.close(opened)
