"""Write the golden vectors: `python tests/protocol/write_vectors.py`.

Layouts are written here a second time, by hand, as struct formats; frames come from the tests' own
plain implementation. The vectors change only when a message's layout is meant to change.
"""

from __future__ import annotations

import json
import struct
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

import wire_truth as truth  # noqa: E402

TO, FROM = "to_fixture", "from_fixture"
UNIQUE_ID = bytes.fromhex("e66138528337b42a")
RECORD = bytes(range(1, 161))
CODES = [[4 * k, 65520 - 4 * k] for k in range(32)]


def message(name: str, direction: str, kind: int, sequence: int, payload: bytes, fields: dict[str, Any]):
    """Return the row of one message, canonical: its frame must also come out of an encoder."""
    expect = [{"message": name, "sequence": sequence, "fields": fields}]
    return row(name, direction, truth.frame(kind, sequence, payload), expect, encode=True)


def row(name: str, direction: str, data: bytes, expect: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    return {"name": name, "direction": direction, "hex": data.hex(), "expect": expect, **more}


def messages() -> list[dict[str, Any]]:
    """Every message of the table."""
    no_mark = {"counter": 0, "source": 0, "sample_index": 0}
    marks = [
        {"counter": 2, "source": 2, "sample_index": 70000},
        {"counter": 1, "source": 1, "sample_index": 0xFFFFFFFF},
        no_mark,
        no_mark,
    ]
    status = {
        "request": 9, "flags": 0x57, "button": 1, "foot_switch": 2, "reset_cause": 2,
        "uptime_s": 70000, "period_us": 2000, "sample_index": 0x12345678, "time_us": 0xFFFFFFFE,
        "dropped_blocks": 3, "lost_samples": 65535, "overruns": 5, "dropped_replies": 6,
        "refused_frames": 7, "travel_code": 65520, "pressure_code": 0, "supply_code": 40000,
        "thermistor_code": 65535, "calibration_generation": 4,
    }  # fmt: skip
    status_payload = (
        struct.pack("<BHBBBIHII5H4HH", *status.values())
        + bytes(8)
        + b"".join(struct.pack("<HBI", *mark.values()) for mark in marks)
    )
    identity = {
        "request": 0, "table_digest": 0x89ABCDEF, "kind": 2, "unique_id": UNIQUE_ID.hex(),
        "firmware_version": "0.1.0", "micropython_version": "1.28.0", "interpreter": "micropython µ",
        "rate_min_hz": 100, "rate_max_hz": 1000, "calibration_generation": 0, "reset_cause": 1,
    }  # fmt: skip
    identity_payload = struct.pack(
        "<BIB8s16s16s32sHHH8xB", 0, 0x89ABCDEF, 2, UNIQUE_ID,
        b"0.1.0", b"1.28.0", "micropython µ".encode(), 100, 1000, 0, 1,
    )  # fmt: skip
    report = {
        "request": 8, "tests_run": 0x7FFF, "tests_passed": 0x5DFE, "travel_code": 6552, "pressure_code": 6600,
        "supply_code": 43000, "thermistor_code": 30000, "travel_spread": 16, "pressure_spread": 20,
        "conversion_us": 61, "free_heap_bytes": 131072, "free_storage_bytes": 1234567,
    }  # fmt: skip
    timing = {"request": 11, "interval_us": 500, "early_us": 3, "late_us": 65535, "interrupt_us": 187}
    block = {"index": 64, "time_us": 0xFFFFFF00, "period_us": 2000}
    return [
        message("hello", TO, 1, 0, struct.pack("<4xI", 0x89ABCDEF), {"table_digest": 0x89ABCDEF}),
        message("start", TO, 2, 1, struct.pack("<H", 500), {"rate_hz": 500}),
        message("stop", TO, 3, 2, b"", {}),
        message("read_status", TO, 4, 3, b"", {}),
        message("read_calibration", TO, 5, 254, b"", {}),
        message(
            "write_calibration", TO, 6, 255, struct.pack("<HB", 5, 160) + RECORD,
            {"generation": 5, "data": RECORD.hex()},
        ),
        message("self_test", TO, 7, 0, b"", {}),
        message("enter_maintenance", TO, 8, 7, b"", {}),
        message("set_travel_limit", TO, 9, 8, struct.pack("<H", 17039), {"travel_code": 17039}),
        {**message("set_travel_limit", TO, 9, 9, struct.pack("<H", 65535), {"travel_code": 65535}),
         "name": "set_travel_limit, cleared"},
        message("read_timing", TO, 10, 10, b"", {}),
        message("identity", FROM, 0x81, 0, identity_payload, identity),
        message(
            "sample_block", FROM, 0x82, 200,
            struct.pack("<IIHB", *block.values(), 32) + b"".join(struct.pack("<HH", *pair) for pair in CODES),
            {**block, "samples": CODES},
        ),
        {**message(
            "sample_block", FROM, 0x82, 0, struct.pack("<IIHBHH", *block.values(), 1, 26214, 6552),
            {**block, "samples": [[26214, 6552]]},
        ), "name": "sample_block of one sample"},
        message(
            "mark", FROM, 0x83, 17, struct.pack("<HBI", 513, 2, 65536),
            {"counter": 513, "source": 2, "sample_index": 65536},
        ),
        message("status", FROM, 0x84, 1, status_payload, {**status, "marks": marks}),
        message(
            "calibration", FROM, 0x85, 2, struct.pack("<BHB", 254, 5, 160) + RECORD,
            {"request": 254, "generation": 5, "data": RECORD.hex()},
        ),
        message("self_test_report", FROM, 0x86, 3, struct.pack("<BHHHHHHHHHII", *report.values()), report),
        message("ack", FROM, 0x87, 4, struct.pack("<BB", 1, 2), {"request": 1, "request_type": 2}),
        message(
            "reject", FROM, 0x88, 5, struct.pack("<BBB4xB", 1, 2, 3, 0),
            {"request": 1, "request_type": 2, "code": 3, "field": 0},
        ),
        message("timing", FROM, 0x89, 6, struct.pack("<BHHHH", *timing.values()), timing),
    ]  # fmt: skip


def lengths() -> list[dict[str, Any]]:
    """Bodies round a full COBS block, without zeros as far as a length field allows, and all zeros."""
    rows = []
    for body_length in (253, 254, 255, 260):
        data = bytes(k % 255 + 1 for k in range(body_length - 10))
        fields = {"request": 1, "generation": 257, "data": data.hex()}
        payload = struct.pack("<BHB", 1, 257, len(data)) + data
        calibration = message("calibration", FROM, 0x85, 1, payload, fields)
        rows.append({**calibration, "name": f"body of {body_length} bytes"})
    for data_length in (0, 1, 244, 250):
        fields = {"generation": 1, "data": bytes(data_length).hex()}
        payload = struct.pack("<HB", 1, data_length) + bytes(data_length)
        write = message("write_calibration", TO, 6, 0, payload, fields)
        rows.append({**write, "name": f"{data_length} bytes of data, all zero"})
    return rows


def refused() -> list[dict[str, Any]]:
    """Frames that no receiver may take, each followed by a sound one that it must."""
    stop, sound = truth.frame(3, 2, b""), truth.frame(3, 3, b"")
    good = {"message": "stop", "sequence": 3, "fields": {}}
    start = truth.frame(2, 1, struct.pack("<H", 500))
    flipped = bytearray(start)
    flipped[4] ^= 0x10
    flipped_code = bytearray(start)
    flipped_code[0] ^= 0x20

    def refuse(name: str, data: bytes, reason: str) -> dict[str, Any]:
        return row(name, TO, data + sound, [{"refused": reason}, good])

    return [
        refuse("truncated: last byte of the CRC missing", start[:-2] + b"\0", "cobs"),
        refuse("truncated: only the head is left", stop[:4] + b"\0", "cobs"),
        refuse("one bit flipped in the payload", bytes(flipped), "crc"),
        refuse("one bit flipped in the first COBS code", bytes(flipped_code), "cobs"),
        refuse("a zero in the middle: two runs, neither sound", start[:5] + b"\0", "cobs"),
        refuse("nothing inside", b"\x01\0", "short"),
        refuse("one byte too short for type, sequence and CRC", truth.cobs(b"\x03\x02\x01\x01\x01") + b"\0", "short"),
        refuse("only a CRC, of nothing", truth.cobs(bytes(4)) + b"\0", "short"),
        refuse("payload one byte too long for its type", truth.frame(3, 2, b"\x07"), "bad_length"),
        refuse("payload one byte too short for its type", truth.frame(2, 2, b"\xf4"), "bad_length"),
        refuse("count beyond the payload", truth.frame(6, 2, b"\x01\x00\x05abcd"), "bad_length"),
        refuse("body one byte over the limit", truth.frame(6, 2, b"\x01\x00\xfb" + b"x" * 252), "oversize"),
        refuse("run of 2,000 bytes without a zero", bytes([0xFF, 0x80]) * 1000 + b"\0", "oversize"),
        row(
            "sample block without samples", FROM, truth.frame(0x82, 0, struct.pack("<IIHB", 0, 0, 2000, 0)),
            [{"refused": "bad_length"}],
        ),
        row(
            "sample block of 33 samples", FROM,
            truth.frame(0x82, 0, struct.pack("<IIHB", 0, 0, 2000, 33) + bytes(33 * 4)),
            [{"refused": "bad_length"}],
        ),
    ]  # fmt: skip


def streams() -> list[dict[str, Any]]:
    """Unusual but sound: delimiters doubled, the other ending of a full block, an unknown type."""
    stop = {"message": "stop", "sequence": 2, "fields": {}}
    data = bytes(k % 255 + 1 for k in range(244))
    full = truth.frame(0x85, 1, struct.pack("<BHB", 1, 257, 244) + data)
    fields = {"request": 1, "generation": 257, "data": data.hex()}
    assert full[0] == 0xFF and len(full) == 256
    unknown = {"unknown": 0x70, "sequence": 9, "payload": "010203"}
    return [
        row("a zero first, then doubled delimiters", TO, b"\0" + truth.frame(3, 2, b"") + b"\0\0", [stop]),
        row(
            "full block at the end, followed by an empty one", FROM, full[:-1] + b"\x01\0",
            [{"message": "calibration", "sequence": 1, "fields": fields}],
        ),
        row("unknown type", FROM, truth.frame(0x70, 9, b"\1\2\3"), [unknown]),
        row("unknown type for the fixture", TO, truth.frame(0x70, 9, b"\1\2\3"), [unknown]),
        row(
            "two frames in a row, sequence wrapping", TO, truth.frame(3, 255, b"") + truth.frame(4, 0, b""),
            [{"message": "stop", "sequence": 255, "fields": {}},
             {"message": "read_status", "sequence": 0, "fields": {}}],
        ),
    ]  # fmt: skip


def host_only() -> list[dict[str, Any]]:
    """What the host tells beside messages: text, missing frames, a frame behind unended bytes."""
    said = b'Traceback (most recent call last):\r\n  File "main.py", line 3\r\n'
    first, second = truth.frame(0x87, 4, b"\1\2"), truth.frame(0x87, 6, b"\3\3")
    one = {"message": "ack", "sequence": 4, "fields": {"request": 1, "request_type": 2}}
    two = {"message": "ack", "sequence": 6, "fields": {"request": 3, "request_type": 3}}
    gap = {"gap": [5, 6]}
    return [
        row("text glued to a frame", FROM, said + first, [{"text": said.decode()}, one]),
        row("a frame is missing", FROM, first + second, [one, gap, two]),
        row("a delimiter is missing", FROM, first[:-1] + second, [one, gap, two]),
        row(
            "a frame broken off by text", FROM, first[:5] + said + b"\0" + second,
            [{"text": said.decode()}, {"refused": "cobs"}, two],
        ),
        row("an echo of the host's own frame", FROM, first + truth.frame(3, 7, b""),
            [one, {"unknown": 3, "sequence": 7, "payload": ""}]),
    ]  # fmt: skip


def files() -> dict[Path, str]:
    """Return each vector file with its text: one row a line."""
    groups = (messages, lengths, refused, streams, host_only)
    folder = ROOT / "shared" / "vectors"
    return {
        folder / f"{group.__name__}.json": "[\n"
        + ",\n".join(json.dumps(entry, ensure_ascii=False) for entry in group())
        + "\n]\n"
        for group in groups
    }


if __name__ == "__main__":
    for path, text in files().items():
        path.write_text(text, encoding="utf-8")
