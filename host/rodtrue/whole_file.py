"""Files written whole or not at all: a name is given only to what is on the disk, whatever ends the program.

Until then it stands beside its name with `.part` behind it. One that a kill left there is read by nothing, and the
next file of that name takes its place.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write a file in place of one of that name, if any. Raises: OSError; then the old one stands as it was.

    A link stays a link: what it leads to is replaced. A device or a pipe takes the content as it is.
    """
    path = path.resolve()
    if path.exists() and not path.is_file():
        path.write_bytes(content)
        return
    part = part_of(path)
    try:
        _to_disk(part, content)
        os.replace(part, path)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def write_new_whole(path: Path, content: bytes) -> None:
    """Write a file that replaces none. Raises: FileExistsError where one stands there; OSError."""
    part = part_of(path)
    _refuse_existing(path)
    try:
        _to_disk(part, content)
        put_in_place(part, path)
    finally:
        part.unlink(missing_ok=True)


def part_of(path: Path) -> Path:
    """Return where a file stands until it is whole."""
    return path.with_name(path.name + ".part")


def put_in_place(part: Path, path: Path) -> None:
    """Give a whole file its name, replacing none that came meanwhile. Raises: FileExistsError, OSError."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a stick's file system, as likely as not, has no links
        _refuse_existing(path)
        part.rename(path)


def _refuse_existing(path: Path) -> None:
    if path.exists():
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))


def _to_disk(part: Path, content: bytes) -> None:
    part.unlink(missing_ok=True)
    with part.open("xb") as file:  # made anew: a link that somebody laid there is not written through
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
