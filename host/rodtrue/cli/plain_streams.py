"""What the commands print, with nothing in it that steers a terminal: names and files are of unknown origin."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from typing import Any, BinaryIO, TextIO, cast

from rodtrue.plain_text import escaped_json, without_controls


class PlainStream:
    """A stream that spells control characters out.

    rich_proxied_file: what `rich` writes to instead; its own control sequences are meant.
    """

    def __init__(self, stream: TextIO) -> None:
        self.rich_proxied_file = stream

    def write(self, text: str) -> int:
        """Write it, made plain."""
        return self.rich_proxied_file.write(without_controls(text))

    @property
    def buffer(self) -> PlainBytes:
        """Where bytes go: the commands print documents of JSON as such, and nothing else."""
        return PlainBytes(self.rich_proxied_file.buffer)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.rich_proxied_file, name)


class PlainBytes:
    """A stream of JSON documents, each written whole, that escapes control characters in their strings."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def write(self, document: bytes) -> int:
        """Write it, made plain; it means the same."""
        self._stream.write(escaped_json(document))
        return len(document)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextlib.contextmanager
def plain_streams() -> Iterator[None]:
    """Let whatever is printed in the block be plain."""
    with (
        contextlib.redirect_stdout(cast(TextIO, PlainStream(sys.stdout))),
        contextlib.redirect_stderr(cast(TextIO, PlainStream(sys.stderr))),
    ):
        yield
