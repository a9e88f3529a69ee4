# Runs under MicroPython: the firmware's codec on what the host test hands in, one JSON line each way.
import binascii
import gc
import json
import struct
import sys

sys.path.insert(0, sys.argv[1])

import blocks
import framing
import micropython
import table

OUTCOMES = {
    framing.UNKNOWN_TYPE: "unknown_type",
    framing.BAD_LENGTH: "bad_length",
    framing.BAD_COBS: "cobs",
    framing.BAD_CRC: "crc",
    framing.SHORT: "short",
    framing.OVERSIZE: "oversize",
    framing.RECEIVED: "received",
}


def receive(job):
    """Return what each row gives, fed in pieces of the given size."""
    sizes = {
        direction: {int(number): tuple(rule) for number, rule in rules.items()}
        for direction, rules in job["sizes"].items()
    }
    answers = []
    for row in job["rows"]:
        receiver = framing.Receiver(sizes[row["direction"]])
        data = binascii.unhexlify(row["hex"])
        step = job["step"] or len(data)
        found = []
        for start in range(0, len(data), step):
            piece = data[start : start + step]
            position = 0
            while position < len(piece):
                position = receiver.take(piece, position, len(piece))
                if receiver.outcome:
                    found.append(told(receiver))
        answers.append(found)
    return answers


def told(receiver):
    outcome = OUTCOMES[receiver.outcome]
    if outcome not in ("received", "unknown_type"):
        return [outcome]
    begin = table.HEADER_SIZE
    payload = bytes(receiver.body[begin : begin + receiver.payload_length])
    return [outcome, receiver.message_type, receiver.sequence, binascii.hexlify(payload).decode()]


def build(jobs):
    """Return the frame of each message, its head packed with the table's own format."""
    builder = framing.FrameBuilder()
    frames = []
    for job in jobs:
        name = job["name"].upper()
        size = getattr(table, "SIZE_" + name)
        if job["values"]:
            values = [
                bytes(v, "utf-8") if isinstance(v, str) else bytes(v) if isinstance(v, list) else v
                for v in job["values"]
            ]
            struct.pack_into(getattr(table, "FORMAT_" + name), builder.body, table.HEADER_SIZE, *values)
        tail = binascii.unhexlify(job["tail"])
        begin = table.HEADER_SIZE + size
        builder.body[begin : begin + len(tail)] = tail
        length = builder.close(getattr(table, "TYPE_" + name), job["sequence"], size + len(tail))
        frames.append(binascii.hexlify(builder.frame[:length]).decode())
    return frames


def cobs(hexes):
    """Return the encoding of each message, without the closing zero."""
    encoded = []
    for text in hexes:
        data = binascii.unhexlify(text)
        target = bytearray(len(data) + len(data) // 254 + 2)
        length = framing.cobs_encode(data, len(data), target)
        assert target[length - 1] == 0
        encoded.append(binascii.hexlify(target[: length - 1]).decode())
    return encoded


def uncobs(hexes):
    """Return what each encoding holds, or None where it is refused."""
    decoded = []
    for text in hexes:
        data = binascii.unhexlify(text)
        target = bytearray(len(data) + 1)
        length = framing.cobs_decode(data, len(data), target)
        decoded.append(None if length < 0 else binascii.hexlify(target[:length]).decode())
    return decoded


def checks(hexes):
    """Return the interpreter's CRC of each message, as bytes, low first."""
    values = [binascii.crc32(binascii.unhexlify(text)) for text in hexes]
    return [binascii.hexlify(struct.pack("<I", value)).decode() for value in values]


def heap(lengths):
    """Return heap bytes taken by each close: first of a length, then repeated with the heap locked."""
    builder = framing.FrameBuilder()
    taken = []
    for length in lengths:
        gc.collect()
        gc.disable()
        before = gc.mem_alloc()
        builder.close(table.TYPE_SAMPLE_BLOCK, 1, length)
        taken.append(gc.mem_alloc() - before)
        gc.enable()
        micropython.heap_lock()
        try:
            builder.close(table.TYPE_SAMPLE_BLOCK, 2, length)
        finally:
            micropython.heap_unlock()
    return taken


def noise(job):
    """Return heap growth while a receiver takes endless bytes without a zero, and what comes after."""
    receiver = framing.Receiver(table.REQUEST_SIZES)
    piece = b"\x55" * 1024
    receiver.take(piece, 0, len(piece))
    gc.collect()
    before = gc.mem_alloc()
    for _ in range(job["pieces"]):
        receiver.take(piece, 0, len(piece))
    gc.collect()
    grown = gc.mem_alloc() - before
    outcomes = []
    data = b"\0" + binascii.unhexlify(job["after"])
    position = 0
    while position < len(data):
        position = receiver.take(data, position, len(data))
        if receiver.outcome:
            outcomes.append(OUTCOMES[receiver.outcome])
    return [grown, outcomes]


def queue(job):
    """Return what a block queue of some capacity hands over after so many blocks, and what it says of itself."""
    filled = blocks.BlockQueue(job["capacity"])
    for number in range(job["pushed"]):
        filled.filling[0] = number & 0xFF
        filled.filling[table.SIZE_SAMPLE_BLOCK - 1] = 1
        filled.push()
    answer = {"waiting": filled.waiting, "dropped": filled.dropped, "taken": []}
    while filled.waiting:
        filled.take()
        body = bytearray(table.BODY_BYTES)
        length = filled.copy_taken(body)
        answer["taken"].append([body[table.HEADER_SIZE], length])
    filled.clear()
    answer["cleared"] = [filled.waiting, filled.dropped]
    return answer


def constants(_):
    """Return the table's constants and formats with the formats' sizes."""
    names = [name for name in dir(table) if name[0] != "_" and name != "const"]
    values = {name: getattr(table, name) for name in names}
    sizes = {name: struct.calcsize(value) for name, value in values.items() if name[:7] == "FORMAT_"}
    return [{name: value for name, value in values.items() if not isinstance(value, dict)}, sizes]


TASKS = {
    "receive": receive,
    "build": build,
    "cobs": cobs,
    "uncobs": uncobs,
    "checks": checks,
    "heap": heap,
    "noise": noise,
    "constants": constants,
    "queue": queue,
}

print(json.dumps(TASKS[sys.argv[2]](json.loads(sys.stdin.readline()))))
