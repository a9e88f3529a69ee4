"""What the plot shows beside the points: units, the band in which the ramp should begin, the judged lines."""

from __future__ import annotations

from typing import Any

from rodtrue.model.result import Result
from rodtrue.page.shown import Shown
from rodtrue.run.prompts import Sweeping


def scene_of(shown: Shown) -> dict[str, Any]:
    """Return it for one moment; lengths in mm above zero, pressures in kPa. The band only from the sweeps on."""
    run = shown.run
    if run is None:
        return {"units": shown.units}
    limits, free_mm = run.profile.limits, run.profile.lever.free_mm
    scene: dict[str, Any] = {"units": shown.units}
    result = run.results.get(run.label)
    if (result is not None or run.indicates) and run.choice.measured_from == "curb_idle":
        scene["zone"] = [free_mm - limits.rod_long_mm, free_mm + limits.rod_short_mm]
    if result is not None and not isinstance(run.prompt, Sweeping):  # sweeping on, it is an indication again
        scene["fit"] = _lines(result)
        scene["start"] = None if result.lever_start_mm is None else result.lever_start_mm + free_mm
    return scene


def _lines(result: Result) -> list[dict[str, list[float]]]:
    return [{"x": line["travel_mm"], "y": line["pressure_kpa"]} for line in result.plot.fit]
