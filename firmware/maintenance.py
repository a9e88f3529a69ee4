"""The way in for an installer: one boot without watchdog or program.

Asked for by a command, which leaves a flag file, or by holding the button at power-up. The flag is
removed before anything else happens, so the boot after that starts the program again.
"""

import os

FLAG = "maintenance.flag"

active = False


def request():
    """Make the next boot a maintenance boot."""
    with open(FLAG, "wb") as flag:
        flag.write(b"1")


def decide(button_held):
    """Set `active` for this boot. button_held: asked only where no flag decides."""
    global active
    if FLAG in os.listdir():
        os.remove(FLAG)
        active = True
    else:
        active = button_held()
