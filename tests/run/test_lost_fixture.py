"""The cable pulled in the middle: nothing recorded is lost, and the run goes on when the fixture is back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import rodtrue_protocol as wire
from rodtrue.capture.reader import read_capture
from rodtrue.link.client import Client
from rodtrue.model.errors import FixtureError
from rodtrue.run.guided import GuidedRun
from rodtrue.run.prompts import Acknowledge, Ask, Sweeping, Wait
from rodtrue.run.recorder import Recorder
from run.plant_line import PlantLine
from run.runs import Bench, answer, bench


def _sweeping(done: int) -> Callable[[GuidedRun], bool]:
    return lambda run: isinstance(run.prompt, Sweeping) and run.stage == "sweeps" and run.prompt.done == done


def _at(question: str) -> Callable[[GuidedRun], bool]:
    return lambda run: isinstance(run.prompt, Ask) and run.prompt.code == question


def _pull(job: Bench) -> None:
    job.line.gone = True
    with pytest.raises(FixtureError) as lost:
        job.run.update(0.04)
    job.run.lose_fixture(lost.value)
    job.run.update(0.04)  # nothing more comes, and nothing is raised twice


def _plug_in(job: Bench) -> None:
    """The same unit behind a line of its own: a board that has lost its power begins anew."""
    job.line = line = PlantLine(job.plant)
    client = Client(line, clock=line.clock, wait=line.wait)
    job.run.resume(Recorder(client, client.hello()))


def _standing(job: Bench) -> list[str]:
    return [notice.code for notice in job.run.live.standing]


def test_pulled_in_a_sweep_it_is_said_loudly_and_the_capture_keeps_what_there_was(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_sweeping(2))
    _pull(job)
    (notice,) = [notice for notice in job.run.live.standing if notice.code == "fixture_lost"]
    assert notice.severity == "stop"
    assert "plug" in notice.text
    _plug_in(job)
    kept = read_capture(tmp_path / "as-found.capture")
    assert len(kept.samples().time_s) > 1000
    assert "fixture_lost" in [entry.name for entry in kept.entries]
    job.run.close()


def test_plugged_in_again_the_run_measures_from_the_start_with_the_engine_off_and_ends_well(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_sweeping(3))
    _pull(job)
    _plug_in(job)
    assert "fixture_lost" not in _standing(job)
    assert isinstance(job.run.prompt, Ask) and job.run.prompt.code == "power_off"
    job.play({"adjust": "no"})
    assert job.run.captures["as-found"] == tmp_path / "as-found-2.capture"
    result = job.run.results["as-found"]
    assert result.verdict == "short"
    assert result.cautions, "what was acknowledged before the cable came out still stands"


def test_in_the_as_left_run_too_and_what_was_adjusted_stays_noted(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=lambda run: run.label == "as-left" and _sweeping(1)(run))
    _pull(job)
    _plug_in(job)
    job.play()
    assert job.run.results["as-left"].verdict == "correct"
    assert "adjusted" in [entry.name for entry in read_capture(job.run.captures["as-left"]).entries]


def test_unplugged_after_measuring_nothing_is_alarming_and_the_job_is_finished_without_it(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play({"adjust": "no"}, until=lambda run: run.stage == "finish")
    _pull(job)
    assert "fixture_lost" not in _standing(job)
    while isinstance(job.run.prompt, Acknowledge):
        answer(job.run, {})
    assert job.run.finished
    assert job.run.results["as-found"].verdict == "short"
    closing = [each["code"] for each in job.run.results["as-found"].cautions]
    assert "port_plugged" in closing


def test_unplugged_for_adjusting_the_as_left_run_waits_for_it(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("adjusted"))
    _pull(job)
    job.hand.follow(job.run)
    answer(job.run, {})
    with pytest.raises(FixtureError) as lost:
        job.run.update(0.04)
    job.run.lose_fixture(lost.value)
    _plug_in(job)
    job.play()
    assert job.run.results["as-left"].verdict == "correct"


def test_plugged_in_again_before_it_is_needed_it_is_not_lost_once_more_and_answers(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("adjust"))
    _pull(job)
    _plug_in(job)
    job.run.update(0.04)
    job.line.press_foot_switch()
    job.run.update(0.04)
    assert isinstance(job.run.prompt, Acknowledge), "the fixture that is back is listened to"
    job.play()
    assert job.run.results["as-left"].verdict == "correct"
    assert job.run.captures["as-left"] == tmp_path / "as-left.capture"
    assert "stop" not in [notice.severity for notice in job.run.live.notices]


def test_plugged_in_again_at_the_cautions_the_as_found_run_is_taken_from_it(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.run.update(0.04)
    _pull(job)
    assert _standing(job) == ["fixture_unplugged"]
    _plug_in(job)
    job.play({"adjust": "no"})
    assert job.run.results["as-found"].verdict == "short"
    assert job.run.results["as-found"].cautions
    assert job.run.captures["as-found"] == tmp_path / "as-found-2.capture"


def test_a_run_that_waits_for_its_fixture_says_so(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("adjust"))
    _pull(job)
    answer(job.run, {})
    while not isinstance(job.run.prompt, Wait):
        answer(job.run, {"adjusted": "slid"})
    assert job.run.prompt.code == "fixture_back"
    _plug_in(job)
    assert job.run.prompt.code == "power_off"  # type: ignore[union-attr]
    job.run.close()


def test_a_dead_sensor_stands_as_long_as_it_lasts(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("rod_unhooked"))
    job.plant.handle.fault = "unplugged-sensor"
    for _ in range(10):
        job.run.update(0.04)
    assert "pressure_sensor_rail" in _standing(job)
    job.plant.handle.fault = None
    for _ in range(20):
        job.run.update(0.04)
    assert "pressure_sensor_rail" not in _standing(job)
    assert "pressure_sensor_rail" in [notice.code for notice in job.run.live.notices]
    job.run.close()


def test_samples_that_begin_anew_end_the_capture_with_the_reason(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_sweeping(1))
    job.line._index = 0  # another program sent `start`: the fixture's clock runs on, its samples begin at 0
    job.line.begun_us = 30_000_000
    with pytest.raises(FixtureError, match="begun anew in the middle of a capture"):
        for _ in range(5):
            job.run.update(0.04)
    job.run.close()
    assert read_capture(job.run.captures["as-found"]).stream.left_out_blocks > 0


def _begin_anew(job: Bench) -> None:
    job.line._index, job.line.begun_us = 0, 30_000_000
    job.line.wait(0.04)


def _fall_silent(job: Bench) -> None:
    job.line.lose_blocks = set(range(10**6))
    for _ in range(70):
        job.run.update(0.04)
    for _ in range(10):
        job.line.wait(0.04)


@pytest.mark.parametrize(("happens", "told"), [(_begin_anew, "begun anew"), (_fall_silent, "no samples for 3 s")])
def test_an_alarm_that_comes_with_the_end_of_the_samples_is_shown_and_kept(
    tmp_path: Path, happens: Callable[[Bench], None], told: str
) -> None:
    job = bench(tmp_path)
    job.play(until=_sweeping(1))
    happens(job)
    job.line.send(wire.Mark(1, wire.MarkSource.OVER_PRESSURE, 0))
    with pytest.raises(FixtureError, match=told):
        for _ in range(2):
            job.run.update(0.04)
    assert "pressure_over_limit" in _standing(job)
    job.run.close()
    noted = [entry.fields for entry in read_capture(job.run.captures["as-found"]).entries if entry.name == "notice"]
    assert "pressure_over_limit" in [notice["code"] for notice in noted]


def test_a_fixture_that_answers_but_sends_no_samples_is_not_waited_for(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_sweeping(1))
    job.line.lose_blocks = set(range(10**6))
    with pytest.raises(FixtureError, match="no samples for 3 s"):
        for number in range(200):
            if number % 2:
                job.line.press_foot_switch()
            job.run.update(0.04)
    job.run.close()
