"""The interpreter's prompt, where no program runs: in maintenance, or after one has failed.

It answers a line end with a fresh prompt and Ctrl-D with a soft reset. Nothing can be installed here.
"""

_SOFT_RESET = 0x04
_KEEP_CAUSE = 0


def run(channel, clock, line):
    """Sit at the prompt for good; only a reset ends it."""
    line.interrupt_character = -1
    line.text("\n>>> ")
    while True:
        while line.available():
            byte = line.take_byte()
            if byte == _SOFT_RESET:
                channel.reset(_KEEP_CAUSE, clock.scratch)
            if byte == 0x0D:
                line.text("\n>>> ")
        clock.idle()
