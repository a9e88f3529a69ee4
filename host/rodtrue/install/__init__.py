"""Putting the firmware on a board: found, entered, checked, compiled, copied, verified, restarted, greeted."""
