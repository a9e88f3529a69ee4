"""Killing a trial at a share of its own processor time, so that the machine's load moves no moment; and its end."""

from __future__ import annotations

import contextlib
import os
import signal
import time
from collections.abc import Iterable
from pathlib import Path

from bench.study.soaking import children_of

TICK_S = 1 / os.sysconf("SC_CLK_TCK")
GONE_WITHIN_S = 60.0
LONGEST_S = 1200.0


def cpu_s(pid: int) -> float | None:
    """Return the processor time a process has taken; None where it has ended."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except (FileNotFoundError, ProcessLookupError):
        return None
    return None if fields[0] in "ZX" else (int(fields[11]) + int(fields[12])) * TICK_S


def watch_to_the_end(pid: int) -> float:
    """Return the processor time of a process that is let live."""
    taken_s, until = 0.0, time.monotonic() + LONGEST_S
    while (now_s := cpu_s(pid)) is not None:
        assert time.monotonic() < until, "it does not end"
        taken_s = now_s
        time.sleep(0.005)
    return taken_s


def kill_after(pid: int, after_s: float, *, children_first: bool = False) -> list[int] | None:
    """Kill a process once it has taken so much processor time; return the children it then had.

    children_first: kill these too, and first. None where it had ended before.
    """
    until = time.monotonic() + LONGEST_S
    while (now_s := cpu_s(pid)) is not None and now_s < after_s:
        assert time.monotonic() < until, "it neither ends nor goes on"
        time.sleep(0.002)
    # Within the tick that the clock of processor time has.
    time.sleep(after_s % TICK_S)
    try:
        children = children_of(pid)
    except (FileNotFoundError, ProcessLookupError):
        return None
    for number in [*children, pid] if children_first else [pid]:
        with contextlib.suppress(ProcessLookupError):
            os.kill(number, signal.SIGKILL)
    return children


def still_there(pids: Iterable[int]) -> list[int]:
    """Return which of them have not ended within a generous time."""
    left, until = list(pids), time.monotonic() + GONE_WITHIN_S
    while left and time.monotonic() < until:
        left = [pid for pid in left if cpu_s(pid) is not None]
        time.sleep(0.01)
    return left
