"""Files written whole or not at all: a name is given only to what is on the disk, whatever ends the program.

Until then it stands beside its name with `.part` behind it. One that a kill left there is read by nothing, and the
next file of that name takes its place.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


def write_whole(path: Path, content: bytes) -> None:
    """Write a file in place of one of that name, if any. Raises: OSError; then the old one stands as it was.

    A link stays a link: what it leads to is replaced. A device or a pipe takes the content as it is.
    """
    path = _led_to(path)
    if path.exists() and not path.is_file():
        path.write_bytes(content)
        return
    part = part_of(path)
    try:
        with _anew(part) as file:
            file.write(content)
        os.replace(part, path)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def write_new_whole(path: Path, content: bytes) -> None:
    """Write a file that replaces none. Raises: FileExistsError where one stands there; OSError."""
    with new_whole(path) as file:
        file.write(content)


@contextmanager
def new_whole(path: Path) -> Iterator[BinaryIO]:
    """Give an open file that gets its name at the end of the block; where the block fails it is gone.

    Raises: FileExistsError where one of that name stands there, before or by then; OSError.
    """
    part = part_of(path)
    _refuse_existing(path)
    try:
        with _anew(part) as file:
            yield file
        _put_in_place(part, path)
    finally:
        part.unlink(missing_ok=True)


def part_of(path: Path) -> Path:
    """Return where a file stands until it is whole."""
    return path.with_name(path.name + ".part")


def _led_to(path: Path) -> Path:
    """Return what a path leads to. Raises: OSError where its links lead round in a circle."""
    try:
        return path.resolve()
    except RuntimeError as error:
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path)) from error


def _put_in_place(part: Path, path: Path) -> None:
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


@contextmanager
def _anew(part: Path) -> Iterator[BinaryIO]:
    part.unlink(missing_ok=True)
    with part.open("xb") as file:  # made anew: a link that somebody laid there is not written through
        yield file
        file.flush()
        os.fsync(file.fileno())
