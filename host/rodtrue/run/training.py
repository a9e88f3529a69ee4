"""The trainer: a virtual unit whose rod error and fault stay hidden until the learner has answered.

A front end takes an `Exercise` by its number, lets the learner measure on `new_plant()` without showing verdict or
findings, hands over the `Answer` and then shows `reveal`. The same number is always the same exercise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from random import Random

from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile
from rodtrue.model.result import Result
from rodtrue.profiles import load_profile
from rodtrue.run.training_score import Answer, Hidden, Reveal, score
from rodtrue.run.words import Units, length
from rodtrue.virtual.faults import FAULTS, LAYOUTS_WITH_INTERMEDIATE_ROD, WRONG_INTERMEDIATE_ROD
from rodtrue.virtual.plant import Plant

EXAMPLES = ("example-direct", "example-one-bell-crank", "example-two-bell-cranks")
"""The shipped profiles an exercise may be about, one a layout."""

SHARE_WITH_FAULT = 0.5
_DRAWS = 20


class Exercise:
    """One hidden unit, one answer.

    number: draws the unit. profile: of its layout, known to the learner. faults: those the layout can have, word
    to sentence. answer: what the learner said, None until then.
    """

    def __init__(self, number: int, profiles: Sequence[str] = EXAMPLES, *, with_faults: bool = True) -> None:
        """Raises: InputError for a profile that does not exist or whose layout has no virtual unit."""
        self.number = number
        self.answer: Answer | None = None
        self._random = Random(f"exercise {number}")
        self.profile: Profile = load_profile(self._random.choice(list(profiles)))
        self.faults = {word: said for word, said in FAULTS.items() if _can_have(self.profile, word)}
        self._hidden = self._draw(with_faults)
        self._looked_at_index_pin = False

    def new_plant(self) -> Plant:
        """Return the unit as found, for a virtual fixture to stand on."""
        return self._hidden.plant()

    @property
    def hidden(self) -> Hidden:
        """What the unit is made of, for the fixture to stand on; nothing that shows may read it."""
        return self._hidden

    @property
    def has_index_pin(self) -> bool:
        """Whether the layout has an intermediate rod, and so an index pin to set it by."""
        return self.profile.layout in LAYOUTS_WITH_INTERMEDIATE_ROD

    def look_at_index_pin(self, first: Units = "inch") -> str | None:
        """Return what trying the index pin shows; None where the layout has no intermediate rod.

        No measurement can tell a wrong intermediate rod from a wrong upper rod: the gauge can.
        """
        if not self.has_index_pin:
            return None
        self._looked_at_index_pin = True
        error_mm = self.new_plant().truth.intermediate_error_mm
        if error_mm == 0.0:
            return "The index pin goes through the upper bell crank: the intermediate rod is set right."
        way = "long" if error_mm > 0.0 else "short"
        off = length(abs(error_mm), False, first)
        return f"The index pin does not go through: the intermediate rod is {off} too {way}."

    def give(self, answer: Answer) -> None:
        """Take the learner's answer, once.

        Raises: InputError for a second one, a fault the layout cannot have, an amount that is none, or turns of an
        adjuster that has no thread.
        """
        if self.answer is not None:
            raise InputError(f"exercise {self.number}: answered already", "Take another exercise.")
        if answer.fault is not None and answer.fault not in self.faults:
            raise InputError(f"fault {answer.fault}: not of this exercise", "Name: " + ", ".join(self.faults) + ".")
        for amount in (answer.amount_mm, answer.turns):
            if amount is not None and not (math.isfinite(amount) and amount >= 0.0):
                raise InputError(f"amount {amount:g}: not a length or a number of turns", "Give 0 or more.")
        if answer.amount_mm is not None and answer.turns is not None:
            raise InputError("amount: given twice, as a length and in turns", "Give one of them.")
        if answer.turns is not None and self.profile.adjuster.pitch_mm is None:
            raise InputError("amount: in turns, but this rod has a slip joint", "Give the length it is to slide.")
        self.answer = answer

    def reveal(self, as_found: Result, first: Units = "inch") -> Reveal:
        """Return truth, answer, what the data said, and the score.

        as_found: the result of the learner's own run on this unit. first: the unit system that comes first.
        Raises: InputError before there is an answer, or for a result of something else.
        """
        if self.answer is None:
            raise InputError(f"exercise {self.number}: not answered yet", "Answer first; then the truth is shown.")
        if as_found.fixture.kind == "board" or as_found.profile != self.profile.name:
            raise InputError(
                f"result: of profile {as_found.profile}, not of this exercise",
                "Measure the exercise's own unit on the virtual fixture.",
            )
        return score(self._hidden, self.answer, as_found, gauge_used=self._looked_at_index_pin, first=first)

    def _draw(self, with_faults: bool) -> Hidden:
        """Return a unit that goes together; some geometries cannot have every error."""
        for _ in range(_DRAWS):
            rod_error_mm = _draw_rod_error_mm(self._random, self.profile)
            fault = None
            if self._random.random() < SHARE_WITH_FAULT and with_faults:
                fault = self._random.choice(list(self.faults))
            hidden = Hidden(self.profile, self.number, rod_error_mm, fault)
            try:
                hidden.plant()
            except InputError:
                continue
            return hidden
        raise InputError(f"exercise {self.number}: no unit of {self.profile.name} goes together", "Take another one.")


def _draw_rod_error_mm(random: Random, profile: Profile) -> float:
    """Return a rod error: exact, within the tolerance, or out of it either way, mostly by a few millimetres."""
    short_mm, long_mm = profile.limits.rod_short_mm, profile.limits.rod_long_mm
    kind = random.choice(("exact", "within", "short", "short", "short", "long", "long"))
    drawn_mm = {
        "exact": 0.0,
        "within": random.uniform(-0.5 * short_mm, 0.5 * long_mm),
        "short": -(short_mm + random.uniform(0.4, 9.0)),
        "long": long_mm + random.uniform(0.4, 4.0),
    }
    return round(drawn_mm[kind], 2)


def _can_have(profile: Profile, fault: str) -> bool:
    return fault != WRONG_INTERMEDIATE_ROD or profile.layout in LAYOUTS_WITH_INTERMEDIATE_ROD
