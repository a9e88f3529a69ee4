"""The exercise under way: taken by its number, measured as any run is, answered once, then revealed."""

from __future__ import annotations

from dataclasses import dataclass

from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile
from rodtrue.model.result import Result
from rodtrue.page.choice import Choice, VirtualUnit
from rodtrue.run.training import EXAMPLES, Exercise
from rodtrue.run.training_score import Answer, Reveal
from rodtrue.run.words import Units

GREATEST_NUMBER = 9999


@dataclass(frozen=True)
class ExerciseWanted:
    """profile: an example's name, None for any. speed: seconds of device time in one second."""

    number: int
    profile: str | None
    with_faults: bool
    speed: float


@dataclass(frozen=True)
class ExerciseShown:
    """What shows of an exercise. index_pin: what trying the pin showed. reveal: once it is answered.

    measured: there is a result of the unit as found. faults: what the learner may name, word to sentence.
    """

    number: int
    profile: Profile
    faults: tuple[tuple[str, str], ...]
    has_index_pin: bool
    index_pin: str | None
    measured: bool
    reveal: Reveal | None

    @property
    def awaits_answer(self) -> bool:
        """Whether it has been measured and not been answered yet."""
        return self.measured and self.reveal is None


class Trainer:
    """Holds the exercise under way and keeps it to itself; used by the engine's thread alone."""

    def __init__(self) -> None:
        self._exercise: Exercise | None = None
        self._answered: Result | None = None
        self._tried_pin = False
        self._reveals: dict[Units, Reveal] = {}
        self._pin_words: dict[Units, str | None] = {}

    def take(self, wanted: ExerciseWanted) -> Choice:
        """Take an exercise and return the choice to begin its run with.

        Raises: InputError for a number out of range.
        """
        if not 1 <= wanted.number <= GREATEST_NUMBER:
            raise InputError(f"exercise {wanted.number}: there is none", f"Take one from 1 to {GREATEST_NUMBER}.")
        profiles = EXAMPLES if wanted.profile is None else (wanted.profile,)
        exercise = Exercise(wanted.number, profiles, with_faults=wanted.with_faults)
        self._exercise, self._answered, self._tried_pin = exercise, None, False
        self._reveals, self._pin_words = {}, {}
        hidden = exercise.hidden
        return Choice(
            profile=exercise.profile.name,
            operator="learner",
            unit=f"exercise {wanted.number}, invented unit",
            checklists=False,
            virtual=VirtualUnit(hidden.rod_error_mm, hidden.fault, hidden.seed, wanted.speed, hidden=True),
        )

    def hides(self, choice: Choice) -> bool:
        """Whether results of a run so chosen are kept back: an exercise not answered yet."""
        return choice.virtual.hidden and self._answered is None

    def try_index_pin(self) -> None:
        """Look at the index pin of the exercise's unit."""
        self._taken()
        self._tried_pin = True

    def answer(self, answer: Answer, as_found: Result | None) -> None:
        """Take the answer, after which everything is shown.

        Raises: InputError for an answer that is none, or before the unit has been measured.
        """
        exercise = self._taken()
        if as_found is None:
            raise InputError("the unit has not been measured yet", "Finish the planned sweeps first.")
        exercise.give(answer)
        self._answered = as_found

    def shown(self, choice: Choice, as_found: Result | None, units: Units) -> ExerciseShown | None:
        """Return what shows of the exercise in a run so chosen, None where that is no exercise."""
        exercise = self._exercise
        if exercise is None or not choice.virtual.hidden:
            return None
        return ExerciseShown(
            number=exercise.number,
            profile=exercise.profile,
            faults=tuple(exercise.faults.items()),
            has_index_pin=exercise.has_index_pin,
            index_pin=self._index_pin(exercise, units),
            measured=as_found is not None,
            reveal=self._reveal(exercise, units),
        )

    # Asked many times a second, worked out once.

    def _reveal(self, exercise: Exercise, units: Units) -> Reveal | None:
        if self._answered is not None and units not in self._reveals:
            self._reveals[units] = exercise.reveal(self._answered, units)
        return self._reveals.get(units)

    def _index_pin(self, exercise: Exercise, units: Units) -> str | None:
        if self._tried_pin and units not in self._pin_words:
            self._pin_words[units] = exercise.look_at_index_pin(units)
        return self._pin_words.get(units)

    def _taken(self) -> Exercise:
        if self._exercise is None:
            raise InputError("there is no exercise", "Take one.")
        return self._exercise
