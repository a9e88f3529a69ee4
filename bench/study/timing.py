"""Times as medians over repeats, the things compared taking turns in one process."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Mapping
from statistics import median
from typing import Any

LEAST_S = 0.02
"""Something quicker is repeated within one turn until it has taken this long."""


def medians_s(
    things: Mapping[str, Callable[[], Any]], turns: int, clock: Callable[[], float] = time.perf_counter
) -> dict[str, float]:
    """Return each thing's median time in s. They take turns, so that a slow spell of the machine hits all alike.

    clock: `time.process_time` for what only computes: others' turns on the processors then do not count.
    """
    counts = {}
    for name, thing in things.items():
        begun = clock()
        thing()
        counts[name] = max(1, round(LEAST_S / max(clock() - begun, 1e-7)))
    taken: dict[str, list[float]] = {name: [] for name in things}
    gc.collect()
    gc.disable()
    try:
        for _ in range(turns):
            for name, thing in things.items():
                begun = clock()
                for _ in range(counts[name]):
                    thing()
                taken[name].append((clock() - begun) / counts[name])
    finally:
        gc.enable()
    return {name: median(times) for name, times in taken.items()}
