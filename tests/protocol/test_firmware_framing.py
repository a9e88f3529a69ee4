"""The firmware's codec under MicroPython: heap, bounded memory, and agreement with plain truth."""

from __future__ import annotations

import random

import wire_truth as truth
import wire_vectors as vectors
from rodtrue_protocol import encode


def test_closing_a_frame_takes_at_most_32_bytes_of_heap_and_none_at_a_repeated_length() -> None:
    # The task locks the heap while it repeats a length: an allocation there would raise.
    taken = vectors.on_micropython("heap", [139, 139, 15, 139, 76, 7])
    assert taken[1] == 0
    assert max(taken) <= 32


def test_receiver_memory_does_not_grow_with_endless_noise_and_recovers() -> None:
    job = {"pieces": 500, "after": encode("stop", 4).hex()}
    grown, outcomes = vectors.on_micropython("noise", job)
    assert grown <= 0
    assert outcomes == ["oversize", "received"]


def test_firmware_cobs_is_plain_cobs_for_many_lengths_and_zero_densities() -> None:
    source = random.Random(20)
    messages = [b""]
    for length in [*range(1, 12), *range(250, 261), 508, 509, 510]:
        messages += [
            bytes(length),
            bytes(source.randrange(1, 256) for _ in range(length)),
            bytes(source.choice((0, 1, 255)) for _ in range(length)),
        ]
    encodings = [truth.cobs(message).hex() for message in messages]
    assert vectors.on_micropython("cobs", [message.hex() for message in messages]) == encodings
    assert vectors.on_micropython("uncobs", encodings) == [message.hex() for message in messages]


def test_firmware_decodes_nothing_that_no_encoder_writes() -> None:
    # Nothing at all, a zero as code, a zero inside, a block beyond the end.
    assert vectors.on_micropython("uncobs", ["", "00", "0300aa", "05aabb"]) == [None] * 4


def test_firmware_tells_a_run_longer_than_any_frame_from_one_that_is_merely_no_cobs() -> None:
    runs = [b"\xff" * 262, b"\xff" * 263, b"\xff" * 1000]
    rows = [{"hex": (run + b"\0").hex(), "direction": "to_fixture"} for run in runs]
    for step in (0, 100):
        job = {"sizes": {"to_fixture": vectors.sizes("to_fixture")}, "rows": rows, "step": step}
        assert vectors.on_micropython("receive", job) == [[["cobs"]], [["oversize"]], [["oversize"]]]


def test_firmware_refuses_every_single_flipped_bit_of_a_frame() -> None:
    frame = encode("start", 7, rate_hz=500)
    rows = []
    for bit in range(8 * (len(frame) - 1)):
        damaged = bytearray(frame)
        damaged[bit // 8] ^= 1 << bit % 8
        rows.append({"hex": damaged.hex(), "direction": "to_fixture"})
    job = {"sizes": {"to_fixture": vectors.sizes("to_fixture")}, "rows": rows, "step": 0}
    for answer in vectors.on_micropython("receive", job):
        assert answer
        assert all(found[0] in ("cobs", "crc", "short") for found in answer)
