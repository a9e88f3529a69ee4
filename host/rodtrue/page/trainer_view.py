"""The trainer on the page: an exercise to take; while it is measured, what may be tried; then truth and score.

The answer itself is asked for where the run asks, in `draw_answer`.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import randint

from msgspec import convert

from rodtrue.model.errors import InputError
from rodtrue.model.units import MM_PER_INCH
from rodtrue.page.choice import REAL_SPEED
from rodtrue.page.elements import box, choice, key, pick, say, text_field
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import Shown
from rodtrue.page.trainer import GREATEST_NUMBER, ExerciseShown, ExerciseWanted
from rodtrue.run.training import EXAMPLES
from rodtrue.run.training_score import Answer, Direction, Part, Reveal, Word
from rodtrue.run.words import Units

ANY, NO_FAULT = "any", "none"
WITH, WITHOUT = "with", "without"
_LAYOUT_WORDS = {ANY: "any layout"} | {name: name.removeprefix("example-").replace("-", " ") for name in EXAMPLES}
_FAULT_WORDS = {WITH: "perhaps one beside the rod", WITHOUT: "none: only the rod"}
_SPEEDS = {"1": "as on the clock", "4": "4 times as fast", "12": "12 times as fast"}
_SIGNS = {1.0: "✓", 0.5: "½", 0.0: "✕", None: "–"}
_WORTH = {1.0: "one point", 0.5: "half a point", 0.0: "no point", None: "not counted"}


@dataclass
class _Wanted:
    """What one browser has filled in of the exercise to take."""

    number: str
    profile: str = ANY
    faults: str = WITH
    speed: str = f"{REAL_SPEED:g}"

    def made(self) -> ExerciseWanted:
        """Return it. Raises: InputError where the number is none."""
        try:
            number = int(self.number.strip())
        except ValueError:
            hint = f"Take one from 1 to {GREATEST_NUMBER}."
            raise InputError(f"exercise {self.number.strip()}: not a number", hint) from None
        profile = None if self.profile == ANY else self.profile
        return ExerciseWanted(number, profile, self.faults == WITH, float(self.speed))


@dataclass
class _Draft:
    """What one browser has filled in of the answer."""

    verdict: str = ""
    fault: str = NO_FAULT
    direction: str = ""
    amount: str = ""


def _seen(shown: Shown) -> object:
    return shown.phase, None if shown.run is None else shown.run.exercise


def _draw(screen: Screen, shown: Shown) -> None:
    exercise = None if shown.run is None else shown.run.exercise
    if shown.phase == "choose":
        _draw_offer(screen)
    elif exercise is not None:
        say(f"Exercise {exercise.number}", "rt-part-name", "h2")
        if exercise.reveal is not None:
            _draw_reveal(exercise.reveal)
        else:
            say("What the program makes of the unit stays hidden until you have answered.", "rt-soft")
            _draw_index_pin(screen, exercise)


TRAINER = View(_seen, _draw)


def _draw_offer(screen: Screen) -> None:
    wanted = _Wanted(str(randint(1, GREATEST_NUMBER)))
    say("Trainer", "rt-part-name", "h2")
    say(
        "An invented unit on the virtual fixture: its rod error is hidden, and perhaps a fault. Measure it, say what "
        "is wrong and what to turn, then see the truth. The same number is the same exercise.",
        "rt-soft",
    )
    with box("rt-form"):
        text_field("Exercise number", wanted.number, lambda text: setattr(wanted, "number", text), kind="number")
        pick("Layout", _LAYOUT_WORDS, wanted.profile, lambda word: setattr(wanted, "profile", word))
        pick("Other faults", _FAULT_WORDS, wanted.faults, lambda word: setattr(wanted, "faults", word))
        pick("Time passes", _SPEEDS, wanted.speed, lambda word: setattr(wanted, "speed", word))
    with box("rt-answers"):
        key(
            "Begin the exercise",
            lambda: screen.do(lambda: screen.engine.begin_exercise(wanted.made())),
        )


def _draw_index_pin(screen: Screen, exercise: ExerciseShown) -> None:
    if exercise.index_pin is not None:
        say(exercise.index_pin, "rt-more", role="status")
    elif exercise.has_index_pin:
        with box("rt-answers"):
            key("Try the index pin", lambda: screen.do(screen.engine.try_index_pin), "rt-quiet")


def draw_answer(screen: Screen, exercise: ExerciseShown) -> None:
    """Draw the form of the learner's answer; it is this browser's own until it is given."""
    draft = _Draft()
    unit, factor = _amount_unit(exercise, screen.engine.shown.units)
    known = {word: said[0].upper() + said[1:] for word, said in exercise.faults}
    say("Your answer", "rt-stage-name")
    say("What is wrong with this unit?", "rt-asked", "h2", id="rt-asked", tabindex="-1")
    choice(
        "The rod, as found, is",
        [
            ("long", "Long", "pressure comes too early"),
            ("short", "Short", "pressure comes too late"),
            ("correct", "Correct", "within its limits"),
            ("cannot be said", "It cannot be said", "these data prove nothing"),
        ],
        draft.verdict,
        lambda word: setattr(draft, "verdict", word),
    )
    pick("Fault", {NO_FAULT: "No other fault"} | known, NO_FAULT, lambda word: setattr(draft, "fault", word))
    choice(
        f"At the {exercise.profile.adjuster.where}",
        [
            ("lengthen", "Lengthen the rod", ""),
            ("shorten", "Shorten the rod", ""),
            ("none", "Turn nothing", "right as it is, or something must be mended first"),
        ],
        draft.direction,
        lambda word: setattr(draft, "direction", word),
    )
    text_field(f"By how much, in {unit}", "", lambda text: setattr(draft, "amount", text))
    with box("rt-answers"):
        key(
            "Answer, and see the truth",
            lambda: screen.do(lambda: screen.engine.answer_exercise(_answer_of(draft, factor))),
            "rt-main-key",
        )


def _draw_reveal(reveal: Reveal) -> None:
    say(f"{reveal.points:g} of {reveal.out_of} points", "rt-trainer-points", role="status")
    with box("rt-trainer-parts", "ul"):
        for part in reveal.parts:
            _draw_part(part)
    with box("rt-trainer-columns"):
        for title, sentences in (("Truth", reveal.truth), ("Your answer", reveal.answer), ("The data", reveal.data)):
            with box("rt-trainer-column"):
                say(title, "rt-trainer-title", "h3")
                with box("rt-trainer-sentences", "ul"):
                    for sentence in sentences:
                        say(sentence, "", "li")


def _draw_part(part: Part) -> None:
    with box("rt-trainer-part", "li"):
        say(_SIGNS[part.points], "rt-trainer-sign", "span", aria_hidden="true")
        say(f"{part.name.capitalize()}, {_WORTH[part.points]}: {part.said}", "", "span")


def _amount_unit(exercise: ExerciseShown, units: Units) -> tuple[str, float | None]:
    """Return the unit an amount is asked for in, and mm in one of it; None for turns of a thread."""
    if exercise.profile.adjuster.pitch_mm is not None:
        return "turns", None
    return ("inches", MM_PER_INCH) if units == "inch" else ("mm", 1.0)


def _answer_of(draft: _Draft, factor: float | None) -> Answer:
    """Return the answer filled in. Raises: InputError where something is missing or no number."""
    if not draft.verdict or not draft.direction:
        raise InputError("the answer is not complete", "Say what the rod is, and what is to be done to it.")
    amount = _number(draft.amount) if draft.amount.strip() and draft.direction != "none" else None
    verdict, direction = convert(draft.verdict, Word), convert(draft.direction, Direction)
    fault = None if draft.fault == NO_FAULT else draft.fault
    if factor is None:
        return Answer(verdict, fault, direction, turns=amount)
    return Answer(verdict, fault, direction, amount_mm=None if amount is None else amount * factor)


def _number(text: str) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise InputError(f"amount {text.strip()}: not a number", "Write it like 2.5.") from None
