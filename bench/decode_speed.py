"""Speed of decoding, over the least any decoder must do, and against construct: `python -m bench.decode_speed`.

The least: `bytes.split` on zeros and one `zlib.crc32` per piece. A figure of 0.5 means twice that time.
"""

from __future__ import annotations

from collections.abc import Callable
from time import process_time
from typing import Any
from zlib import crc32

import construct as cs
import numpy as np
from cobs.cobs import decode as cobs_decode

import rodtrue_protocol as wire
from bench.study import page
from bench.study.timing import medians_s
from rodtrue.capture.scaling import NOMINAL
from rodtrue_protocol.framing import open_frames

BLOCKS = 4_000
SAMPLES = 32
CHUNK = 4096
TURNS = 31
FEW_BLOCKS = 400
GOALS = {"whole log to codes": 0.40, "4 KiB chunks": 0.30, "to calibrated floats with times": 0.12}
MOST_BYTES = 4.60

FRAME = cs.Struct(
    "type" / cs.Int8ul,
    "sequence" / cs.Int8ul,
    "index" / cs.Int32ul,
    "time_us" / cs.Int32ul,
    "period_us" / cs.Int16ul,
    "count" / cs.Int8ul,
    "pairs" / cs.Array(cs.this.count, cs.Struct("travel" / cs.Int16ul, "pressure" / cs.Int16ul)),
    "crc" / cs.Int32ul,
)
"""A sample block's body, sample by sample, as one would declare it without arrays."""


def stream(blocks: int) -> bytes:
    """Return the bytes of full sample blocks at 500 samples/s, codes of a slow sweep with noise."""
    rng = np.random.default_rng(20260107)
    frames = []
    for k in range(blocks):
        first = k * SAMPLES
        slow = 20_000 + 8_000 * np.sin(np.arange(first, first + SAMPLES) / 900.0)
        noise = rng.integers(-3, 4, (SAMPLES, 2))
        codes = (4 * np.round(slow / 4)[:, None] + 4 * noise).astype("<u2")
        block = wire.SampleBlock(first, first * 2000 % 2**32, 2000, codes)
        frames.append(wire.encode(block, k % 256))
    return b"".join(frames)


def split_and_check(data: bytes) -> list[int]:
    """Split and check every piece: the least there is to do."""
    return list(map(crc32, data.split(b"\0")))


def by_chunks(data: bytes) -> int:
    """Decode as a port delivers, event by event, each block's codes as an array."""
    decoder, n = wire.Decoder(), 0
    for begin in range(0, len(data), CHUNK):
        for event in decoder.feed(data[begin : begin + CHUNK]):
            if isinstance(event, wire.SampleBlock):
                n += len(event.codes)
    return n


def opened_by_chunks(data: bytes) -> int:
    """Split the same chunks, undo COBS and check the CRC, and no more: what no decoder can leave out."""
    tail, n = b"", 0
    for begin in range(0, len(data), CHUNK):
        *frames, tail = (tail + data[begin : begin + CHUNK]).split(b"\0")
        n += len(open_frames(frames))
    return n


def by_chunks_in_bulk(data: bytes) -> int:
    """Decode the same chunks with `decode_log`, carrying over the frame that a chunk's end cuts."""
    held, n = b"", 0
    for begin in range(0, len(data), CHUNK):
        held += data[begin : begin + CHUNK]
        whole = held.rfind(b"\0") + 1
        n += len(wire.decode_log(held[:whole]).codes)
        held = held[whole:]
    return n


def to_floats(data: bytes) -> float:
    """Decode a whole log to travel, pressure and time in units."""
    log = wire.decode_log(data)
    travel, pressure = NOMINAL.travel.values(log.codes[:, 0]), NOMINAL.pressure.values(log.codes[:, 1])
    time_s = log.time_us * 1e-6
    return float(travel[-1] + pressure[-1] + time_s[-1])


def with_construct(declared: Any, data: bytes) -> int:
    """Parse every body with a declaration."""
    return sum(len(declared.parse(cobs_decode(piece)).pairs) for piece in data.split(b"\0")[:-1])


def main() -> None:
    """Time everything, count the bytes, and write the results."""
    data, few = stream(BLOCKS), stream(FEW_BLOCKS)
    things: dict[str, Callable[[], Any]] = {
        "least": lambda: split_and_check(data),
        "whole log to codes": lambda: wire.decode_log(data).codes,
        "4 KiB chunks": lambda: by_chunks(data),
        "4 KiB chunks, frames opened only": lambda: opened_by_chunks(data),
        "4 KiB chunks, decode_log": lambda: by_chunks_in_bulk(data),
        "to calibrated floats with times": lambda: to_floats(data),
    }
    times = medians_s(things, TURNS, process_time)
    lines = []
    rows = [[name, f"{1e9 * t / (BLOCKS * SAMPLES):.1f}", f"{times['least'] / t:.2f}"] for name, t in times.items()]
    for name, goal in GOALS.items():
        share = times["least"] / times[name]
        lines.append(
            page.Line(
                f"decode, {name}: over bytes.split + crc32", f"at least {goal:.2f}", f"{share:.2f}", "", share >= goal
            )
        )
    compiled = FRAME.compile()
    slow = medians_s(
        {
            "whole log to codes": lambda: wire.decode_log(few).codes,
            "construct, compiled": lambda: with_construct(compiled, few),
            "construct, interpreted": lambda: with_construct(FRAME, few),
        },
        5,
        process_time,
    )
    for name, goal in (("construct, compiled", 50), ("construct, interpreted", 200)):
        ratio = slow[name] / slow["whole log to codes"]
        rows.append([name, f"{1e9 * slow[name] / (FEW_BLOCKS * SAMPLES):.0f}", "-"])
        lines.append(page.Line(f"decode against {name}", f"{goal} times faster", f"{ratio:.0f}", "", ratio >= goal))
    size = len(data) / (BLOCKS * SAMPLES)
    goal = f"at most {MOST_BYTES:.2f}"
    lines.append(page.Line("bytes on the wire per two-channel sample, 32 a block", goal, f"{size:.3f}", "",
                           size <= MOST_BYTES))  # fmt: skip
    page.Page(
        "decode_speed",
        "Speed of decoding",
        f"{BLOCKS} blocks of {SAMPLES} samples ({len(data):,} bytes; construct: {FEW_BLOCKS} blocks), codes of a "
        f"slow sweep; processor time, medians of {TURNS} turns in one process",
        lines,
        ("what", "ns a sample", "bytes.split + crc32 over it"),
        rows,
        [
            "Read the ratios; the times are this machine's. A port goes through the decoder in chunks: its events",
            "one by one, each block's codes as an array. What that takes over opening the frames, which no decoder",
            "can leave out, makes a message and an array for every block. With `decode_log` there are no events.",
        ],
        ("numpy", "construct", "cobs", "msgspec"),
    ).write()


if __name__ == "__main__":
    main()
