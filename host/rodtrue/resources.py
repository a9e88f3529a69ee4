"""Where the house keeps what several rooms read: `shared`, `firmware` and `hardware`.

In a wheel they travel inside the package; in a checkout they stand beside it.
"""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Literal


def room(name: Literal["shared", "firmware", "hardware"]) -> Traversable:
    """Return the folder `name`: the wheel's copy, or the checkout's own folder."""
    bundled = files("rodtrue") / "bundled" / name
    if bundled.is_dir():
        return bundled
    return Path(__file__).resolve().parents[2] / name


def room_path(name: Literal["shared", "firmware", "hardware"]) -> Path:
    """Return the folder `name` as a path on disk, for a child process that must open its files.

    Raises: RuntimeError where the package lies in an archive and has no folder on disk.
    """
    folder = room(name)
    if not isinstance(folder, Path):
        raise RuntimeError(f"{name} is not a folder on disk; install Rodtrue unpacked (pip does)")
    return folder
