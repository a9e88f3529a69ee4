"""How fast the sweeps were, and what to heed at the next one."""

from __future__ import annotations

from dataclasses import dataclass

from rodtrue.run.words import speed

PACES_S = (3.0, 1.5)
"""Seconds for one way, from sweep to sweep."""


@dataclass(frozen=True)
class Sweep:
    """One counted sweep: how far it went above zero and how fast each way."""

    top_mm: float
    opening_mm_per_s: float
    closing_mm_per_s: float


def wanted_half_s(sweeps: list[Sweep]) -> float:
    """Return how many seconds the next sweep is to take each way: slow and quick by turns tells lag from friction."""
    return PACES_S[len(sweeps) % len(PACES_S)]


def pace_advice(sweeps: list[Sweep], too_fast_mm_per_s: float) -> str:
    """Return one sentence on the last sweep's pace, and on the next one's; speeds in mm/s."""
    half = f"{wanted_half_s(sweeps):g} seconds"
    if not sweeps:
        return f"Start slowly: about {half} to open, {half} to close."
    last = sweeps[-1]
    fastest = max(last.opening_mm_per_s, last.closing_mm_per_s)
    if fastest > too_fast_mm_per_s:
        return f"Too fast: {speed(fastest)}. Stay under {speed(too_fast_mm_per_s)}."
    if not 0.5 <= last.opening_mm_per_s / last.closing_mm_per_s <= 2.0:
        return "Close as slowly as you opened: your hand leads the springs back."
    return f"Good. The next one {'quicker' if len(sweeps) % 2 else 'slower'}, about {half} each way."
