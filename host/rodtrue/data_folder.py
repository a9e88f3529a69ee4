"""The user's own folder for what Rodtrue keeps between runs: records, calibrations."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def data_folder() -> Path:
    """Return the folder, which may not exist yet: `RODTRUE_DATA`, else where this system keeps users' data."""
    named = os.environ.get("RODTRUE_DATA")
    if named:
        return Path(os.path.expanduser(named))
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "rodtrue"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "rodtrue"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "rodtrue"
