"""A table written as Parquet, whole or not at all."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rodtrue.model.errors import InputError
from rodtrue.whole_file import write_new_whole


def write_parquet(path: Path, columns: Mapping[str, Any], about: Mapping[str, str] | None = None) -> None:
    """Write columns of equal length, shape (n,) each, to a new file; `about` goes into the file's own description.

    Raises: InputError where the extra is not installed or the file is there already; OSError where it cannot be
    written.
    """
    try:
        import pyarrow
        import pyarrow.parquet
    except ModuleNotFoundError as error:
        raise InputError(
            f"{path}: Parquet needs pyarrow, which is not installed", "Install it: pip install 'rodtrue[parquet]'."
        ) from error
    content = io.BytesIO()
    pyarrow.parquet.write_table(pyarrow.table(columns, metadata=about), content)
    write_new_whole(path, content.getvalue())
