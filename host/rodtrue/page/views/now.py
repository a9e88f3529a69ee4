"""What to do now, in large letters, with large buttons."""

from __future__ import annotations

from nicegui.element import Element

from rodtrue.page.elements import box, drawing, key, say, text_field
from rodtrue.page.labels import label_of
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import RunShown, Shown
from rodtrue.page.trainer_view import draw_answer
from rodtrue.page.views import over, setup
from rodtrue.page.views.adjusting import draw_correction
from rodtrue.page.views.checklist import NOT_FROM_HERE, draw_checklist
from rodtrue.page.views.unit import draw_needed, needed
from rodtrue.run.cautions import cautions_for
from rodtrue.run.prompts import (
    FINISH,
    STOP,
    YES,
    Acknowledge,
    Ask,
    Checklist,
    Prompt,
    Sweeping,
    Wait,
    safety_hangs_on,
)

_CAUTION_SIGN = (
    '<svg viewBox="0 0 40 36" aria-hidden="true" class="rt-caution-sign"><path d="M20 3 37 33H3Z" fill="none" '
    'stroke="currentColor" stroke-width="3" stroke-linejoin="round"/><path d="M20 13v10M20 26.5v3" '
    'stroke="currentColor" stroke-width="3.4" stroke-linecap="round"/></svg>'
)


def _seen(shown: Shown) -> object:
    run = shown.run
    if run is None or shown.phase != "run":
        return shown.phase, id(shown.trouble), shown.units, tuple(shown.files)
    sweeps = run.sweeps if isinstance(run.prompt, Sweeping) else 0
    answering = run.exercise is not None and run.exercise.awaits_answer and shown.units
    return shown.phase, run.number, sweeps, _waits_for_fixture(run), answering, _in_hand(run)


def _in_hand(run: RunShown) -> object:
    """Return what the virtual unit's controls in the step hang on; while the rod is being set, nothing changes."""
    names = needed(run)
    if run.unit is None or "rod" not in names:
        return names
    return names, run.unit.rod_hooked, run.unit.holding_spring


def _draw(screen: Screen, shown: Shown) -> None:
    run = shown.run
    if shown.phase == "run" and run is not None and run.exercise is not None and run.exercise.awaits_answer:
        draw_answer(screen, run.exercise)
    elif shown.phase == "run" and run is not None:
        _draw_prompt(screen, run)
    elif shown.phase == "over" and run is not None:
        over.draw(screen, shown, run)
    elif shown.phase == "opening":
        say("Opening the fixture", "rt-asked", "h2", id="rt-asked", tabindex="-1")
        say("It is greeted and asked who it is; this takes up to five seconds.", "rt-more")
    else:
        setup.draw(screen, shown)


def _draw_prompt(screen: Screen, run: RunShown) -> None:
    prompt = run.prompt
    say(run.stages[run.stage], "rt-stage-name")
    if _waits_for_fixture(run):
        say("Plug the fixture in again", "rt-asked", "h2", id="rt-asked", tabindex="-1")
        say("The run goes on by itself as soon as the fixture answers.", "rt-more")
        return
    with box("rt-asked-box"):
        if isinstance(prompt, Acknowledge):
            drawing(_CAUTION_SIGN, "rt-caution-box")
        say(_text(prompt), "rt-asked", "h2", id="rt-asked", tabindex="-1", data_number=str(run.number))
    if isinstance(prompt, Acknowledge):
        _draw_caution(screen, run, prompt)
    elif isinstance(prompt, Checklist):
        draw_checklist(screen, run, prompt)
    elif isinstance(prompt, Sweeping):
        _draw_sweeps(screen, run, prompt)
        draw_needed(screen, run)
    elif isinstance(prompt, Ask):
        if run.stage == "adjust" and run.choice.measured_from == "curb_idle":
            draw_correction(screen, run)
        draw_needed(screen, run)
        _draw_answers(screen, run, prompt)
    elif isinstance(prompt, Wait):
        say("● Recording", "rt-recording")
        draw_needed(screen, run)


def _waits_for_fixture(run: RunShown) -> bool:
    return any(notice.code == "fixture_lost" for notice in run.alarms)


def _text(prompt: Prompt) -> str:
    if isinstance(prompt, Acknowledge):
        return prompt.caution.text
    if isinstance(prompt, Sweeping):
        return prompt.advice
    return prompt.text


def _draw_caution(screen: Screen, run: RunShown, prompt: Acknowledge) -> None:
    when = prompt.caution.when
    these = [caution.code for caution in cautions_for(when, run.choice.drive, run.choice.measured_from)]
    say(f"Caution {these.index(prompt.caution.code) + 1} of {len(these)}", "rt-more")
    if not screen.may("acknowledge_cautions"):
        say(NOT_FROM_HERE, "rt-more")
        return
    with box("rt-answers"):
        _answer_key(screen, run, "Understood", YES, "rt-main-key", enter=run.kind == "virtual")


def _draw_sweeps(screen: Screen, run: RunShown, prompt: Sweeping) -> None:
    with box("rt-count"):
        say(f"{prompt.done} of {prompt.target}", "rt-count-number")
        marks = "●" * prompt.done + "○" * max(0, prompt.target - prompt.done)
        say(marks, "rt-count-marks", aria_hidden="true")
        say("openings done" if run.stage == "return" else "sweeps done", "rt-more")


def _draw_answers(screen: Screen, run: RunShown, ask: Ask) -> None:
    """Draw a key for each answer; the run is ended by its own key, which stands under every step."""
    enter = run.kind == "virtual" or not ask.in_words
    here = screen.may("answer_safety_questions")
    if here and not ask.choices:
        _draw_free_text(screen, run, ask, enter=enter)
        return
    words = [word for word in ask.choices if word != STOP and (here or not safety_hangs_on(ask, word))]
    if not words:
        say(NOT_FROM_HERE, "rt-more")
        return
    with box("rt-answers"):
        for word in words:
            first = word == ask.choices[0]
            _answer_key(
                screen, run, label_of(ask.code, word), word, "rt-main-key" if first else "", enter=enter and first
            )
    if ask.in_words and run.kind != "virtual":
        say("Safety hangs on this answer: it is given here, not by the foot switch.", "rt-more")


def _draw_free_text(screen: Screen, run: RunShown, ask: Ask, *, enter: bool) -> None:
    typed = [ask.default]
    with box("rt-answers rt-answers-text"):
        text_field("What was done", ask.default, lambda text: typed.__setitem__(0, text))

        def tell() -> object:
            return screen.answer(run.number, typed[0].strip() or ask.default)

        _pressed_by_enter(key("Done, go on", tell, "rt-main-key"), enter)


def _answer_key(screen: Screen, run: RunShown, text: str, word: str, classes: str, *, enter: bool = False) -> None:
    _pressed_by_enter(key(text, lambda: screen.answer(run.number, word), classes), enter)


def _pressed_by_enter(button: Element, enter: bool) -> None:
    """Have Enter press a key from wherever the reader is; beside a real unit no answer that safety hangs on."""
    if enter:
        button.props["data-enter"] = ""


def _help_seen(shown: Shown) -> object:
    run = shown.run
    return shown.phase, run is not None and run.unit is not None and run.unit.hands == "mine"


def _draw_help(screen: Screen, shown: Shown) -> None:
    """Offer to have a step done where the hands at a virtual unit are the viewer's own; and the way out."""
    if shown.phase != "run":
        return
    if _help_seen(shown) == ("run", True):
        key("Do this step for me", lambda: screen.do(screen.engine.do_step), "rt-quiet")
    with box("rt-details", "details"):
        say("End this run before it is done", "", "summary")
        say("What was recorded is kept; the page then says how to leave it safe.", "rt-soft")
        key("End it now", lambda: screen.do(screen.engine.stop_run), "rt-quiet")


def _planned(shown: Shown) -> int | None:
    """Return how many sweeps are planned where there are enough to judge already, else None."""
    run = shown.run
    prompt = run.prompt if run is not None and shown.phase == "run" else None
    if run is None or not isinstance(prompt, Sweeping) or run.stage != "sweeps" or not prompt.may_finish:
        return None
    return prompt.target


def _draw_enough(screen: Screen, shown: Shown) -> None:
    """Offer to end the sweeps early, once there are enough to judge; under the pace, not under the hand."""
    planned = _planned(shown)
    if planned is None:
        return

    def judge_now() -> None:
        # Each sweep counted is another prompt: the one that is shown as the engine comes to it is answered.
        run = screen.engine.shown.run
        if run is not None and _planned(screen.engine.shown) == planned:
            screen.engine.answer(run.number, FINISH)

    key(label_of("sweeps", FINISH), lambda: screen.do(judge_now), "rt-quiet")
    say(f"{planned} are planned; fewer make it less certain.", "rt-soft")


NOW = View(_seen, _draw)
ENOUGH = View(_planned, _draw_enough)
HELP = View(_help_seen, _draw_help)
