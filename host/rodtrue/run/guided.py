"""A guided job as a state machine: what it waits for, what to show, and nothing printed.

A front end shows `prompt` and `stage`, calls `answer` when the person has answered, and `update` all
the time. The order of things is `rodtrue.run.script`; here is what its steps work with.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rodtrue import __version__
from rodtrue.capture.reader import read_capture
from rodtrue.judging import judge_capture
from rodtrue.model.conditions import Drive, Reference
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.model.profile import Profile
from rodtrue.model.result import Result
from rodtrue.model.samples import STEPS
from rodtrue.run.cautions import Caution, leave_safe
from rodtrue.run.live import LiveSignal, pace_advice
from rodtrue.run.prompts import (
    DONE,
    FINISH,
    YES,
    Acknowledge,
    Ask,
    CheckItem,
    Checklist,
    Finished,
    Prompt,
    Sweeping,
    Wait,
)
from rodtrue.run.recorder import Recorder
from rodtrue.run.safety import RunStopped
from rodtrue.run.script import FixtureBack, whole_job
from rodtrue.run.wording import WORDING, Wording
from rodtrue.run.words import length

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
"""The stages of a job in order, code to title."""

_ONLY_WITH_RODS, _ONLY_BODY_ALONE = ("unhook", "hook_up"), ("no_rod",)

_MEASURING = ("unhook", "no_rod", "power", "zero", "baseline", "response", "hook_up", "rest", "sweeps")
"""Those that every run of a job goes through anew."""

LEAST_SWEEP_MM = 8.0
LEAST_SWEEP_OF_LIMIT = 0.6
"""The least opening that counts as a sweep; with the throttle, as a share of the running limit."""

_RISE_SAMPLES = 20

Label = Literal["as-found", "as-left"]
_Array = NDArray[np.float64]


@dataclass(frozen=True)
class RunSettings:
    """What is known before the run begins.

    profile_text: the profile as written, for the capture. reference: `lever_stop` for a valve body alone, without
    a rod, on a bench. checklists: whether fitting, sense of travel and preconditions are gone through and recorded,
    item by item.
    Raises: InputError for a body alone that does not stand on a bench.
    """

    profile: Profile
    profile_text: str
    folder: Path
    drive: Drive = "slide"
    reference: Reference = "curb_idle"
    operator: str | None = None
    unit: str | None = None
    rate_hz: int = 500
    checklists: bool = False

    def __post_init__(self) -> None:
        if self.body_alone and self.drive != "bench":
            raise InputError(
                f"the lever's own stop as reference, drive {self.drive}: that is for a valve body alone on a bench",
                "Say drive bench too; or leave the reference out where a rod is to be measured.",
            )

    @property
    def body_alone(self) -> bool:
        """Whether a valve body is measured by itself: its lever is moved, from the lever's own stop, and no rod."""
        return self.reference == "lever_stop"


class GuidedRun:
    """One job under way.

    recorder: the fixture, greeted.

    prompt: what the job waits for now. stage: code into `stages`. live: what to show meanwhile.
    ticked: what has been answered of the checklist that is shown, word by item.
    results: the verdicts so far, by label, while their captures are still open; once a capture is
    closed its entry is that of the finished file. captures: the files by label, the newest of each.
    fixture_lost: it went away and has not come back. needs_fixture: the job cannot go on without it.
    presses: of button and foot switch so far. done: the stages gone through, of the measuring ones those of
    the run under way. stopped: the job was ended before it was done.
    """

    def __init__(self, recorder: Recorder, settings: RunSettings) -> None:
        self.settings = settings
        self.stage = "cautions"
        self.zero_mm = 0.0
        self.baseline_noise_kpa = 0.0
        self.results: dict[Label, Result] = {}
        self.captures: dict[Label, Path] = {}
        self.ticked: dict[str, str] = {}
        self.preconditions_met = not settings.checklists
        self.fixture_lost = False
        self.needs_fixture = False
        self.presses = 0
        self.stopped = False
        self.done: set[str] = set()
        self._lost_at_start: FixtureError | None = None
        self._recorder = recorder
        self._next_recorder = recorder
        self._label: Label = "as-found"
        self._acknowledged: list[tuple[Caution, str]] = []
        self._checked: dict[tuple[str, str], dict[str, str]] = {}
        self._noted_notices = 0
        self._looks = 0
        self._collected: list[tuple[_Array, _Array]] | None = None
        self._wait_from_s: float | None = None
        limit_mm = settings.profile.thresholds.running_travel_limit_mm
        on_throttle = settings.drive == "throttle"
        self.live = LiveSignal(
            settings.profile.thresholds,
            LEAST_SWEEP_OF_LIMIT * limit_mm if on_throttle else LEAST_SWEEP_MM,
            settings.reference,
        )
        self._script = whole_job(self)
        self.prompt: Prompt = next(self._script)

    # ---- for front ends ----

    @property
    def finished(self) -> bool:
        """Whether the job is over."""
        return isinstance(self.prompt, Finished)

    @property
    def stages(self) -> dict[str, str]:
        """The stages of this job in order, code to title."""
        settings = self.settings
        left_out = {*(_ONLY_WITH_RODS if settings.body_alone else _ONLY_BODY_ALONE)}
        if not settings.checklists:
            left_out.add("prepare")
        titles = STAGES | {"adjust": "Put right"} if settings.body_alone else STAGES
        return {code: title for code, title in titles.items() if code not in left_out}

    @property
    def wording(self) -> Wording:
        """What the questions say of what is moved."""
        return WORDING[self.settings.reference]

    @property
    def calibrated(self) -> bool:
        """Whether the fixture holds a calibration."""
        return self._recorder.calibration is not None

    @property
    def indicates(self) -> bool:
        """Whether what the live signal reads of the ramp is worth showing: in the sweeps alone, never before."""
        return self.stage == "sweeps"

    @property
    def label(self) -> Label:
        """Which of the two runs of the job is under way."""
        return self._label

    @property
    def is_virtual(self) -> bool:
        """Whether the fixture says of itself that it is a virtual one: no measurement."""
        return bool(self._recorder.identity["kind"] == "virtual")

    def answer(self, word: str) -> None:
        """Answer the prompt: one of its words, or free text where it asks for that.

        Raises: InputError for a word that does not answer what is asked.
        """
        prompt = self.prompt
        if isinstance(prompt, Acknowledge):
            allowed: tuple[str, ...] = (YES,)
        elif isinstance(prompt, Sweeping):
            if not prompt.may_finish:
                more = prompt.finish_from - prompt.done
                raise InputError(
                    f"{prompt.done} sweeps are too few to judge, {prompt.finish_from} are the least",
                    f"Do {more} more, or end the run.",
                )
            allowed = (FINISH,)
        elif isinstance(prompt, Ask):
            allowed = prompt.choices
        elif isinstance(prompt, Checklist):
            self._refuse_open_items(prompt)
            allowed = (DONE,)
        else:
            raise InputError("nothing is asked at the moment", "Wait for the next question.")
        free_text = isinstance(prompt, Ask) and not prompt.choices
        if not free_text and word not in allowed:
            raise InputError(f"{word!r} is no answer to this", "Answer one of: " + ", ".join(allowed) + ".")
        self._go_on(word)

    def tick(self, item: str, word: str) -> None:
        """Answer one item of the checklist that is shown; an empty word takes its answer back.

        Raises: InputError where no such item is shown, or the word does not answer it.
        """
        items = self.prompt.items if isinstance(self.prompt, Checklist) else ()
        asked = next((each for each in items if each.code == item), None)
        if asked is None:
            raise InputError(f"{item!r} is on no checklist at the moment", "See what the run asks now.")
        if word and asked.words and word not in asked.words:
            raise InputError(f"{word!r} is no answer to {item}", "Answer one of: " + ", ".join(asked.words) + ".")
        self.ticked[item] = word.strip()

    def lose_fixture(self, error: FixtureError) -> None:
        """Take note that the fixture has gone: its capture stays open for answers, nothing is taken in any more."""
        self.fixture_lost = True
        self._lost_at_start = None
        self.note("fixture_lost", error=error.message)
        if self.needs_fixture:
            self.live.say(
                "fixture_lost",
                "stop",
                f"The fixture is gone: its cable is out, or it has no power. {self.wording.turn_off}, plug the "
                "fixture in again. What was recorded is kept; this run starts again "
                f"{self.wording.starts_again} as soon as the fixture answers.",
            )
        else:
            self.live.say("fixture_unplugged", "note", "The fixture is unplugged; what is left needs none.")

    def resume(self, recorder: Recorder) -> None:
        """Go on with a fixture that has come back, greeted anew: measure again from the beginning, if at all."""
        self._next_recorder = recorder
        self.fixture_lost = False
        self.live.over("fixture_lost")
        self.live.over("fixture_unplugged")
        if self.needs_fixture:
            self.live.zero_mm = self.live.baseline_kpa = self.live.running_limit_mm = None
            self.live.forget_sweeps()
            self.prompt = self._script.throw(FixtureBack())
            self._wait_from_s = None

    def update(self, wait_s: float = 0.0) -> None:
        """Take in what the fixture has sent, waiting at most `wait_s` for it, and go on where it is time.

        Raises: FixtureError where the fixture is lost; what was captured until then is kept. After `lose_fixture`
        there is nothing to take in.
        """
        if self._lost_at_start is not None:
            raise self._lost_at_start
        if self.fixture_lost:
            return
        self._recorder.limit_travel(self._running_limit_travel_mm())
        received = self._recorder.poll(wait_s)
        if len(received.time_s):
            self.live.feed(received.time_s, received.travel_mm, received.pressure_kpa)
            if self._collected is not None:
                self._collected.append((received.travel_mm, received.pressure_kpa))
        for code in received.ended:
            self.live.over(code)
        for notice in received.notices:
            self.live.say(notice.code, notice.severity, notice.text)
        for notice in self.live.notices[self._noted_notices :]:
            self.note("notice", code=notice.code, severity=notice.severity, text=notice.text)
        self._noted_notices = len(self.live.notices)
        self.presses += received.pressed
        if received.pressed and isinstance(self.prompt, Ask) and not self.prompt.in_words:
            meaning = self.prompt.choices[0] if self.prompt.choices else self.prompt.default
            self.note("mark", meaning=meaning, question=self.prompt.code)
            self.answer(meaning)
        elif self._wait_is_over():
            self._go_on(None)

    def stop(self) -> None:
        """End the job before it is done, and say how to leave everything safe."""
        self.stopped = True
        self.note("stopped", stage=self.stage, question=getattr(self.prompt, "code", None))
        self.close()
        how = leave_safe(self.settings.drive, self.settings.reference)
        self.prompt = Finished(f"Stopped; what was captured is kept. {how}")

    def close(self) -> None:
        """End the job where it stands: the fixture stops sending, the open capture is closed and kept."""
        self._script.close()
        self.close_capture()

    # ---- for the script ----

    def enter(self, stage: str) -> None:
        """Begin a stage; the one before is done."""
        if stage != self.stage:
            self.done.add(self.stage)
        self.done.discard(stage)
        self.stage = stage
        self.note("stage", stage=stage)

    def open_capture(self, label: Label) -> None:
        """Close the capture before, if there is one, and begin the next with all that is known."""
        self.close_capture()
        self._label = label
        self._looks = 0
        self.done.difference_update(_MEASURING)
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

    def begin_collecting(self) -> int:
        """Keep samples from here on for `collected`; return the index of the first one."""
        self._collected = []
        return self._recorder.next_index

    def collected(self) -> tuple[_Array, _Array]:
        """Return travel in mm and pressure in kPa, shapes (n,), of what came since `begin_collecting`."""
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

    def _running_limit_travel_mm(self) -> float | None:
        """Return where the fixture's own sounder must warn, from the sensor's origin; None where no limit holds."""
        limit_mm, zero_mm = self.live.running_limit_mm, self.live.zero_mm
        return None if limit_mm is None or zero_mm is None else zero_mm + limit_mm

    def _refuse_open_items(self, checklist: Checklist) -> None:
        still_open = [item.text for item in checklist.items if not self.ticked.get(item.code)]
        if still_open:
            raise InputError(f"{len(still_open)} still open: {still_open[0]}", "See to each and tick it.")

    def _means(self, pressure_kpa: _Array) -> _Array:
        whole = len(pressure_kpa) // _RISE_SAMPLES * _RISE_SAMPLES
        return pressure_kpa[:whole].reshape(-1, _RISE_SAMPLES).mean(axis=1)

    def _note_caution(self, caution: Caution, acknowledged_at: str) -> None:
        self.note("caution", code=caution.code, text=caution.text, acknowledged_at=acknowledged_at)

    # ---- going on ----

    def _wait_is_over(self) -> bool:
        prompt = self.prompt
        if isinstance(prompt, Sweeping):
            return len(self.live.sweeps) > prompt.done
        if not isinstance(prompt, Wait):
            return False
        now_s = self._recorder.device_time_s
        if now_s is None:
            return False
        if self._wait_from_s is None:
            self._wait_from_s = now_s
        return now_s - self._wait_from_s >= prompt.seconds or bool(prompt.until and prompt.until())

    def _go_on(self, answer: str | None) -> None:
        try:
            self.prompt = self._script.send(answer)
            self._wait_from_s = self._recorder.device_time_s
        except StopIteration:
            self.done.add(self.stage)
            self.prompt = Finished("Done.")
        except RunStopped:
            self.stop()
