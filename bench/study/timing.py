"""Times as medians over repeats, the things compared taking turns in one process."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Mapping
from statistics import median
from typing import Any

LEAST_S = 0.02
"""Something quicker is repeated within one turn until it has taken this long."""


def medians_s(things: Mapping[str, Callable[[], Any]], turns: int) -> dict[str, float]:
    """Return each thing's median time in s. They take turns, so that a slow spell of the machine hits all alike."""
    counts = {}
    for name, thing in things.items():
        begun = time.perf_counter()
        thing()
        counts[name] = max(1, round(LEAST_S / max(time.perf_counter() - begun, 1e-7)))
    taken: dict[str, list[float]] = {name: [] for name in things}
    gc.collect()
    gc.disable()
    try:
        for _ in range(turns):
            for name, thing in things.items():
                begun = time.perf_counter()
                for _ in range(counts[name]):
                    thing()
                taken[name].append((time.perf_counter() - begun) / counts[name])
    finally:
        gc.enable()
    return {name: median(times) for name, times in taken.items()}
