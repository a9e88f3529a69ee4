"""Text in lines that a terminal of 80 columns shows whole."""

from __future__ import annotations

import textwrap

WIDTH = 80


def hanging(text: str, first: str = "", rest: str | None = None) -> list[str]:
    """Return the lines of a text: the first begins with `first`, the further ones with `rest`.

    rest: None to let them begin under the text. A word or a path is broken nowhere, not even at its hyphens.
    """
    under = " " * len(first) if rest is None else rest
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=under,
        break_long_words=False,
        break_on_hyphens=False,
    )
