# Power cut at every byte that calibration writes program into a littlefs, and before, within and after every
# erase: the file system mounts again, the store holds the old or the new copy whole, and takes the next write.
# Prints what was found, a JSON object; lists name the cuts at which a promise was broken.
import json
import os
import sys

sys.path.insert(0, sys.argv[1])

import storage
import vfs

BLOCK = 4096
BLOCKS = 12
# As the interpreter mounts the board's flash: programmed in pages of 256 bytes.
SETTINGS = {"progsize": 256, "readsize": 32, "lookahead": 32}
WRITES = 20
OTHER = b"# a program\n" * 200
IO_ERROR = -5


def record(generation):
    """Return 160 bytes, different for each generation."""
    return bytes((generation * 37 + k) % 256 for k in range(160))


class Flash:
    """Flash as a block device: programming clears bits, erasing sets them.

    After `cut` programmed bytes nothing gets through any more; an erase counts for three, and is half done
    after the first.
    """

    def __init__(self, content=None):
        self.content = bytearray(b"\xff" * (BLOCK * BLOCKS)) if content is None else bytearray(content)
        self.cut = -1
        self.done = 0
        self.erased = 0

    def readblocks(self, block, data, offset=0):
        at = BLOCK * block + offset
        data[:] = memoryview(self.content)[at : at + len(data)]
        return 0

    def writeblocks(self, block, data, offset=0):
        at = BLOCK * block + offset
        count = self._spend(len(data))
        for k in range(count):
            self.content[at + k] &= data[k]
        return 0 if count == len(data) else IO_ERROR

    def ioctl(self, operation, block):
        if operation == 4:
            return BLOCKS
        if operation == 5:
            return BLOCK
        if operation == 6:
            self.erased += 1
            part = self._spend(3)
            size = (0, BLOCK // 2, BLOCK, BLOCK)[part]
            self.content[BLOCK * block : BLOCK * block + size] = b"\xff" * size
            return 0 if part == 3 else IO_ERROR
        return 0

    def _spend(self, count):
        """Return how many of the bytes still get through."""
        if self.cut >= 0:
            count = min(count, self.cut - self.done)
        self.done += count
        return count


def mount(flash):
    vfs.mount(vfs.VfsLfs2(flash, **SETTINGS), "/flash")
    os.chdir("/flash")


def unmount():
    os.chdir("/")
    vfs.umount("/flash")


def store_next(flash, generation):
    """Write a generation as the firmware does after a start; return whether it says that it is stored."""
    mount(flash)
    stored = storage.CalibrationStore().write(generation, record(generation))
    unmount()
    return stored


told = {"cuts": 0, "erases": 0, "old": 0, "new": 0}
broken = {"not mounted": [], "lost": [], "untrue": [], "others": [], "stuck": []}


def try_cut(before, generation, cut):
    """Cut the power while `generation` is written over `before`, and look what is there after the next start."""
    flash = Flash(before)
    flash.cut = cut
    said_stored = store_next(flash, generation)
    told["cuts"] += 1
    again = Flash(flash.content)
    try:
        mount(again)
    except OSError:
        broken["not mounted"].append((generation, cut))
        return
    store = storage.CalibrationStore()
    found = store.generation
    if found == generation and store.data == record(generation):
        told["new"] += 1
    elif found == generation - 1 and store.data == record(generation - 1):
        told["old"] += 1
        if said_stored:
            broken["untrue"].append((generation, cut))
    else:
        broken["lost"].append((generation, cut))
    with open("main.py", "rb") as other:
        if other.read() != OTHER:
            broken["others"].append((generation, cut))
    if not store.write(found + 1, record(99)) or storage.CalibrationStore().data != record(99):
        broken["stuck"].append((generation, cut))
    unmount()


flash = Flash()
vfs.VfsLfs2.mkfs(flash, **SETTINGS)
mount(flash)
with open("main.py", "wb") as other:
    other.write(OTHER)
unmount()
assert store_next(flash, 1) and store_next(flash, 2)
for generation in range(3, 3 + WRITES):
    before = bytes(flash.content)
    flash = Flash(before)
    assert store_next(flash, generation)
    told["erases"] += flash.erased
    for cut in range(flash.done):
        try_cut(before, generation, cut)
print(json.dumps(dict(told, broken=broken)))
