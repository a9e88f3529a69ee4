"""The trainer in a real browser: taken, measured by the virtual hands, answered, revealed, to everybody alike."""

import re

import pytest

from bench.study.page_driver import page_process
from page.audit import faint_parts, faint_texts, unnamed_controls, walk_by_tab
from page.real_page import chromium
from rodtrue.model.units import mm_to_inch
from rodtrue.run.training import Exercise
from rodtrue.run.training_score import state_of

pytestmark = pytest.mark.slow
DIRECT = "example-direct"
PATIENCE_MS = 180_000
ASKED = "What is wrong with this unit?"


def number_of(fault, state):
    """Return an exercise with this fault and state of a direct rod, and its rod error."""
    for number in range(1, 2000):
        exercise = Exercise(number, (DIRECT,))
        truth = exercise.new_plant().truth
        if truth.fault == fault and state_of(exercise.profile, truth.rod_error_mm) == state:
            return number, truth.rod_error_mm
    raise AssertionError(f"no exercise with {fault} and {state}")


@pytest.fixture
def bench(tmp_path):
    """A page, and a way to open a browser's tab on it."""
    with page_process(tmp_path / "out", "--port", "virtual") as page, chromium() as browser:

        def tab(**how):
            opened = browser.new_context(**how).new_page()
            opened.set_default_timeout(PATIENCE_MS)
            opened.goto(page.address)
            opened.get_by_role("region", name="Trainer").wait_for()
            return opened

        yield page, tab


def take(tab, number):
    trainer = tab.get_by_role("region", name="Trainer")
    trainer.get_by_label("Exercise number").fill(str(number))
    trainer.get_by_label("Layout").select_option(DIRECT)
    trainer.get_by_label("Time passes").select_option("12")
    tab.get_by_role("button", name="Begin the exercise").click()


def measure(tab):
    """Have everything up to the answer done by the virtual hands."""
    tab.get_by_label("Whose hands").select_option("autopilot")
    tab.get_by_role("heading", name=ASKED).wait_for()


def test_a_learner_measures_answers_and_sees_truth_answer_and_data(bench):
    page, tab = bench
    number, rod_error_mm = number_of("low-supply", "short")
    learner, onlooker = tab(), tab()
    take(learner, number)
    onlooker.get_by_role("heading", name=f"Exercise {number}").wait_for()
    measure(learner)

    before = learner.content()
    assert f"{rod_error_mm:.2f}" not in before
    assert "SHORT" not in learner.locator("body").inner_text()
    assert learner.get_by_role("heading", name="Verdict").count() == 0
    assert learner.request.get(f"{page.address}job/job.json").status == 404

    learner.get_by_role("button", name="Answer, and see the truth").click()
    learner.get_by_text("The answer is not complete.").wait_for()
    learner.get_by_role("radio", name="Short pressure").check()
    learner.get_by_label("Fault").select_option("low-supply")
    learner.get_by_role("radio", name="Lengthen the rod").check()
    learner.get_by_label("By how much, in inches").fill(f"{mm_to_inch(-rod_error_mm):.3f}")
    learner.get_by_role("button", name="Answer, and see the truth").click()

    for screen in (learner, onlooker):
        trainer = screen.get_by_role("region", name="Trainer")
        trainer.get_by_role("heading", name="Truth").wait_for()
        told = trainer.inner_text()
        assert "4 of 4 points" in told
        assert f"{rod_error_mm:+.2f} mm" in told
        assert "too little pressure" in told
        screen.get_by_role("heading", name="Verdict").wait_for()
    assert learner.request.get(f"{page.address}job/job.json").ok


def test_an_exercise_that_does_not_exist_is_refused_in_words(bench):
    _, tab = bench
    learner = tab()
    take(learner, 0)
    learner.get_by_text(re.compile("Exercise 0: there is none. Take one from 1")).wait_for()


@pytest.mark.parametrize(("width", "scheme"), [(360, "dark"), (1024, "light")])
def test_the_trainer_can_be_read_and_worked_by_everyone(bench, width, scheme):
    _, tab = bench
    learner = tab(viewport={"width": width, "height": 900}, color_scheme=scheme)
    number, _ = number_of(None, "long")
    assert audited(learner) == []
    take(learner, number)
    measure(learner)
    assert audited(learner) == []
    learner.get_by_role("radio", name="Long pressure").check()
    learner.get_by_role("radio", name="Shorten the rod").check()
    learner.get_by_role("button", name="Answer, and see the truth").click()
    learner.get_by_role("heading", name="Truth").wait_for()
    assert audited(learner, walk=False) == []


def audited(tab, walk=True):
    """Return all that is wrong with what shows; walk: by keyboard too, where the page stands still."""
    wrong = [*faint_texts(tab), *faint_parts(tab), *unnamed_controls(tab)]
    if not tab.evaluate("document.documentElement.scrollWidth <= innerWidth"):
        wrong.append("the page is wider than the screen")
    if walk:
        way = walk_by_tab(tab)
        wrong += [f"not reached: {what}" for what in way.unreached]
        wrong += [f"place not seen: {what}" for what in way.unseen]
    return wrong
