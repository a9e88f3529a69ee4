# The whole fixture program fed with bytes that a broken or hostile host may send. Reads lines of hex from
# standard input and answers each with the hex of all that the fixture sent for it, the frames it refused, its
# resets and what it left unread; an empty line ends it. A line that begins with u is for a fixture whose seal
# is open. Resets are taken note of and not done; the flash is the folder this runs in.
import binascii
import gc
import sys

sys.path.insert(0, sys.argv[1])

from app import App
from fake_board import FakeBoard

STEPS_A_LINE = 4000


class Board(FakeBoard):
    resets = 0

    def reset(self):
        self.resets += 1


def settle(board, app):
    """Let time pass until all input is taken and all is said; return what was sent."""
    sent = b""
    for _ in range(STEPS_A_LINE):
        board.tick()
        app.step()
        if board.sent_count > 100000:
            sent += board.take_sent()
        if not board.incoming and app._input_at == app._input_end and app.outbox.is_empty():
            break
    return sent + board.take_sent()


def answer(data, unsealed):
    board = Board()
    app = App(board)
    app.begin()
    if unsealed:
        app.button.opens_seal = lambda: True
    board.incoming = data
    sent = settle(board, app)
    return sent, app.refused_frames, board.resets, len(board.incoming)


for line in sys.stdin:
    line = line.strip()
    if not line:
        break
    unsealed = line[0] == "u"
    sent, refused, resets, left = answer(binascii.unhexlify(line[1:]), unsealed)
    print(binascii.hexlify(sent).decode(), refused, resets, left)
    gc.collect()
