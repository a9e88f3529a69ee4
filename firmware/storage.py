"""Calibration in two slots, each guarded by a CRC and numbered by a generation.

A write goes to the slot that is not in use, so that a power cut at any byte leaves the newest whole
record readable. Slot file: magic (4 bytes), generation u16, data length u8, data, CRC-32 of all before.
"""

import struct
from binascii import crc32

from micropython import const

SLOT_FILES = ("calibration_a.bin", "calibration_b.bin")
_MAGIC = b"RTC1"
_HEAD = "<4sHB"
_HEAD_SIZE = const(7)
_CRC_SIZE = const(4)


def read_slot(name):
    """Return (generation, data) of a slot file, or None where it is missing, damaged or not ours."""
    try:
        with open(name, "rb") as slot:
            content = slot.read()
    except OSError:
        return None
    if len(content) < _HEAD_SIZE + _CRC_SIZE:
        return None
    magic, generation, length = struct.unpack_from(_HEAD, content, 0)
    end = _HEAD_SIZE + length
    if magic != _MAGIC or len(content) != end + _CRC_SIZE or generation == 0:
        return None
    if struct.unpack_from("<I", content, end)[0] != crc32(content[:end]):
        return None
    return generation, content[_HEAD_SIZE:end]


def _write_slot(name, generation, data):
    content = struct.pack(_HEAD, _MAGIC, generation, len(data)) + data
    with open(name, "wb") as slot:
        slot.write(content)
        slot.write(struct.pack("<I", crc32(content)))


class CalibrationStore:
    """The newest valid calibration. generation: 0 where there is none; then data is empty."""

    def __init__(self):
        self.valid = [False, False]
        self.generation = 0
        self.data = b""
        self._used = 1
        self._load()

    def write(self, generation, data):
        """Store a calibration in the slot not in use; return whether it reads back equal."""
        target = 1 - self._used
        try:
            _write_slot(SLOT_FILES[target], generation, data)
        except OSError:
            self.valid[target] = False
            return False
        self.valid[target] = read_slot(SLOT_FILES[target]) == (generation, data)
        if self.valid[target]:
            self._used = target
            self.generation = generation
            self.data = data
        return self.valid[target]

    def _load(self):
        for slot, name in enumerate(SLOT_FILES):
            found = read_slot(name)
            self.valid[slot] = found is not None
            if found is not None and found[0] > self.generation:
                self.generation, self.data = found
                self._used = slot
