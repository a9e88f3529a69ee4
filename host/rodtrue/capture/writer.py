"""Writing a capture: append-only, one write an item, so that a kill costs at most the unfinished one."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from io import FileIO
from pathlib import Path
from types import TracebackType
from typing import Any

import msgspec

from rodtrue.capture.entries import NUMBER
from rodtrue.capture.framing import ENTRY, FIRST_LINE, RECEIVED, TEXT, Item, encode_item
from rodtrue.model.errors import InputError

_NEXT_STEP = "Name another place, or free space there."


def utc_now_us() -> int:
    """Return the host's time: microseconds since 1970-01-01 UTC."""
    return time.time_ns() // 1000


class CaptureWriter:
    """A new capture file. Refuses to write over an existing one.

    path: the file to make; its folder is made too.
    now_us: the host's clock, UTC microseconds since 1970-01-01.

    Raises: InputError where the file exists or cannot be made, and from every call where it cannot
    be written (a full disk); what was written before stays readable.
    """

    def __init__(self, path: Path, now_us: Callable[[], int] = utc_now_us) -> None:
        self.path = path
        self._now_us = now_us
        self._noted = 0
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = FileIO(path, "xb")
        except FileExistsError as error:
            raise InputError(
                f"capture {path}: already exists, and a capture is never written over",
                "Name another file or folder.",
            ) from error
        except OSError as error:
            raise InputError(f"capture {path}: cannot be made ({error.strerror})", _NEXT_STEP) from error
        self._write(FIRST_LINE)

    def received(self, frame: bytes, sample_index: int) -> None:
        """Keep one frame as it came, without its closing zero; sample_index: its first sample."""
        self._item(RECEIVED, sample_index, frame)

    def text(self, said: bytes, sample_index: int) -> None:
        """Keep text the fixture said outside frames."""
        self._item(TEXT, sample_index, said)

    def entry(self, name: str, sample_index: int, **fields: Any) -> None:
        """Keep a note of the host's own; `fields` must be plain JSON values."""
        self._item(ENTRY, sample_index, msgspec.json.encode({"entry": name, NUMBER: self._noted, **fields}))
        self._noted += 1

    def close(self) -> None:
        """Make sure that all of it is on the disk, and close, also where that fails. Closing twice is harmless."""
        if self._file.closed:
            return
        try:
            with self._file:
                os.fsync(self._file.fileno())
        except OSError as error:
            raise self._unwritten(error) from error

    def __enter__(self) -> CaptureWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _item(self, kind: int, sample_index: int, payload: bytes) -> None:
        self._write(encode_item(Item(kind, self._now_us(), sample_index, payload)))

    def _write(self, data: bytes) -> None:
        rest = memoryview(data)
        try:
            while rest:
                rest = rest[self._file.write(rest) :]
        except OSError as error:
            raise self._unwritten(error) from error

    def _unwritten(self, error: OSError) -> InputError:
        return InputError(f"capture {self.path}: cannot be written ({error.strerror})", _NEXT_STEP)
