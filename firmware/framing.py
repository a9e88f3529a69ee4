"""Frames: COBS(type, sequence, payload, CRC-32) and a zero byte, built and received without a heap.

Logic only: no board module is imported. The copying loops are viper code, right in 31 bits; the CRC
is the interpreter's own, in C.
"""

import struct
from binascii import crc32

import micropython
from micropython import const
from table import BODY_BYTES, CRC_SIZE, HEADER_SIZE

# Longest frame without its closing zero: a body of 260 bytes needs one more code byte beyond the first.
ENCODED_BYTES = const(262)
PAYLOAD_BYTES = const(254)
# The CRC over a body and its own CRC, whatever the body (a property of CRC-32/ISO-HDLC). Below 2^30.
_RESIDUE = const(0x2144DF1C)

# What a receiver found at the end of a frame.
NOTHING = const(0)
RECEIVED = const(1)
UNKNOWN_TYPE = const(2)
BAD_LENGTH = const(3)
# The frame is damaged: neither its type nor its sequence can be trusted.
BAD_COBS = const(4)
BAD_CRC = const(5)
SHORT = const(6)
OVERSIZE = const(7)


@micropython.viper
def cobs_encode(source, length: int, target) -> int:
    """Write COBS of source[:length] and a closing zero to target; return the bytes written.

    target needs length + length // 254 + 2 bytes; nobody checks. Allocates nothing.
    """
    src = ptr8(source)
    dst = ptr8(target)
    code = 1
    code_at = 0
    write = 1
    read = 0
    while read < length:
        byte = src[read]
        read += 1
        if byte:
            dst[write] = byte
            write += 1
            code += 1
            # A full block at the very end closes itself: no empty block follows.
            if code < 255 or read == length:
                continue
        dst[code_at] = code
        code_at = write
        write += 1
        code = 1
    dst[code_at] = code
    dst[write] = 0
    return write + 1


@micropython.viper
def cobs_decode(source, length: int, target) -> int:
    """Write the bytes encoded in source[:length], without closing zero, to target; return how many.

    Returns -1 for what no encoder writes: nothing at all, a zero inside, a block beyond the end.
    target needs length bytes; nobody checks. Allocates nothing.
    """
    src = ptr8(source)
    dst = ptr8(target)
    if length == 0:
        return -1
    read = 0
    write = 0
    while read < length:
        code = src[read]
        read += 1
        stop = read + code - 1
        if code == 0 or stop > length:
            return -1
        while read < stop:
            byte = src[read]
            if byte == 0:
                return -1
            dst[write] = byte
            read += 1
            write += 1
        if code < 255 and read < length:
            dst[write] = 0
            write += 1
    return write


@micropython.viper
def copy_to_zero(source, position: int, end: int, target, length: int, room: int) -> int:
    """Copy from source[position:end] to target[length:room] up to the first zero; return its position.

    Returns end where there is none. What no longer fits is passed over. Allocates nothing.
    """
    src = ptr8(source)
    dst = ptr8(target)
    while position < end:
        byte = src[position]
        if byte == 0:
            return position
        if length < room:
            dst[length] = byte
            length += 1
        position += 1
    return position


class FrameBuilder:
    """Builds one frame at a time in its own buffers. Main loop only, never from an interrupt.

    Pack the payload into `body` from HEADER_SIZE on, call `close`, send `frame[:length]` before the
    next payload. `close` allocates nothing while the length stays the same; a new length costs one
    view. On a 32-bit port the CRC itself is a long integer.
    """

    def __init__(self):
        self.body = bytearray(BODY_BYTES)
        self.frame = bytearray(ENCODED_BYTES + 1)
        self._whole = memoryview(self.body)
        self._checked = self._whole[:0]

    def close(self, message_type, sequence, payload_length):
        """Complete the frame around the payload in `body`; return its length, closing zero included.

        Raises: ValueError: more payload than PAYLOAD_BYTES.
        """
        if payload_length > PAYLOAD_BYTES:
            raise ValueError("payload too long")
        end = HEADER_SIZE + payload_length
        if len(self._checked) != end:
            self._checked = self._whole[:end]
        self.body[0] = message_type
        self.body[1] = sequence
        struct.pack_into("<I", self.body, end, crc32(self._checked))
        return cobs_encode(self.body, end + CRC_SIZE, self.frame)


class Receiver:
    """Finds frames in received bytes. Main loop only, never from an interrupt.

    sizes: the table's sizes by type of the messages that may come.
    Memory is fixed: a longer run without a zero is passed over up to the next zero. Each complete
    frame costs one view for its CRC.
    """

    def __init__(self, sizes):
        self.outcome = NOTHING
        self.message_type = 0
        self.sequence = 0
        self.payload_length = 0
        self.body = bytearray(ENCODED_BYTES)
        self._whole = memoryview(self.body)
        self._held = bytearray(ENCODED_BYTES)
        self._length = 0
        self._too_long = False
        self._sizes = sizes

    def take(self, data, position, end):
        """Take bytes of data[position:end] up to the end of one frame; return the next position.

        Call again until the position is `end`. After each call `outcome` says what was completed:
        NOTHING where no frame ended. With RECEIVED, `message_type`, `sequence` and `payload_length`
        hold, and the payload stands in `body` from HEADER_SIZE on, until the next call. With
        UNKNOWN_TYPE and BAD_LENGTH they hold too, so that the sender can be answered.
        """
        self.outcome = NOTHING
        zero = copy_to_zero(data, position, end, self._held, self._length, ENCODED_BYTES)
        length = self._length + zero - position
        if length > ENCODED_BYTES:
            length = ENCODED_BYTES
            self._too_long = True
        self._length = length
        if zero == end:
            return end
        if length:
            self.outcome = OVERSIZE if self._too_long else self._classify(length)
        self._length = 0
        self._too_long = False
        return zero + 1

    def _classify(self, length):
        size = cobs_decode(self._held, length, self.body)
        if size < 0:
            return BAD_COBS
        if size < HEADER_SIZE + CRC_SIZE:
            return SHORT
        if size > BODY_BYTES:
            return OVERSIZE
        if crc32(self._whole[:size]) != _RESIDUE:
            return BAD_CRC
        self.message_type = self.body[0]
        self.sequence = self.body[1]
        self.payload_length = size - HEADER_SIZE - CRC_SIZE
        if self.message_type not in self._sizes:
            return UNKNOWN_TYPE
        return RECEIVED if self._fits(self._sizes[self.message_type]) else BAD_LENGTH

    def _fits(self, rule):
        head, repeat, least, most = rule
        if not repeat:
            return self.payload_length == head
        if self.payload_length < head:
            return False
        count = self.body[HEADER_SIZE + head - 1]
        return least <= count <= most and self.payload_length == head + count * repeat
