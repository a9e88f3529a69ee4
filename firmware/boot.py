"""First file the interpreter runs: decides whether the program starts at all.

In maintenance neither watchdog nor program starts, so that an installer can get in.
"""

import board
import maintenance

maintenance.decide(board.button_held_at_power_up)
if maintenance.active:
    board.light_lamp()
