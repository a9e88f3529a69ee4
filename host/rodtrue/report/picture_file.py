"""A figure as a file of its own."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from rodtrue.model.errors import InputError
from rodtrue.whole_file import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def write_picture(path: Path, figure: Figure) -> None:
    """Write a figure as its name's ending says, .png or .svg, whole or not at all.

    Raises: InputError where it cannot be written; what stood there then stands as it was.
    """
    picture = BytesIO()
    try:
        figure.savefig(picture, dpi=120, format=path.suffix.removeprefix(".") or None)
        write_whole(path, picture.getvalue())
    except (OSError, ValueError) as error:  # ValueError: an ending that names no kind of picture
        why = (error.strerror or error) if isinstance(error, OSError) else error
        raise InputError(f"plot {path}: cannot be written ({why})", "Name another file, ending in .png.") from error
