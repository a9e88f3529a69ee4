"""What a guided run waits for. A terminal or a page shows it; the run itself prints nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rodtrue.run.cautions import Caution

YES, NO, UNKNOWN, DONE, AGAIN, REMOUNTED, GO_ON, STOP, FINISH = (
    "yes",
    "no",
    "unknown",
    "done",
    "again",
    "remounted",
    "go on",
    "stop",
    "finish",
)


@dataclass(frozen=True)
class Ask:
    """A question.

    choices: the words that answer it, the first being what Enter or the foot switch means; empty for a
    free text, where `default` is what they mean. in_words: engine, supply, pressure or what was done at the rods
    is told by the answer, so beside a real unit neither Enter nor the foot switch is one; it must be given in words.
    """

    code: str
    text: str
    choices: tuple[str, ...] = (DONE,)
    default: str = ""
    in_words: bool = False


@dataclass(frozen=True)
class CheckItem:
    """One line of a checklist. words: what answers it; empty for a free text."""

    code: str
    text: str
    words: tuple[str, ...] = (YES,)


@dataclass(frozen=True)
class Checklist:
    """Things to see to before the run goes on: each ticked with `tick`, then `done`."""

    code: str
    text: str
    items: tuple[CheckItem, ...]


@dataclass(frozen=True)
class Acknowledge:
    """A caution, to be acknowledged with `yes`; there is no other answer."""

    caution: Caution


@dataclass(frozen=True)
class Wait:
    """Nothing to answer: the run records.

    seconds: of device time, at most. until: ends the wait early once it returns true.
    """

    code: str
    text: str
    seconds: float
    until: Callable[[], bool] | None = None


@dataclass(frozen=True)
class Sweeping:
    """The operator moves the pin; the run counts. `finish` ends it before `target` sweeps are done.

    finish_from: so many must be done before that, or there is nothing to judge.
    """

    done: int
    target: int
    advice: str
    finish_from: int = 0

    @property
    def may_finish(self) -> bool:
        """Whether `finish` is an answer by now."""
        return self.done >= self.finish_from


@dataclass(frozen=True)
class Finished:
    """The run is over."""

    text: str


Prompt = Ask | Checklist | Acknowledge | Wait | Sweeping | Finished


def safety_hangs_on(prompt: Prompt, word: str) -> bool:
    """Whether this answer takes somebody who stands beside the unit: nobody gives it from afar.

    That something was done at linkage or lever, in a word or a free text, is told by whose hands did it.
    """
    if isinstance(prompt, Ask):
        return prompt.in_words or not prompt.choices or word in (DONE, REMOUNTED, GO_ON)
    return isinstance(prompt, Acknowledge | Checklist)
