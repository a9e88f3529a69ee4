"""What the page shows at one moment: made by the engine, read by every browser, never changed."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from rodtrue.model.errors import RodtrueError
from rodtrue.model.profile import Profile
from rodtrue.model.result import Result
from rodtrue.page.choice import Choice, Hands
from rodtrue.page.history import DriftWatch
from rodtrue.page.trainer import ExerciseShown
from rodtrue.run.guided import GuidedRun
from rodtrue.run.live import Notice
from rodtrue.run.prompts import Prompt
from rodtrue.run.under_way import Label
from rodtrue.run.words import Units

Phase = Literal["choose", "opening", "run", "over"]


@dataclass(frozen=True)
class UnitShown:
    """A virtual unit's handle as it stands."""

    hands: Hands
    rod_hooked: bool
    holding_spring: bool
    rod_turns: float
    fault: str | None
    cable_in: bool


@dataclass(frozen=True)
class RunShown:
    """A run as it stands. number: counts prompts, so that an answer can say which one it answers.

    done: stages gone through. stopped: ended before it was done. indicates: whether what the sweeps hint at shows.
    """

    choice: Choice
    profile: Profile
    kind: str
    port: str
    calibrated: bool
    prompt: Prompt
    number: int
    stage: str
    stages: dict[str, str]
    done: frozenset[str]
    stopped: bool
    indicates: bool
    label: Label
    ticked: dict[str, str]
    alarms: tuple[Notice, ...]
    notices: tuple[Notice, ...]
    results: dict[Label, Result]
    sweeps: int
    onset_mm: float | None
    foot_switch: int
    fixture_lost: bool
    folder: Path
    unit: UnitShown | None
    exercise: ExerciseShown | None


@dataclass(frozen=True)
class Shown:
    """version: another one wherever anything differs. files: what the job has left so far, by what it is.

    kept: what the records say of the job, "" before they are asked. drift: what the check standard says.
    """

    version: int = 0
    phase: Phase = "choose"
    units: Units = "inch"
    trouble: RodtrueError | None = None
    run: RunShown | None = None
    files: dict[str, Path] = field(default_factory=dict)
    kept: str = ""
    drift: DriftWatch | None = None


def run_shown(run: GuidedRun, number: int, foot_switch: int, *, hides_results: bool, **rest: Any) -> RunShown:
    """Return a run as it stands; its results, and whether a correction follows, only where not kept back."""
    hidden = {"sweeps", "adjust", "finish"} if hides_results else set()
    return RunShown(
        profile=run.settings.profile,
        kind="virtual" if run.is_virtual else "board",
        calibrated=run.calibrated,
        prompt=run.prompt,
        number=number,
        stage="sweeps" if hides_results and run.stage in ("adjust", "finish") else run.stage,
        stages=run.stages,
        done=frozenset(run.done - hidden),
        stopped=run.stopped,
        indicates=run.indicates,
        label=run.label,
        ticked=dict(run.ticked),
        alarms=tuple(notice for notice in run.live.standing if is_alarm(notice)),
        notices=tuple(run.live.notices),
        results={} if hides_results else dict(run.results),
        sweeps=len(run.live.sweeps),
        onset_mm=run.live.onset_mm if run.indicates else None,
        foot_switch=foot_switch,
        fixture_lost=run.fixture_lost,
        folder=run.settings.folder,
        **rest,
    )


def is_alarm(notice: Notice) -> bool:
    """Whether a notice is to be said large for as long as it holds."""
    return notice.severity == "stop" or notice.code.endswith("_sensor_rail")
