"""A run under way as its steps see it: what is known, what is written down, what has been collected.

The steps are in `rodtrue.run.script` and what it calls; `rodtrue.run.guided` drives them.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rodtrue import __version__
from rodtrue.capture.reader import read_capture
from rodtrue.judging import judge_capture
from rodtrue.model.errors import FixtureError
from rodtrue.model.result import Result
from rodtrue.model.samples import STEPS
from rodtrue.run.cautions import Caution
from rodtrue.run.live import LiveSignal
from rodtrue.run.pace import pace_advice
from rodtrue.run.prompts import CheckItem
from rodtrue.run.recorder import Recorder
from rodtrue.run.settings import RunSettings
from rodtrue.run.stages import MEASURING, stages_of
from rodtrue.run.wording import WORDING, Wording
from rodtrue.run.words import length

LEAST_SWEEP_MM = 8.0
LEAST_SWEEP_OF_LIMIT = 0.6
"""The least opening that counts as a sweep; with the throttle, as a share of the running limit."""

_RISE_SAMPLES = 20

Label = Literal["as-found", "as-left"]
_Array = NDArray[np.float64]


class RunUnderWay:
    """One job under way: its settings, its captures, and the samples of the step that is being done.

    recorder: the fixture, greeted.

    stage: code into `stages`. done: the stages gone through, of the measuring ones those of the run under way.
    live: what to show meanwhile. ticked: what has been answered of the checklist that is shown, word by item.
    results: the verdicts so far, by label, while their captures are still open; once a capture is
    closed its entry is that of the finished file. captures: the files by label, the newest of each.
    fixture_lost: it went away and has not come back. needs_fixture: the job cannot go on without it.
    """

    def __init__(self, recorder: Recorder, settings: RunSettings) -> None:
        self.settings = settings
        self.stage = "cautions"
        self.done: set[str] = set()
        self.zero_mm = 0.0
        self.baseline_noise_kpa = 0.0
        self.results: dict[Label, Result] = {}
        self.captures: dict[Label, Path] = {}
        self.ticked: dict[str, str] = {}
        self.preconditions_met = not settings.checklists
        self.fixture_lost = False
        self.needs_fixture = False
        self._lost_at_start: FixtureError | None = None
        self._recorder = recorder
        self._next_recorder = recorder
        self._label: Label = "as-found"
        self._acknowledged: list[tuple[Caution, str]] = []
        self._checked: dict[tuple[str, str], dict[str, str]] = {}
        self._looks = 0
        self._collected: list[tuple[_Array, _Array]] | None = None
        limit_mm = settings.profile.thresholds.running_travel_limit_mm
        on_throttle = settings.drive == "throttle"
        self.live = LiveSignal(
            settings.profile.thresholds,
            LEAST_SWEEP_OF_LIMIT * limit_mm if on_throttle else LEAST_SWEEP_MM,
            settings.reference,
        )

    @property
    def stages(self) -> dict[str, str]:
        """The stages of this job in order, code to title."""
        return stages_of(self.settings)

    @property
    def wording(self) -> Wording:
        """What the questions say of what is moved."""
        return WORDING[self.settings.reference]

    @property
    def calibrated(self) -> bool:
        """Whether the fixture holds a calibration."""
        return self._recorder.calibration is not None

    @property
    def label(self) -> Label:
        """Which of the two runs of the job is under way."""
        return self._label

    @property
    def is_virtual(self) -> bool:
        """Whether the fixture says of itself that it is a virtual one: no measurement."""
        return bool(self._recorder.identity["kind"] == "virtual")

    @property
    def fixture_is_back(self) -> bool:
        """Whether the fixture was lost and has come back since the open capture was begun: none of it comes there."""
        return self._next_recorder is not self._recorder

    # ---- stages, captures, and what is written into them ----

    def enter(self, stage: str) -> None:
        """Begin a stage; the one before is done, and nothing is collected until this one begins to."""
        if stage != self.stage:
            self.done.add(self.stage)
        self._collected = None
        self.done.discard(stage)
        self.stage = stage
        self.note("stage", stage=stage)

    def open_capture(self, label: Label) -> None:
        """Close the capture before, if there is one, and begin the next with all that is known."""
        self.close_capture()
        self._label = label
        self._looks = 0
        self.done.difference_update(MEASURING)
        path = self._free_path(label)
        self.captures[label] = path
        self._recorder = self._next_recorder
        try:
            self._recorder.open_capture(path, self.settings.rate_hz)
        except FixtureError as error:
            self._lost_at_start = error
        settings = self.settings
        plan = settings.profile.plan
        self.note("profile", profile=settings.profile.name, text=settings.profile_text)
        self.note(
            "conditions",
            drive=settings.drive,
            reference=settings.reference,
            operator=settings.operator,
            unit=settings.unit,
            label=label,
            taken_at=datetime.now(UTC).isoformat(timespec="seconds"),
            rodtrue_version=__version__,
        )
        self.note("plan", sweeps=plan.sweeps, extended_sweeps=plan.extended_sweeps)
        for caution, acknowledged_at in self._acknowledged:
            self._note_caution(caution, acknowledged_at)
        for said in self._checked.values():
            self.note("checked", **said)
        self.live.begin_capture()

    def _free_path(self, label: Label) -> Path:
        """Return the capture's file; where the fixture was lost and came back, the one after those before."""
        path, number = self.settings.folder / f"{label}.capture", 2
        while label in self.captures and path.exists():
            path, number = self.settings.folder / f"{label}-{number}.capture", number + 1
        return path

    def close_capture(self) -> None:
        """Close the open capture and take its result from the finished file."""
        if self._recorder.close_capture() and self._looks:
            self.results[self._label] = judge_capture(read_capture(self.captures[self._label]))

    def note(self, name: str, **fields: Any) -> None:
        """Write an entry into the capture, at the next sample."""
        self._recorder.note(name, **fields)

    def answered(self, question: str, answer: str | None) -> None:
        """Write an answer into the capture."""
        self.note("answer", question=question, answer=answer)

    def acknowledged(self, caution: Caution) -> None:
        """Write that a caution was acknowledged."""
        now = datetime.now(UTC).isoformat(timespec="seconds")
        self._acknowledged.append((caution, now))
        self._note_caution(caution, now)

    def checked(self, checklist: str, item: CheckItem) -> None:
        """Write what was answered to an item of a checklist; it holds for the captures after this one too."""
        said = {
            "checklist": checklist,
            "item": item.code,
            "text": item.text,
            "answer": self.ticked[item.code],
            "answered_at": datetime.now(UTC).isoformat(timespec="seconds"),
        }
        self._checked[checklist, item.code] = said
        self.note("checked", **said)

    def step(self, step: int, first: int | None = None) -> None:
        """Samples from index `first` (from the next one on) belong to `step`, an index into `STEPS`."""
        self._recorder.note("step", first, step=STEPS[step])

    # ---- the samples of a step, and looks at them all ----

    def begin_collecting(self) -> int:
        """Keep samples for `collected` from here to the next stage; return the index of the first one."""
        self._collected = []
        return self._recorder.next_index

    def collected(self) -> tuple[_Array, _Array]:
        """Return travel in mm and pressure in kPa, shapes (n,), of what came since `begin_collecting`.

        Empty where the stage has not begun to collect.
        """
        chunks = self._collected or [(np.empty(0), np.empty(0))]
        return np.concatenate([c[0] for c in chunks]), np.concatenate([c[1] for c in chunks])

    def risen_kpa(self) -> float:
        """Return by how much the collected pressure rose over the baseline, noise averaged out."""
        means = self._means(self.collected()[1])
        return float(means.max() - (self.live.baseline_kpa or 0.0)) if len(means) else 0.0

    def fallen_back(self) -> bool:
        """Say whether the newest collected pressure has come most of the way back down."""
        means = self._means(self.collected()[1])
        return len(means) > 0 and means[-1] - (self.live.baseline_kpa or 0.0) < 0.2 * self.risen_kpa()

    def look(self) -> Result:
        """Judge the capture as it stands; each look is written down before it is taken."""
        self._looks += 1
        self.note("look", number=self._looks, sweeps=len(self.live.sweeps))
        result = judge_capture(read_capture(self.captures[self._label]))
        self.results[self._label] = result
        return result

    def pace_advice(self) -> str:
        """Return what to heed at the next sweep: its pace, and the running limits where they hold."""
        pace = pace_advice(self.live.sweeps, self.settings.profile.thresholds.too_fast_mm_per_s)
        limit_mm = self.live.running_limit_mm
        if limit_mm is None:
            return pace
        limit_rpm = self.settings.profile.thresholds.idle_speed_limit_rpm
        return f"{pace} Never past {length(limit_mm)}, nor above {limit_rpm:g} rpm on the tachometer."

    def _means(self, pressure_kpa: _Array) -> _Array:
        whole = len(pressure_kpa) // _RISE_SAMPLES * _RISE_SAMPLES
        return pressure_kpa[:whole].reshape(-1, _RISE_SAMPLES).mean(axis=1)

    def _note_caution(self, caution: Caution, acknowledged_at: str) -> None:
        self.note("caution", code=caution.code, text=caution.text, acknowledged_at=acknowledged_at)
