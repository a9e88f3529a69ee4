# A power cut in the middle of writing a calibration slot: whatever reached the flash, the old copy holds.
import json
import os
import sys

sys.path.insert(0, sys.argv[1])

import storage

OLD = bytes(range(160))
NEW = bytes(255 - value for value in range(160))


def files():
    found = {}
    for name in storage.SLOT_FILES:
        if name in os.listdir():
            with open(name, "rb") as slot:
                found[name] = slot.read()
    return found


for name in files():
    os.remove(name)
empty = storage.CalibrationStore()
assert empty.generation == 0 and empty.valid == [False, False]
assert empty.write(1, b"first" * 32)
assert empty.write(2, OLD)
before = files()
assert empty.write(3, NEW)
after = files()
assert storage.CalibrationStore().generation == 3

written = [name for name in after if after[name] != before[name]]
assert len(written) == 1
slot = written[0]
other = storage.SLOT_FILES[1 - storage.SLOT_FILES.index(slot)]
kept_old = []
for cut in range(len(after[slot])):
    with open(slot, "wb") as broken:
        broken.write(after[slot][:cut])
    store = storage.CalibrationStore()
    kept_old.append(store.generation == 2 and store.data == OLD)
    # The next write repairs the broken slot and leaves the good one alone.
    kept_old.append(store.write(3, NEW) and storage.CalibrationStore().data == NEW)
    with open(other, "rb") as good:
        kept_old.append(good.read() == before[other])

flipped = []
for at in range(len(after[slot])):
    damaged = bytearray(after[slot])
    damaged[at] ^= 1
    with open(slot, "wb") as broken:
        broken.write(damaged)
    flipped.append(storage.CalibrationStore().generation == 2)
print(json.dumps({"cuts": len(after[slot]), "kept_old": all(kept_old), "flipped": all(flipped)}))
