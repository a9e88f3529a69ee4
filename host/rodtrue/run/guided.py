"""A guided job as a state machine: what it waits for, what to show, and nothing printed.

A front end shows `prompt` and `stage`, calls `answer` when the person has answered, and `update` all
the time. The order of things is `rodtrue.run.script`.
"""

from __future__ import annotations

from rodtrue.model.counted import counted
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.run.cautions import leave_safe
from rodtrue.run.prompts import DONE, FINISH, YES, Acknowledge, Ask, Checklist, Finished, Prompt, Sweeping, Wait
from rodtrue.run.recorder import Recorder
from rodtrue.run.safety import RunStopped
from rodtrue.run.script import FixtureBack, whole_job
from rodtrue.run.settings import RunSettings as RunSettings
from rodtrue.run.under_way import RunUnderWay


class GuidedRun(RunUnderWay):
    """One job, driven from prompt to prompt.

    recorder: the fixture, greeted.

    prompt: what the job waits for now. presses: of button and foot switch so far. stopped: the job was ended
    before it was done.
    """

    def __init__(self, recorder: Recorder, settings: RunSettings) -> None:
        super().__init__(recorder, settings)
        self.presses = 0
        self.stopped = False
        self._noted_notices = 0
        self._wait_from_s: float | None = None
        self._broken: Exception | None = None
        self._script = whole_job(self)
        self.prompt: Prompt = next(self._script)

    @property
    def finished(self) -> bool:
        """Whether the job is over."""
        return isinstance(self.prompt, Finished)

    @property
    def indicates(self) -> bool:
        """Whether what the live signal reads of the ramp is worth showing: in the sweeps alone, never before."""
        return self.stage == "sweeps"

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
                    f"{counted(prompt.done, 'sweep')} done: too few to judge, {prompt.finish_from} are the least",
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
            self.live.say("fixture_unplugged", "note", "The fixture is unplugged; what is asked now needs none.")

    def resume(self, recorder: Recorder) -> None:
        """Go on with a fixture that has come back, greeted anew: measure again from the beginning, if at all.

        Where nothing is measured now its samples are for the next capture; the open one is still written to.
        """
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
        there is nothing to take in. What broke the run off, a full disk perhaps, at this and every later call.
        """
        if self._broken is not None:
            raise self._broken
        if self._lost_at_start is not None:
            raise self._lost_at_start
        if self.fixture_lost:
            return
        self._next_recorder.limit_travel(self._running_limit_travel_mm())
        received = self._next_recorder.poll(wait_s)
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

    def _running_limit_travel_mm(self) -> float | None:
        """Return where the fixture's own sounder must warn, from the sensor's origin; None where no limit holds."""
        limit_mm, zero_mm = self.live.running_limit_mm, self.live.zero_mm
        return None if limit_mm is None or zero_mm is None else zero_mm + limit_mm

    def _refuse_open_items(self, checklist: Checklist) -> None:
        still_open = [item.text for item in checklist.items if not self.ticked.get(item.code)]
        if still_open:
            raise InputError(f"{len(still_open)} still open: {still_open[0]}", "See to each and tick it.")

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
        except Exception as error:  # the script is over then: going on would take a run that broke off for done
            self._broken = error
            raise
