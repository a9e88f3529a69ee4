"""The self-test: a short look at everything the fixture can see of itself. Not while streaming."""

import gc
import os
import struct
from binascii import crc32

import pins
from framing import cobs_decode, cobs_encode
from micropython import const
from table import (
    CONTACT_OPEN,
    CONVERSIONS,
    FORMAT_SELF_TEST_REPORT,
    RATE_MAX_HZ,
    SELF_TEST_FLAG_BUTTON,
    SELF_TEST_FLAG_CLOCK,
    SELF_TEST_FLAG_CONVERTER,
    SELF_TEST_FLAG_FOOT_SWITCH,
    SELF_TEST_FLAG_FRAMING,
    SELF_TEST_FLAG_MEMORY,
    SELF_TEST_FLAG_PRESSURE,
    SELF_TEST_FLAG_REFERENCE,
    SELF_TEST_FLAG_SLOT_A,
    SELF_TEST_FLAG_SLOT_B,
    SELF_TEST_FLAG_STORAGE,
    SELF_TEST_FLAG_SUPPLY,
    SELF_TEST_FLAG_THERMISTOR,
    SELF_TEST_FLAG_TIMING,
    SELF_TEST_FLAG_TRAVEL,
)

_READINGS = const(32)
_NOT_MEASURED = const(0xFFFF)
_CHANNELS = (pins.CHANNEL_TRAVEL, pins.CHANNEL_PRESSURE, pins.CHANNEL_SUPPLY, pins.CHANNEL_THERMISTOR)
# Plausible ratios x 65536: both sensors' live zero with room for end stops and offset; 3.0 V over a
# supply of 4.75 to 5.25 V; the same 3.0 V neither missing nor at the supply, and still within 0.5 %; a
# thermistor between shorted and open.
_LIVE = (const(3277), const(62259))
_SUPPLY = (const(37449), const(41391))
_REFERENCE = (const(16384), const(58982))
_REFERENCE_SPREAD = const(197)
_THERMISTOR = (const(1311), const(64225))

_PATTERN_BYTES = const(1024)
_LEAST_HEAP = const(16384)
# Two calibration files with what the file system needs beside them: a few erase blocks of 4096 bytes.
_LEAST_STORAGE = const(24576)


def framing_works():
    """Check the CRC against its published check value, and COBS there and back."""
    text = b"123456789"
    plain = b"\x00" + text + b"\x00\x00"
    encoded = bytearray(len(plain) + 2)
    decoded = bytearray(len(encoded))
    length = cobs_encode(plain, len(plain), encoded) - 1
    return (
        crc32(text) == 0xCBF43926
        and 0 not in bytes(encoded[:length])
        and bytes(decoded[: cobs_decode(encoded, length, decoded)]) == plain
    )


def _read(board, channel):
    """Return the mean code and the spread of some readings, or (not measured, 0) without an answer."""
    total = 0
    least = 4095
    most = 0
    for _ in range(_READINGS):
        code = board.convert(channel)
        if code < 0:
            return _NOT_MEASURED, 0
        total += code
        least = min(least, code)
        most = max(most, code)
    return total * 16 // _READINGS, (most - least) * 16


def _slowest_pair_us(board):
    codes = [0, 0]
    slowest_us = 0
    for _ in range(_READINGS):
        begun = board.ticks_us()
        board.convert_pair(codes)
        slowest_us = max(slowest_us, board.ticks_diff(board.ticks_us(), begun))
    return min(slowest_us, _NOT_MEASURED)


def memory_keeps_patterns():
    """Write patterns to a piece of the heap and read them back."""
    block = bytearray(_PATTERN_BYTES)
    for pattern in (b"\x55", b"\xaa", b"\x00", b"\xff"):
        wanted = pattern * _PATTERN_BYTES
        block[:] = wanted
        if block != wanted:
            return False
    return True


def free_storage():
    """Return the free bytes of the file system the calibration lies in."""
    state = os.statvfs("/")
    return min(state[1] * state[3], 0xFFFF_FFFF)


def keeps_time(sampler):
    """Say whether the sampling before this test kept its schedule within one conversion interval."""
    interval_us = sampler.interval_us
    return sampler.early_us + sampler.late_us < interval_us and sampler.interrupt_us < interval_us


def run(board, store, button, foot_switch, sampler):
    """Test everything, with the sampler halted; return the report's payload with request 0.

    Where the converter does not answer, what it would have read is not tested.
    """
    means = []
    spreads = []
    for channel in _CHANNELS:
        mean, spread = _read(board, channel)
        means.append(mean)
        spreads.append(spread)
    travel, pressure, supply, thermistor = means
    conversion_us = _slowest_pair_us(board)
    answers = _NOT_MEASURED not in means
    gc.collect()
    free = gc.mem_free()
    room = free_storage()
    still = _REFERENCE[0] <= supply <= _REFERENCE[1] and spreads[2] <= _REFERENCE_SPREAD
    readings = (
        (SELF_TEST_FLAG_TRAVEL, _LIVE[0] <= travel <= _LIVE[1]),
        (SELF_TEST_FLAG_PRESSURE, _LIVE[0] <= pressure <= _LIVE[1]),
        (SELF_TEST_FLAG_THERMISTOR, _THERMISTOR[0] <= thermistor <= _THERMISTOR[1]),
        (SELF_TEST_FLAG_REFERENCE, still),
        (SELF_TEST_FLAG_SUPPLY, _SUPPLY[0] <= supply <= _SUPPLY[1]),
    )
    results = (
        (SELF_TEST_FLAG_FRAMING, framing_works()),
        (SELF_TEST_FLAG_CONVERTER, answers),
        (SELF_TEST_FLAG_MEMORY, memory_keeps_patterns() and free >= _LEAST_HEAP),
        (SELF_TEST_FLAG_STORAGE, room >= _LEAST_STORAGE),
        (SELF_TEST_FLAG_TIMING, keeps_time(sampler)),
        (SELF_TEST_FLAG_CLOCK, conversion_us * CONVERSIONS * RATE_MAX_HZ <= 1_000_000),
        (SELF_TEST_FLAG_SLOT_A, store.valid[0]),
        (SELF_TEST_FLAG_SLOT_B, store.valid[1]),
        (SELF_TEST_FLAG_BUTTON, button.state() == CONTACT_OPEN),
        (SELF_TEST_FLAG_FOOT_SWITCH, foot_switch.state() == CONTACT_OPEN),
    )
    run_flags = 0
    passed_flags = 0
    for flag, passed in results + readings if answers else results:
        run_flags |= flag
        if passed:
            passed_flags |= flag
    return struct.pack(
        FORMAT_SELF_TEST_REPORT,
        0,
        run_flags,
        passed_flags,
        travel,
        pressure,
        supply,
        thermistor,
        spreads[0],
        spreads[1],
        conversion_us,
        free & 0xFFFF,
        free >> 16 & 0xFFFF,
        room & 0xFFFF,
        room >> 16,
    )
