"""Which files an archive holds."""

from __future__ import annotations

import os.path
from collections.abc import Iterable
from pathlib import Path

from rodtrue.model.errors import InputError
from rodtrue.plain_text import is_utf8

ENDINGS = (".capture", ".csv")


def files_in(named: Iterable[Path]) -> list[str]:
    """Return the files named, and those ending in .capture or .csv in the folders named, each once.

    Raises: InputError for a folder that holds none, or one whose name no result could hold.
    """
    files: dict[str, None] = {}
    for path in named:
        if not os.path.isdir(path):
            files[str(path)] = None
            continue
        inside = sorted(str(file) for file in path.rglob("*") if file.suffix in ENDINGS and file.is_file())
        if not inside:
            raise InputError(f"{path}: no file in it ends in {' or '.join(ENDINGS)}", "Name the folder of captures.")
        unnamable = next((file for file in inside if not is_utf8(file)), None)
        if unnamable is not None:
            raise InputError(f"{unnamable!r}: its name is not UTF-8, so no result can say it", "Rename that file.")
        files.update(dict.fromkeys(inside))
    return list(files)
