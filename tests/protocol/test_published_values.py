"""COBS and CRC against published values, for the host's codec, the firmware's and the tests' own truth."""

from __future__ import annotations

import json
from pathlib import Path
from zlib import crc32

import pytest
from cobs.cobs import DecodeError
from cobs.cobs import decode as cobs_decode
from cobs.cobs import encode as cobs_encode
from crccheck.crc import Crc32

import wire_truth as truth
import wire_vectors as vectors
from rodtrue_protocol.framing import CRC_RESIDUE, open_frame

DATA = Path(__file__).resolve().parents[1] / "data"
COBS = json.loads((DATA / "cobs_vectors.json").read_text())
CRC = json.loads((DATA / "crc32_vectors.json").read_text())["rows"]
MESSAGES = [row["message"] for row in COBS["encode"]]
ENCODINGS = [row["encoding"] for row in COBS["encode"]]


def test_crc_of_the_digits_is_the_catalogues_check_value() -> None:
    # CRC-32/ISO-HDLC, check CBF43926: RevEng catalogue of parametrised CRC algorithms.
    assert crc32(b"123456789") == 0xCBF43926
    assert truth.crc32(b"123456789") == 0xCBF43926
    assert Crc32.calc(b"123456789") == 0xCBF43926
    assert vectors.on_micropython("checks", [b"123456789".hex()]) == ["2639f4cb"]


def test_crc_agrees_with_other_implementations_on_every_row() -> None:
    # Rows computed with crccheck, crcmod and zlib.
    wanted = [row["crc"] for row in CRC]
    messages = [bytes.fromhex(row["message"]) for row in CRC]
    assert [f"{crc32(message):08x}" for message in messages] == wanted
    assert [f"{truth.crc32(message):08x}" for message in messages] == wanted
    firmware = vectors.on_micropython("checks", [message.hex() for message in messages])
    assert [bytes.fromhex(check)[::-1].hex() for check in firmware] == wanted


def test_crc_over_a_body_and_its_own_crc_leaves_the_residue() -> None:
    for row in CRC:
        message = bytes.fromhex(row["message"])
        assert truth.crc32(message + crc32(message).to_bytes(4, "little")) == CRC_RESIDUE


def test_host_cobs_gives_the_published_encodings() -> None:
    # Cheshire and Baker 1999, and the tests of the Python package cobs; see the data file.
    for message, encoding in zip(MESSAGES, ENCODINGS, strict=True):
        assert cobs_encode(bytes.fromhex(message)).hex() == encoding
        assert truth.cobs(bytes.fromhex(message)).hex() == encoding
        assert cobs_decode(bytes.fromhex(encoding)).hex() == message


def test_firmware_cobs_gives_the_published_encodings() -> None:
    assert vectors.on_micropython("cobs", MESSAGES) == ENCODINGS
    assert vectors.on_micropython("uncobs", ENCODINGS) == MESSAGES


def test_both_sides_refuse_what_no_encoder_writes() -> None:
    for text in COBS["refused"]:
        with pytest.raises(DecodeError):
            cobs_decode(bytes.fromhex(text))
        assert open_frame(bytes.fromhex(text)) == "cobs"
    refusals = [*COBS["refused"], ""]
    assert vectors.on_micropython("uncobs", refusals) == [None] * len(refusals)


def test_both_sides_read_both_endings_of_a_full_block() -> None:
    # A block of code FF at the end may be followed by an empty block or not; both mean the same.
    message = bytes(range(1, 255))
    short, long = b"\xff" + message, b"\xff" + message + b"\x01"
    assert cobs_decode(short) == cobs_decode(long) == message
    assert vectors.on_micropython("uncobs", [short.hex(), long.hex()]) == [message.hex()] * 2
