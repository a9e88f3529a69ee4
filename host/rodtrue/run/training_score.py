"""How an answer in the trainer is scored: against the truth, and fairly against what the data could say.

A word that is true but that the data did not prove earns half: claiming more than was measured is the mistake the
trainer is there to cure. What left no trace in the data is not counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rodtrue.analysis.correction import correction_for
from rodtrue.analysis.judge import STRADDLES
from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
from rodtrue.model.both_units import in_order
from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile
from rodtrue.model.result import Correction, Result
from rodtrue.run.words import (
    Units,
    advice_sentence,
    correction_sentence,
    error_sentence,
    length,
    verdict_sentence,
)
from rodtrue.virtual import faults
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for

Word = Literal["long", "short", "correct", "cannot be said"]
Direction = Literal["lengthen", "shorten", "none"]
CANNOT_BE_SAID: Word = "cannot be said"
_SILENT = ("undecided", "no result")

_TRACES: dict[str, set[str]] = {
    faults.BINDING: {"linkage_binds", "travel_not_returned", "pressure_not_returned", "friction_high", "idle_moved"},
    faults.STUCK_LEVER: {"lever_stuck", "not_connected"},
    faults.LOOSE_CLAMP: {"start_scatter", "start_jump", "idle_moved"},
    faults.UNPLUGGED_SENSOR: {"sensor_open", "sensor_clipped"},
    faults.LOW_SUPPLY: {"full_pressure_low"},
    faults.AIR: {"pressure_sluggish", "ripple_high"},
    faults.WRONG_INTERMEDIATE_ROD: {"slope_out_of_range"},
    faults.BASELINE_CONNECTED: {"baseline_not_proven", "baseline_implausible"},
}
"""By which findings a fault shows."""

_HOW_TO_FIND: dict[str, str] = {
    faults.WRONG_INTERMEDIATE_ROD: "Only the index pin tells it from a wrong upper rod: try the pin first, always.",
    faults.BASELINE_CONNECTED: (
        "Only a test tells it: with the rod off the pin, move the throttle; the pressure must stay flat."
    ),
}


@dataclass(frozen=True)
class Answer:
    """What the learner says of the unit as found.

    verdict: `cannot be said` where these data prove nothing. fault: a word of the exercise's `faults`, or None.
    direction: what is to be done to the rod; `none` also where something must be mended first. The amount is at
    the adjuster, in mm or in turns of its thread, without a sign.
    """

    verdict: Word
    fault: str | None
    direction: Direction
    amount_mm: float | None = None
    turns: float | None = None

    def amount_at_adjuster_mm(self, profile: Profile) -> float | None:
        """Return the amount as a length, None where none was given or its direction is `none`."""
        if self.direction == "none":
            return None
        if self.turns is not None and profile.adjuster.pitch_mm is not None:
            return self.turns * profile.adjuster.pitch_mm
        return self.amount_mm


@dataclass(frozen=True)
class Hidden:
    """What an exercise keeps to itself: the unit's rod error in mm, positive long, and its fault."""

    profile: Profile
    seed: int
    rod_error_mm: float
    fault: str | None

    def __repr__(self) -> str:
        """Give nothing away."""
        return "Hidden()"

    def plant(self, *, mended: bool = False) -> Plant:
        """Return the unit as found, or with its fault mended. Raises: InputError where it does not go together."""
        fault = None if mended else self.fault
        terms = terms_of_parts(parts_budget())
        scenario = scenario_for(self.profile, rod_error_mm=self.rod_error_mm, fault=fault, terms=terms)
        return Plant(scenario, self.seed)


@dataclass(frozen=True)
class Part:
    """One part of the score. points: 0, a half or 1; None where it is not counted. said: why, in a sentence."""

    name: str
    points: float | None
    said: str


@dataclass(frozen=True)
class Reveal:
    """Truth, answer and data in sentences, and the score part by part."""

    truth: list[str]
    answer: list[str]
    data: list[str]
    parts: list[Part]

    @property
    def points(self) -> float:
        """The points of all counted parts."""
        return sum(part.points for part in self.parts if part.points is not None)

    @property
    def out_of(self) -> int:
        """How many parts count."""
        return sum(part.points is not None for part in self.parts)


def score(hidden: Hidden, answer: Answer, as_found: Result, *, gauge_used: bool, first: Units) -> Reveal:
    """Return the reveal of one answer. gauge_used: the index pin was tried. first: the unit system that leads."""
    error_mm = hidden.plant().rod_error_mm
    amount_mm = answer.amount_at_adjuster_mm(hidden.profile)
    units = [hidden.plant()]
    if answer.fault == hidden.fault == faults.WRONG_INTERMEDIATE_ROD:
        units.append(hidden.plant(mended=True))  # set by its gauge first, what is left is another rod error
    parts = [
        _verdict_part(answer.verdict, state_of(hidden.profile, error_mm), as_found),
        _fault_part(answer.fault, hidden.fault, as_found, gauge_used),
        *_correction_parts(hidden.profile, units, answer.direction, amount_mm, as_found, first),
    ]
    return Reveal(
        truth=_truth(hidden, error_mm, first),
        answer=_answer(answer, amount_mm, first),
        data=_data(as_found, first),
        parts=parts,
    )


def state_of(profile: Profile, rod_error_mm: float) -> str:
    """Return `long`, `short` or `correct` for a true rod error; on a limit is correct."""
    if rod_error_mm < -profile.limits.rod_short_mm:
        return "short"
    return "long" if rod_error_mm > profile.limits.rod_long_mm else "correct"


def may_act(as_found: Result) -> bool:
    """Whether the data give a correction to act on, rather than something to mend first."""
    unproven = as_found.verdict == "undecided" and as_found.reason != STRADDLES
    return as_found.correction is not None and as_found.verdict != "no result" and not unproven


def _needed(profile: Profile, error_mm: float) -> Correction:
    return correction_for(profile, error_mm, needed=state_of(profile, error_mm) != "correct")


def _verdict_part(said: str, true_word: str, as_found: Result) -> Part:
    silent = as_found.verdict in _SILENT
    if said == CANNOT_BE_SAID:
        if silent:
            return Part("verdict", 1.0, "Right: these data prove nothing about the rod's length.")
        return Part("verdict", 0.0, f"The data did say: {as_found.verdict}.")
    if said == true_word:
        if silent:
            return Part("verdict", 0.5, f"The rod is {said}, but these data did not prove it.")
        return Part("verdict", 1.0, f"Right: the rod is {said}.")
    if said == as_found.verdict:
        return Part("verdict", 0.5, f"So said the data, but the rod is {true_word}: an interval can miss.")
    return Part("verdict", 0.0, f"The rod is {true_word}.")


def _fault_part(said: str | None, true_fault: str | None, as_found: Result, gauge_used: bool) -> Part:
    if said == true_fault:
        return Part("fault", 1.0, "Right: nothing else was wrong." if said is None else "Right: that is the fault.")
    if true_fault is None:
        return Part("fault", 0.0, "Nothing else was wrong.")
    is_that = f"The fault: {faults.FAULTS[true_fault]}."
    traced = bool(_TRACES[true_fault] & {finding.code for finding in as_found.findings})
    seen = traced or (gauge_used and true_fault == faults.WRONG_INTERMEDIATE_ROD)
    if said is None and not seen:
        how = _HOW_TO_FIND.get(true_fault, "It left no trace in this run's data.")
        return Part("fault", None, f"{is_that} Not counted. {how}")
    return Part("fault", 0.0, is_that)


def _correction_parts(
    profile: Profile, units: list[Plant], said: Direction, amount_mm: float | None, as_found: Result, first: Units
) -> list[Part]:
    right = {_needed(profile, unit.rod_error_mm).direction for unit in units}
    direction = _direction_part(profile, units, said, amount_mm, right, as_found)
    counts = may_act(as_found) and said in right and said != "none"
    if not counts or as_found.correction is None:
        return [direction]
    if as_found.correction.amount_mm is None:
        return [direction, Part("amount", None, "Not counted: the data gave no amount.")]
    return [direction, _amount_part(profile, units, said, amount_mm, as_found, first)]


def _direction_part(
    profile: Profile,
    units: list[Plant],
    said: Direction,
    amount_mm: float | None,
    right: set[Direction],
    as_found: Result,
) -> Part:
    if not may_act(as_found):
        if said == "none":
            return Part("direction", 1.0, "Right: first mend what stands in the way, measure again, then turn.")
        if said in right:
            return Part("direction", 0.5, "The right way, but nobody turns a rod on data that prove nothing.")
        return Part("direction", 0.0, "Mend what stands in the way first; nobody turns a rod on such data.")
    if said in right:
        return Part("direction", 1.0, "Right: no correction is needed." if said == "none" else f"Right: {said} it.")
    if right == {"none"} and amount_mm is not None:
        left_mm = _left_mm(units[0], said, amount_mm)
        if left_mm is not None and state_of(profile, left_mm) == "correct":
            return Part("direction", 0.5, "No correction was needed; this one does no harm.")
    needed = " or ".join(sorted(right))
    return Part("direction", 0.0, "No correction is needed." if needed == "none" else f"Needed: {needed} it.")


def _amount_part(
    profile: Profile, units: list[Plant], said: Direction, amount_mm: float | None, as_found: Result, first: Units
) -> Part:
    """Score an amount by the rod error it leaves: within the limits or the measurement's own uncertainty is right."""
    if amount_mm is None:
        return Part("amount", 0.0, "No amount was given.")
    before_mm = min(abs(unit.rod_error_mm) for unit in units)
    left = [left_mm for unit in units if (left_mm := _left_mm(unit, said, amount_mm)) is not None]
    if not left:
        return Part("amount", 0.0, "With so much the linkage would not go together.")
    left_mm = min(left, key=abs)
    leaves = f"It leaves the rod off by {length(left_mm, True, first)}"
    uncertainty_mm = as_found.rod_error.expanded_uncertainty_mm if as_found.rod_error else None
    if state_of(profile, left_mm) == "correct":
        return Part("amount", 1.0, f"Right. {leaves}, within the limits.")
    if uncertainty_mm is not None and abs(left_mm) <= uncertainty_mm:
        return Part("amount", 1.0, f"Right. {leaves}, within what this run could tell.")
    if abs(left_mm) < before_mm / 2:
        return Part("amount", 0.5, f"{leaves}: better than before, still out of the limits.")
    return Part("amount", 0.0, f"{leaves}.")


def _left_mm(unit: Plant, direction: str, amount_mm: float) -> float | None:
    """Return the rod error left after a change at the adjuster, None where the linkage does not allow it."""
    turned_from = unit.handle.rod_turns
    try:
        unit.handle.lengthen(amount_mm if direction == "lengthen" else -amount_mm)
        left_mm = unit.rod_error_mm
    except InputError:
        return None
    unit.handle.rod_turns = turned_from
    return left_mm


def _truth(hidden: Hidden, error_mm: float, first: Units) -> list[str]:
    left_mm = hidden.plant(mended=True).rod_error_mm
    needed = correction_sentence(_needed(hidden.profile, left_mm), first)
    state = f"The rod is {state_of(hidden.profile, error_mm)}: its error is {length(error_mm, True, first)}."
    return [
        "The rod is exact." if error_mm == 0.0 else state,
        "Nothing else is wrong." if hidden.fault is None else f"Fault: {faults.FAULTS[hidden.fault]}.",
        f"Once that is mended, {needed[0].lower()}{needed[1:]}" if hidden.fault else needed,
    ]


def _answer(answer: Answer, amount_mm: float | None, first: Units) -> list[str]:
    by = "" if amount_mm is None else f" by {length(amount_mm, False, first)}"
    cannot = answer.verdict == CANNOT_BE_SAID
    return [
        "You said that it cannot be told." if cannot else f"You said: the rod is {answer.verdict}.",
        "You named no fault." if answer.fault is None else f"You named as fault: {faults.FAULTS[answer.fault]}.",
        "You would leave the rod alone." if answer.direction == "none" else f"You would {answer.direction} it{by}.",
    ]


def _data(as_found: Result, first: Units) -> list[str]:
    said = [verdict_sentence(as_found, first)]
    if as_found.rod_error is not None:
        said.append(error_sentence(as_found.rod_error, first))
    advice = advice_sentence(as_found, first)
    return [*said, *([advice] if advice else []), *(in_order(finding.text, first) for finding in as_found.findings)]
