"""How many damaged frames a decoder takes for good: streams of sample blocks, damaged, and counted.

With the whole check none is expected; to see that the counting counts, the decoder is also run with a test double of
the check that keeps only 8 of its 32 bits.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from unittest import mock
from zlib import crc32

import numpy as np
from cobs.cobs import encode as cobs_encode

import rodtrue_protocol as wire
from rodtrue_protocol import framing
from rodtrue_protocol.framing import CRC_RESIDUE

SAMPLES = 32
BODY_BYTES = 145
"""Type, sequence, head of the block, 32 pairs of codes and the check."""


@dataclass
class Count:
    """samples: sent. damaged: frames damaged. escaped: of those, frames taken for good. salvaged: ends of damaged
    frames taken for good frames of their own. lost_sound: frames not damaged, yet not received.
    """

    samples: int = 0
    damaged: int = 0
    escaped: int = 0
    salvaged: int = 0
    lost_sound: int = 0

    def add(self, other: Count) -> None:
        for name in vars(self):
            setattr(self, name, getattr(self, name) + getattr(other, name))


def sound_frames(rng: np.random.Generator, blocks: int) -> list[bytes]:
    """Return frames of full sample blocks, without their closing zeros, each different from every other."""
    codes = rng.integers(0, 16381, (blocks, SAMPLES, 2), dtype=np.uint16) * 4
    return [
        wire.encode(wire.SampleBlock.of(SAMPLES * k, 2000 * SAMPLES * k % 2**32, 2000, codes[k]), k % 256)[:-1]
        for k in range(blocks)
    ]


def bit_errors(rng: np.random.Generator, frames: list[bytes], rate: float) -> Count:
    """Send frames over a line that flips each bit, closing zeros too, with chance `rate`."""
    stream = np.frombuffer(b"".join(frame + b"\0" for frame in frames), np.uint8).copy()
    flips = np.unique(rng.integers(0, 8 * len(stream), rng.binomial(8 * len(stream), rate)))
    np.bitwise_xor.at(stream, flips // 8, (1 << flips % 8).astype(np.uint8))
    decoder = wire.Decoder()
    events = decoder.feed(stream.tobytes()) + decoder.finish()
    taken = [event.raw for event in events if isinstance(event, (wire.WireMessage, wire.UnknownMessage))]
    closing = np.cumsum([len(frame) + 1 for frame in frames]) - 1
    hit = np.searchsorted(closing, flips // 8)
    touched = set(hit.tolist())
    # A frame whose closing zero is hit takes the next one with it.
    touched |= set((hit[closing[hit] == flips // 8] + 1).tolist())
    sent = set(frames)
    return Count(
        samples=SAMPLES * len(frames),
        damaged=len(set(hit.tolist())),
        escaped=sum(raw not in sent for raw in taken),
        lost_sound=len({frame for k, frame in enumerate(frames) if k not in touched} - set(taken)),
    )


@contextmanager
def eight_bit_check() -> Iterator[None]:
    """Put a check in the decoder's place that looks at 8 bits of the CRC only."""

    def cut(data: bytes) -> int:
        return CRC_RESIDUE if crc32(data) & 0xFF == CRC_RESIDUE & 0xFF else ~CRC_RESIDUE

    with mock.patch.object(framing, "crc32", cut):
        yield


def random_bodies(rng: np.random.Generator, blocks: int) -> Count:
    """Replace body and check of each of `blocks` blocks by random bytes of the same length and decode them.

    Each is framed soundly and as long as a block, so that every one reaches the check. Whatever type a frame that
    passes then claims to be, it has escaped.
    """
    bodies = rng.integers(0, 256, (blocks, BODY_BYTES), dtype=np.uint8)
    frames = [cobs_encode(body.tobytes()) for body in bodies]
    decoder = wire.Decoder()
    events = decoder.feed(b"".join(frame + b"\0" for frame in frames))
    sent = set(frames)
    passed = [event.raw for event in events if _passed(event)]
    escaped = sum(raw in sent for raw in passed)
    return Count(SAMPLES * blocks, blocks, escaped, len(passed) - escaped)


def _passed(event: wire.Event) -> bool:
    """Say whether the frame behind an event passed the check, whatever it then said."""
    if isinstance(event, wire.Refused):
        return event.reason == "bad_length"
    return isinstance(event, (wire.WireMessage, wire.UnknownMessage))
