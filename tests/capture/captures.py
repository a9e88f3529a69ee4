"""Captures for tests, made with the writer and frames of the wire."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

import rodtrue_protocol as wire
from rodtrue.capture.writer import CaptureWriter

PERIOD_US = 2000
IDENTITY = {
    "kind": "virtual",
    "unique_id": "0011223344556677",
    "firmware_version": "0.1.0",
    "micropython_version": "1.28.0",
    "interpreter": "test",
    "table_digest": wire.digest_text(wire.TABLE.digest),
    "rate_min_hz": 100,
    "rate_max_hz": 1000,
    "calibration_generation": 0,
    "reset_cause": "power_on",
}


def block(index: int, time_us: int, codes: Sequence[Sequence[int]], sequence: int = 0) -> bytes:
    """Return a sample block's frame without its closing zero."""
    message = wire.SampleBlock.of(index, time_us % 2**32, PERIOD_US, np.array(codes, np.uint16))
    return wire.encode(message, sequence)[:-1]


def write_blocks(path: Path, indices: Sequence[int], *, samples: int = 4, start_us: int = 0) -> list[bytes]:
    """Write a capture of blocks of `samples` samples that begin at `indices`; return their frames."""
    frames = []
    with CaptureWriter(path, now_us=lambda: 1_700_000_000_000_000) as writer:
        writer.entry("identity", 0, **IDENTITY)
        for number, index in enumerate(indices):
            codes = [[6554 + index + k, 6600 + k] for k in range(samples)]
            frames.append(block(index, start_us + index * PERIOD_US, codes, number % 256))
            writer.received(frames[-1], index)
    return frames
