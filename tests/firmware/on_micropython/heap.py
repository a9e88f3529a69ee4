# Heap taken per sample block in steady state: by the interrupt none at all, its heap being locked; by
# the main loop as the difference of gc.mem_alloc() with collections off, and none with its heap locked.
import gc
import json
import sys

sys.path.insert(0, sys.argv[1])

import micropython
from app import App
from fake_board import FakeBoard

rate_hz = int(sys.argv[2])
board = FakeBoard()
app = App(board)
app.begin()
app.start_streaming(rate_hz)


def run_blocks(count):
    """Run until `count` more frames have left."""
    until = app.outbox.frames + count
    while app.outbox.frames < until:
        board.tick()
        app.step()
        board.sent_count = 0


# Past the first status, so that every length has been seen once.
run_blocks(60)
taken = []
for _ in range(150):
    gc.collect()
    gc.disable()
    before = gc.mem_alloc()
    run_blocks(1)
    taken.append(gc.mem_alloc() - before)
    gc.enable()

# A whole second less its status, with the main loop's heap locked as well.
app.sampler.stop()
app.step()
app.start_streaming(rate_hz)
run_blocks(2)
locked_blocks = 0
micropython.heap_lock()
try:
    until = app.outbox.frames + 20
    while app.outbox.frames < until:
        board.tick()
        app.step()
        board.sent_count = 0
    locked_blocks = 20
finally:
    micropython.heap_unlock()
print(json.dumps({"taken": taken, "locked_blocks": locked_blocks}))
