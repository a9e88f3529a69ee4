"""The interpreter's prompt, where no program runs: in maintenance, or after one has failed.

It answers a line end and Ctrl-C with a fresh prompt, and Ctrl-D on an empty line with a soft reset, as the
board does; a frame sent by mistake can hold either. Nothing can be installed here.
"""

_CANCEL = 0x03
_LINE_END = 0x0D
_SOFT_RESET = 0x04
_KEEP_CAUSE = 0


def run(channel, clock, line):
    """Sit at the prompt for good; only a reset ends it."""
    line.interrupt_character = -1
    line.text("\n>>> ")
    is_empty = True
    while True:
        while line.available():
            byte = line.take_byte()
            if byte == _SOFT_RESET and is_empty:
                channel.reset(_KEEP_CAUSE, clock.scratch)
            is_empty = byte in (_LINE_END, _CANCEL)
            if is_empty:
                line.text("\n>>> ")
        clock.idle()
