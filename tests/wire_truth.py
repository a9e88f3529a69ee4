"""A second, plain implementation of the frame, sharing no code or library with the first: the tests' truth.

COBS after its description by Cheshire and Baker (IEEE/ACM Transactions on Networking 7(2), 1999);
CRC-32/ISO-HDLC bit by bit from its parameters: polynomial 04C11DB7 reflected, start and final
exclusive-or FFFFFFFF.
"""


def crc32(data: bytes) -> int:
    """Return CRC-32/ISO-HDLC, one bit at a time."""
    register = 0xFFFFFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = (register >> 1) ^ (0xEDB88320 if register & 1 else 0)
    return register ^ 0xFFFFFFFF


def cobs(data: bytes) -> bytes:
    """Return COBS of data, without a closing zero.

    Each zero-free stretch stands behind its length plus one; 254 bytes fill a block (code FF) that
    implies no zero, so a full block before a zero is followed by an empty one, and one at the end is not.
    """
    blocks = []
    stretches = data.split(b"\0")
    for place, stretch in enumerate(stretches):
        full = len(stretch) // 254
        rest = stretch[254 * full :]
        blocks += [b"\xff" + stretch[254 * k : 254 * (k + 1)] for k in range(full)]
        is_last = place == len(stretches) - 1
        if rest or not full or not is_last:
            blocks.append(bytes([len(rest) + 1]) + rest)
    return b"".join(blocks)


def body(message_type: int, sequence: int, payload: bytes) -> bytes:
    """Return type, sequence, payload and CRC."""
    head = bytes([message_type, sequence]) + payload
    return head + crc32(head).to_bytes(4, "little")


def frame(message_type: int, sequence: int, payload: bytes) -> bytes:
    """Return a whole frame, closing zero included."""
    return cobs(body(message_type, sequence, payload)) + b"\0"
