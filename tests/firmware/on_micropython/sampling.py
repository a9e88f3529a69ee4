# What the sampling path puts into blocks when index and time carry, conversions come late, or writes
# come back short. Prints the frames sent, as hex, with what the firmware counted.
import binascii
import json
import sys

sys.path.insert(0, sys.argv[1])

from app import App
from fake_board import FakeBoard

case = sys.argv[2]
board = FakeBoard()
app = App(board)
app.begin()
app.start_streaming(500)


def run(ticks):
    for _ in range(ticks):
        board.tick()
        app.step()


levels = []
if case == "carry":
    app.sampler.index_low = 0xFFF8
    app.sampler.index_high = 0xFFFF
    app.sampler.time_low = 0x0000
    app.sampler.time_high = 0xFFFF
    run(400)
elif case == "late":
    run(200)
    # One conversion comes more than its interval late, in the middle of a block.
    board.late_us = board.interval + 1
    run(1)
    board.late_us = 0
    run(199)
elif case == "jitter":
    run(200)
    # Sample periods that begin from 7 us before to 31 us after the schedule; other conversions are later still.
    for early_us, later_us in ((-7, 0), (31, 90), (12, 120)):
        board.late_us = early_us
        run(1)
        board.late_us = later_us
        run(3)
    board.late_us = 0
    run(8)
elif case == "limit":
    app.alarm.limit_travel(16 * 2000)
    levels = []
    for travel in (2000, 2001, 2001, 1990, 1980):
        board.travel = travel
        for _ in range(75):
            run(4)
            levels.append(board.sounder_level)
elif case == "short":
    board.takes = 7
    run(400)
elif case == "full":
    run(80)
    board.room = 0
    # 40 blocks more than fit, and a mark of the button among them.
    board.closed_button = True
    app.marks.session = True
    run(80 * (32 + 40))
    board.room = 64
    run(80)
app.sampler.stop()
while not app.outbox.is_empty():
    app.step()
print(
    json.dumps(
        {
            "sent": binascii.hexlify(board.take_sent()).decode(),
            "lost_samples": app.sampler.lost_samples,
            "dropped_blocks": app.queue.dropped,
            "feeds": board.feeds,
            "early_us": app.sampler.early_us,
            "late_us": app.sampler.late_us,
            "levels": levels,
        }
    )
)
