"""What the commands print, with nothing in it that steers a terminal: names and files are of unknown origin."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from typing import Any, BinaryIO, TextIO, cast

from rodtrue.model.errors import InputError
from rodtrue.plain_text import escaped_json, without_controls


class PlainStream:
    """A stream that spells control characters out. Raises: InputError where the disk behind it takes no more.

    rich_proxied_file: what `rich` writes to instead; its own control sequences are meant.
    """

    def __init__(self, stream: TextIO) -> None:
        self.rich_proxied_file = stream

    def write(self, text: str) -> int:
        """Write it, made plain."""
        with _told():
            return self.rich_proxied_file.write(without_controls(text))

    def flush(self) -> None:
        """Hand on what is still held back."""
        with _told():
            self.rich_proxied_file.flush()

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
        with _told():
            self._stream.write(escaped_json(document))
        return len(document)

    def flush(self) -> None:
        """Hand on what is still held back."""
        with _told():
            self._stream.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextlib.contextmanager
def _told() -> Iterator[None]:
    """Say in words why the output cannot be written. A reader that went away is no trouble: that error stays.

    Raises: InputError.
    """
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        raise InputError(
            f"the output cannot be written ({error.strerror})", "Free space there, or send it elsewhere."
        ) from error


@contextlib.contextmanager
def plain_streams() -> Iterator[None]:
    """Let whatever is printed in the block be plain."""
    with (
        contextlib.redirect_stdout(_plain(sys.stdout)),
        contextlib.redirect_stderr(_plain(sys.stderr)),
    ):
        yield


def drop_unwritable() -> None:
    """Let go of what the output holds back and does not take: it would fail once more as the program ends."""
    output = sys.__stdout__
    if output is None:
        return
    try:
        output.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), output.fileno())


def _plain(stream: TextIO | None) -> TextIO | None:
    """Return a stream made plain; None where the program was started without one."""
    return None if stream is None else cast(TextIO, PlainStream(stream))
