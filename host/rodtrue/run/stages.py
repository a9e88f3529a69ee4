"""The stages of a job: their order, their titles, and which of them a job has."""

from __future__ import annotations

from rodtrue.run.settings import RunSettings

STAGES: dict[str, str] = {
    "cautions": "Cautions",
    "prepare": "Before the run",
    "return": "Full return",
    "unhook": "Unhook the rod",
    "no_rod": "No rod fitted",
    "power": "Make pressure",
    "zero": "Travel zero",
    "baseline": "Baseline",
    "response": "Lever answers",
    "hook_up": "Hook up",
    "rest": "Rest check",
    "sweeps": "Sweeps",
    "adjust": "Adjust",
    "finish": "Leave it safe",
}
"""All stages in order, code to title."""

_ONLY_WITH_RODS, _ONLY_BODY_ALONE = ("unhook", "hook_up"), ("no_rod",)

MEASURING = ("unhook", "no_rod", "power", "zero", "baseline", "response", "hook_up", "rest", "sweeps")
"""Those that every run of a job goes through anew."""


def stages_of(settings: RunSettings) -> dict[str, str]:
    """Return the stages of a job under these settings in order, code to title."""
    left_out = {*(_ONLY_WITH_RODS if settings.body_alone else _ONLY_BODY_ALONE)}
    if not settings.checklists:
        left_out.add("prepare")
    titles = STAGES | {"adjust": "Put right"} if settings.body_alone else STAGES
    return {code: title for code, title in titles.items() if code not in left_out}
