# Runs the instrumented sampling path through its extremes: highest codes, ticks that wrap, time and index
# that carry, a contact held for long, a queue that overflows, late conversions, loud pressure.
import json
import sys

sys.path.insert(0, sys.argv[1])

import checker
from app import App
from fake_board import FakeBoard


class QuietBoard(FakeBoard):
    """Ticks without locking the heap: the checks themselves allocate."""

    def tick(self):
        self.now = (self._due + self.late_us) & 0x3FFF_FFFF
        self._due = (self._due + self.interval) & 0x3FFF_FFFF
        self._callback(None)


def run(app, ticks):
    for _ in range(ticks):
        app.board.tick()
        app.step()
        app.board.sent_count = 0


board = QuietBoard(ticks_start=0x3FFF_FFFF - 3_000_000)
app = App(board)
app.begin()
app.marks.session = True
app.alarm.limit_travel(1000)
board.travel = 4095
board.pressure = 4095
for rate_hz in (100, 1000, 500):
    app.start_streaming(rate_hz)
    app.sampler.index_low = 0xFFF0
    app.sampler.index_high = 0xFFFF
    app.sampler.time_low = 0xFFFF
    app.sampler.time_high = 0xFFF0
    run(app, 4000)
    board.closed_button = True
    board.room = 0
    run(app, 8000)
    board.closed_button = False
    board.pressure = 0
    board.travel = 0
    board.late_us = 3 * board.interval
    run(app, 400)
    board.late_us = 0
    board.room = 64
    board.pressure = 4095
    board.travel = 4095
    run(app, 400)
    app.sampler.stop()
# A contact that is never let go: its time must stop counting.
board.closed_button = True
run(app, 400)
app.button._state_us = 0x1FFF_FF00
run(app, 4000)
told = dict(checker.seen)
told["marks"] = app.marks._counter
told["travel_seen"] = app.alarm.travel_seen
told["wrapped"] = board.now < 0x2000_0000
print(json.dumps(told))
