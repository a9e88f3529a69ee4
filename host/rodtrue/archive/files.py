"""Which files an archive holds."""

from __future__ import annotations

import os.path
from collections.abc import Iterable
from pathlib import Path

from rodtrue.model.errors import InputError

ENDINGS = (".capture", ".csv")


def files_in(named: Iterable[Path]) -> list[str]:
    """Return the files named, and those ending in .capture or .csv in the folders named, each once.

    Raises: InputError for a folder that holds none.
    """
    files: dict[str, None] = {}
    for path in named:
        if not os.path.isdir(path):
            files[str(path)] = None
            continue
        inside = sorted(str(file) for file in path.rglob("*") if file.suffix in ENDINGS and file.is_file())
        if not inside:
            raise InputError(f"{path}: no file in it ends in {' or '.join(ENDINGS)}", "Name the folder of captures.")
        files.update(dict.fromkeys(inside))
    return list(files)
