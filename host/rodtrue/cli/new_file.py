"""Text files that a command writes and never over another one."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.errors import InputError


def write_new(path: Path, text: str) -> None:
    """Write a new file. Raises: InputError where one is there already, or it cannot be written."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as error:
        raise InputError(f"{path}: is there already", "Name another with --out; nothing is overwritten.") from error
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})", "Name another file with --out.") from error
