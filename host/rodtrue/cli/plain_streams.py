"""What the commands print, with nothing in it that steers a terminal: names and files are of unknown origin."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from typing import Any, TextIO, cast

from rodtrue.plain_text import without_controls


class PlainStream:
    """A stream that spells control characters out.

    rich_proxied_file: what `rich` writes to instead; its own control sequences are meant.
    """

    def __init__(self, stream: TextIO) -> None:
        self.rich_proxied_file = stream

    def write(self, text: str) -> int:
        """Write it, made plain."""
        return self.rich_proxied_file.write(without_controls(text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self.rich_proxied_file, name)


@contextlib.contextmanager
def plain_streams() -> Iterator[None]:
    """Let whatever is printed in the block be plain."""
    with (
        contextlib.redirect_stdout(cast(TextIO, PlainStream(sys.stdout))),
        contextlib.redirect_stderr(cast(TextIO, PlainStream(sys.stderr))),
    ):
        yield
