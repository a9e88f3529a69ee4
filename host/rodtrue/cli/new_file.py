"""Text files that a command writes and never over another one."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.errors import InputError
from rodtrue.whole_file import write_new_whole


def write_new(path: Path, text: str) -> None:
    """Write a new file. Raises: InputError where one is there already, or it cannot be written."""
    try:
        write_new_whole(path, text.encode())
    except FileExistsError as error:
        raise InputError(f"{path}: is there already", "Name another with --out; nothing is overwritten.") from error
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})", "Name another file with --out.") from error
