# The whole fixture program on one board that lives on while a hostile host talks to it. Each line on standard
# input is one word and its argument; each is answered by the hex of all that the fixture sent meanwhile, the
# frames it has refused, the bytes it left unread and the heap taken after a collection. Words:
#   new         another board; its flash, the folder this runs in, keeps what it has
#   feed HEX    bytes from the host
#   send HEX    the same, without waiting until they are answered
#   pass N      N timer intervals
#   stall N     as long, while the line takes nothing
#   press N     as long with the button held, then a moment without
#   takes N     the line takes at most N bytes a write from now on
import binascii
import gc
import sys

sys.path.insert(0, sys.argv[1])

from app import App
from fake_board import FakeBoard

SETTLES_WITHIN = 20000
MOMENT = 400


class Board(FakeBoard):
    """Travel tells the time: the 12-bit reading is the board's time in steps of 500 us."""

    def convert_pair(self, codes):
        codes[0] = self.now // 500 % 4096
        codes[1] = self.pressure

    def reset(self):
        pass


class Bench:
    def __init__(self):
        self.sent = []
        self.new(0)

    def new(self, _):
        self.board = Board()
        self.app = App(self.board)
        self.app.begin()

    def send(self, data):
        self.board.incoming += binascii.unhexlify(data)

    def feed(self, data):
        self.send(data)
        for _ in range(SETTLES_WITHIN):
            self.turn()
            if not self.board.incoming and self.app._input_at == self.app._input_end and self.app.outbox.is_empty():
                break

    def turn(self):
        self.board.tick()
        self.app.step()
        if self.board.sent_count > 100000:
            self.sent.append(self.board.take_sent())

    def passes(self, intervals):
        for _ in range(int(intervals)):
            self.turn()

    def stall(self, intervals):
        room = self.board.room
        self.board.room = 0
        self.passes(intervals)
        self.board.room = room

    def press(self, intervals):
        self.board.closed_button = True
        self.passes(intervals)
        self.board.closed_button = False
        self.passes(MOMENT)

    def takes(self, most):
        self.board.takes = int(most)

    def told(self):
        self.sent.append(self.board.take_sent())
        sent = b"".join(self.sent)
        self.sent.clear()
        return sent


bench = Bench()
words = {
    "new": bench.new,
    "feed": bench.feed,
    "send": bench.send,
    "pass": bench.passes,
    "stall": bench.stall,
    "press": bench.press,
    "takes": bench.takes,
}
for line in sys.stdin:
    word, _, argument = line.strip().partition(" ")
    if not word:
        break
    words[word](argument)
    print(binascii.hexlify(bench.told()).decode() or "-", end=" ")
    line = argument = None
    gc.collect()
    print(bench.app.refused_frames, len(bench.board.incoming), gc.mem_alloc())
