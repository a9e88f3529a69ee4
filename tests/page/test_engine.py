"""The engine without a page: one run for all, at its own rhythm, and no run lost to a full disk without a word."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import replace
from functools import partial
from pathlib import Path
from threading import Event

import pytest

from rodtrue.capture.reader import read_capture
from rodtrue.model.errors import InputError
from rodtrue.page.choice import Choice, VirtualUnit
from rodtrue.page.engine import Engine
from rodtrue.page.feed import Cursor
from rodtrue.page.fixture import BenchFixture
from rodtrue.page.scene import scene_of
from rodtrue.run.guided import GuidedRun
from rodtrue.run.prompts import DONE, YES, Checklist, Sweeping, Wait

PATIENCE_S = 60.0
QUICK = Choice(virtual=VirtualUnit(speed=12.0), checklists=False)


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    made = Engine(tmp_path / "out")
    made.start()
    yield made
    made.stop()


def wait(until: Callable[[], bool]) -> None:
    ends = time.monotonic() + PATIENCE_S
    while not until():
        assert time.monotonic() < ends
        time.sleep(0.02)


def number(engine: Engine) -> int:
    return engine.shown.run.number if engine.shown.run else 0


@pytest.mark.parametrize("trouble", [OSError(errno.ENOSPC, "No space left on device"), ValueError("No space left")])
def test_a_run_that_cannot_begin_for_whatever_reason_says_why(
    engine: Engine, monkeypatch: pytest.MonkeyPatch, trouble: Exception
) -> None:
    def full(*_: object) -> None:
        raise trouble

    monkeypatch.setattr("rodtrue.page.engine.OpenRun", full)
    with pytest.raises(InputError, match=r"the run cannot begin: .*No space left"):
        engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    assert engine.shown.phase == "choose"
    assert "Make room on the disk" in engine.shown.trouble.next_step
    monkeypatch.undo()
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    assert engine.shown.phase == "run"


def test_a_second_run_is_refused_while_one_is_under_way(engine: Engine) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    with pytest.raises(InputError, match="under way"):
        engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)


def test_what_is_on_the_bench_decides_what_is_measured_and_counts_on_a_bench_alone(engine: Engine) -> None:
    assert replace(QUICK, body_alone=True).measured_from == "curb_idle"
    alone = replace(QUICK, drive="bench", body_alone=True)
    engine.ask(lambda: engine.begin(alone)).result(PATIENCE_S)
    wait(lambda: engine.shown.run is not None)
    assert engine.shown.run is not None
    assert "no_rod" in engine.shown.run.stages and "unhook" not in engine.shown.run.stages
    assert "zone" not in scene_of(engine.shown)


def test_an_answer_to_an_older_question_is_dropped(engine: Engine) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: number(engine) > 0)
    first = number(engine)
    for _ in range(2):
        engine.ask(lambda: engine.answer(first, YES)).result(PATIENCE_S)
        wait(lambda: number(engine) > first)
    time.sleep(0.2)
    assert number(engine) == first + 1


def test_a_press_made_twice_before_the_engine_looks_answers_one_question(engine: Engine, tmp_path: Path) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: number(engine) > 0)
    first, looks = number(engine), Event()
    engine.ask(lambda: looks.wait(PATIENCE_S))
    presses = [engine.ask(partial(engine.answer, first, YES)) for _ in range(2)]
    looks.set()
    for press in presses:
        press.result(PATIENCE_S)
    engine.ask(engine.end).result(PATIENCE_S)
    (capture,) = tmp_path.glob("out/*/as-found.capture")
    assert [entry.name for entry in read_capture(capture).entries].count("caution") == 1


def test_what_nobody_waits_for_any_more_is_done_all_the_same_and_the_engine_lives_on(engine: Engine) -> None:
    looks = Event()
    engine.ask(lambda: looks.wait(PATIENCE_S))
    left = engine.ask(lambda: engine.set_units("metric"))
    left.cancel()  # as the server does at its end with what its browsers have asked for
    looks.set()
    engine.ask(lambda: None).result(PATIENCE_S)
    assert engine.shown.units == "metric"


def test_cautions_are_left_to_the_computer_itself(engine: Engine) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: number(engine) > 0)
    with pytest.raises(InputError, match="own computer"):
        engine.ask(lambda: engine.answer(number(engine), YES, from_here=False)).result(PATIENCE_S)
    assert number(engine) == 1


def test_what_safety_hangs_on_is_taken_from_the_fixtures_own_computer_alone(engine: Engine) -> None:
    """Every question up to the sweeps, each first answered from afar, also those for hands at the linkage."""
    engine.ask(lambda: engine.begin(replace(QUICK, checklists=True))).result(PATIENCE_S)
    refused: set[str] = set()

    def go_on() -> bool:
        run = engine.shown.run
        if run is None or isinstance(run.prompt, Wait | Sweeping):
            return run is not None and run.stage == "rest"
        prompt, at = run.prompt, run.number
        if isinstance(prompt, Checklist):
            for item in prompt.items:
                word = item.words[0] if item.words else "side port"
                assert _refuses(engine.ask(partial(engine.tick, at, item.code, word, from_here=False)))
                engine.ask(partial(engine.tick, at, item.code, word)).result(PATIENCE_S)
        word = DONE if isinstance(prompt, Checklist) else getattr(prompt, "choices", (YES,))[0]
        if _refuses(engine.ask(partial(engine.answer, at, word, from_here=False))):
            refused.add(getattr(prompt, "code", "caution"))
            engine.ask(partial(engine.answer, at, word)).result(PATIENCE_S)
        wait(lambda: number(engine) > at)
        return False

    wait(go_on)
    assert refused == {
        *("caution", "power_off", "fitting", "rod_unhooked", "power_on", "preconditions"),
        *("sense_ready", "return_ready", "zero_ready", "tap", "response_ready", "hook_up"),
    }


def test_nobody_afar_has_cautions_and_questions_answered_by_the_autopilot(engine: Engine) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: number(engine) > 0)
    assert _refuses(engine.ask(partial(engine.set_hands, "autopilot", from_here=False)))
    assert not _refuses(engine.ask(partial(engine.set_hands, "mine", from_here=False)))
    assert number(engine) == 1


def _refuses(answered: Future[None]) -> bool:
    try:
        answered.result(PATIENCE_S)
    except InputError as error:
        assert "own computer" in error.message
        return True
    return False


def test_one_who_comes_late_gets_every_point_and_each_only_once(engine: Engine) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    engine.ask(lambda: engine.set_hands("autopilot")).result(PATIENCE_S)
    early, late = Cursor(), Cursor()
    seen: list[float] = []
    wait(lambda: engine.shown.run is not None and engine.shown.run.stage == "sweeps")
    for _ in range(40):
        message = engine.feed.since(early)
        seen = seen[: 2 * message["from"]] if early.series == message["series"] else []
        seen += message["xy"]
        time.sleep(0.02)
    everything: list[float] = []
    while message := engine.feed.since(late):
        if not message["xy"]:
            break
        everything += message["xy"]
        if len(everything) >= len(seen):
            break
    assert len(seen) > 20
    assert everything[: len(seen)] == seen


def test_a_folder_that_cannot_be_written_is_said_and_nothing_begins(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file where a folder should be")
    engine = Engine(tmp_path / "out")
    engine.start()
    try:
        with pytest.raises(InputError, match="cannot be written"):
            engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
        assert engine.shown.phase == "choose"
        assert engine.shown.trouble is not None
    finally:
        engine.stop()


def test_a_job_that_cannot_be_written_ends_the_run_in_words_and_keeps_the_capture(
    engine: Engine, tmp_path: Path
) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: engine.shown.run is not None)
    folder = engine.shown.run.folder  # type: ignore[union-attr]
    (folder / "job.json").mkdir()
    engine.ask(lambda: engine.set_hands("autopilot")).result(PATIENCE_S)
    wait(lambda: engine.shown.phase == "choose")
    assert "job.json" in engine.shown.trouble.message  # type: ignore[union-attr]
    assert (folder / "as-found.capture").stat().st_size > 10_000
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    assert engine.shown.phase == "run"


def test_a_run_ended_by_an_unforeseen_error_is_said_to_be_over_and_another_can_begin(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: number(engine) > 0)
    with monkeypatch.context() as broken:
        broken.setattr(GuidedRun, "update", _divide_by_nought)
        broken.setattr(GuidedRun, "tick", _divide_by_nought)
        wait(lambda: engine.shown.phase == "choose")
    assert engine.shown.trouble is not None
    assert "the run cannot go on" in engine.shown.trouble.message
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: number(engine) > 0)


def test_a_disk_that_fails_as_the_page_ends_is_said_in_a_line_and_the_fixture_is_let_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    engine = Engine(tmp_path / "out")
    engine.start()
    engine.ask(lambda: engine.begin(QUICK)).result(PATIENCE_S)
    wait(lambda: number(engine) > 0)
    let_go, close = Event(), BenchFixture.close

    def closes(fixture: BenchFixture) -> None:
        close(fixture)
        let_go.set()

    monkeypatch.setattr(BenchFixture, "close", closes)
    monkeypatch.setattr(os, "fsync", _is_full)
    engine.stop()
    assert let_go.is_set()
    assert "as-found.capture: cannot be written" in caplog.text


def _is_full(_file: int) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def _divide_by_nought(*_words: object, **_named: object) -> None:
    raise ZeroDivisionError("made to fail")
