"""From a template and its data to the bytes of a PDF, by Typst.

A template is handed over as a file, not as bytes: for bytes Typst uses up a number of its own each time, and after
65,535 of them a process can compile nothing more.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import as_file, files
from typing import Any

_COMPILATIONS_KEPT = 10
"""What a compilation has laid out Typst keeps until so many others have had no use for it: about 15 MB a report."""


def typeset(template: str, data: dict[str, Any], timestamp_s: int) -> bytes:
    """Return the PDF that a template of this room makes of `data`, which it is handed as text, never as markup.

    timestamp_s: the date the file bears, in seconds since 1970.
    """
    import typst

    with as_file(files("rodtrue.report") / template) as path:
        pdf: bytes = typst.compile(
            path,
            format="pdf",
            sys_inputs={"data": json.dumps(data)},
            font_paths=_bundled_fonts(),
            timestamp=timestamp_s,
        )
    _forget_what_was_laid_out()
    return pdf


def _forget_what_was_laid_out() -> None:
    """Have Typst let go of a report, which the next has no use for; there is no other way to tell it."""
    import typst

    with as_file(files("rodtrue.report") / "blank.typ") as path:
        for _ in range(_COMPILATIONS_KEPT):
            typst.compile(path, format="svg", font_paths=_no_fonts())


@cache
def _bundled_fonts() -> Any:
    """Return the DejaVu fonts that come with matplotlib, and Typst's own: those of the machine are never used."""
    import matplotlib
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[f"{matplotlib.get_data_path()}/fonts/ttf"])


@cache
def _no_fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False)
