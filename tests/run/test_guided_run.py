"""The guided run: its order, what it records, what it refuses, what it says at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from pytest_mock import MockerFixture

from rodtrue.capture.reader import Capture, read_capture
from rodtrue.judging import judge_capture, sha256_of
from rodtrue.model.conditions import Plan
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.model.result import Result, Settle
from rodtrue.model.samples import BASELINE, RESPONSE, STEPS, SWEEP, ZERO
from rodtrue.run.cautions import cautions_for
from rodtrue.run.guided import GuidedRun
from rodtrue.run.live import REPEAT_S
from rodtrue.run.prompts import Acknowledge, Ask, Finished, Prompt, Sweeping, safety_hangs_on
from run.runs import answer, bench, with_thresholds


def _asked(prompts: list[Prompt]) -> list[str]:
    return [prompt.code for prompt in prompts if isinstance(prompt, Ask)]


def _at(question: str) -> Callable[[GuidedRun], bool]:
    return lambda run: isinstance(run.prompt, Ask) and run.prompt.code == question


def test_a_whole_job_finds_the_error_corrects_it_and_measures_again(tmp_path: Path) -> None:
    job = bench(tmp_path, rod_error_mm=-2.5)
    job.play()
    found, left = job.run.results["as-found"], job.run.results["as-left"]
    assert found.verdict == "short"
    assert found.rod_error is not None and found.rod_error.interval_mm is not None
    assert found.rod_error.interval_mm[0] <= -2.5 <= found.rod_error.interval_mm[1]
    assert found.correction is not None and found.correction.direction == "lengthen"
    assert left.verdict in ("correct", "undecided")
    assert abs(job.plant.rod_error_mm) < 0.5


def test_the_steps_come_in_order_and_rods_are_touched_with_the_engine_off(tmp_path: Path) -> None:
    job = bench(tmp_path)
    questions = _asked(job.play())
    assert questions == [
        *["power_off", "return_ready", "rod_unhooked", "power_on", "zero_ready", *["tap"] * 4, "response_ready"],
        *["hook_up", "power_off", "adjust", "adjusted"],
        *["rod_unhooked", "power_on", "zero_ready", *["tap"] * 4, "response_ready", "hook_up", "power_off"],
    ]


def test_on_the_throttle_itself_hooking_up_is_done_engine_off_and_full_return_shown_first(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0)
    questions = _asked(job.play({"adjust": "no"}))
    at = questions.index("response_ready")
    assert questions[at + 1 : at + 5] == ["power_off", "hook_up", "return_ready", "power_on"]


def test_on_the_throttle_the_sweeps_stay_within_the_running_limit(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0)
    job.play({"adjust": "no"})
    samples = read_capture(tmp_path / "as-found.capture").samples()
    zero_mm = samples.travel_mm[samples.step == ZERO].mean()
    assert samples.travel_mm[samples.step == SWEEP].max() - zero_mm < 6.0
    assert "running_limit" not in [notice.code for notice in job.run.live.notices]


def test_past_the_running_limit_it_says_stop_and_names_the_hand_slide(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle")
    job.play(until=lambda run: isinstance(run.prompt, Sweeping) and run.stage == "sweeps")
    job.plant.handle.throttle_mm = 9.0
    for _ in range(30):
        job.run.update(0.04)
    (notice,) = [notice for notice in job.run.live.notices if notice.code == "running_limit"]
    assert notice.severity == "stop"
    assert "hand slide" in notice.text
    job.run.close()


def test_every_caution_is_acknowledged_one_by_one_and_recorded(tmp_path: Path) -> None:
    job = bench(tmp_path)
    prompts = job.play({"adjust": "no"})
    shown = [prompt.caution.code for prompt in prompts if isinstance(prompt, Acknowledge)]
    expected = [caution.code for when in ("before", "after") for caution in cautions_for(when, "slide")]
    assert shown == expected
    recorded = read_capture(tmp_path / "as-found.capture").cautions
    assert [caution["code"] for caution in recorded] == expected
    assert [caution["code"] for caution in job.run.results["as-found"].cautions] == expected


def test_a_caution_takes_no_other_answer_than_yes(tmp_path: Path) -> None:
    job = bench(tmp_path)
    with pytest.raises(InputError, match="no answer to this"):
        job.run.answer("no")
    assert isinstance(job.run.prompt, Acknowledge)
    job.run.close()


def test_the_capture_repeats_the_verdict_when_judged_again(tmp_path: Path) -> None:
    job = bench(tmp_path, rod_error_mm=3.0)
    job.play({"adjust": "no"})
    assert judge_capture(read_capture(tmp_path / "as-found.capture")) == job.run.results["as-found"]


def test_the_capture_holds_identity_profile_plan_answers_and_steps(tmp_path: Path) -> None:
    job = bench(tmp_path, operator="A. B.", unit="unit 7")
    job.play({"adjust": "no"})
    capture = read_capture(tmp_path / "as-found.capture")
    assert capture.fixture().kind == "virtual"
    assert capture.profile is not None and capture.profile[0] == "example-direct"
    conditions = capture.conditions()
    assert (conditions.drive, conditions.rod_unhooked) == ("slide", True)
    assert conditions.plan is not None and conditions.plan.looks in (1, 2)
    assert capture.last("conditions")["operator"] == "A. B."
    samples = capture.samples()
    seconds = {step: float((samples.step == step).sum()) / 500 for step in (ZERO, BASELINE, RESPONSE, SWEEP)}
    assert seconds[ZERO] >= 1.4
    assert seconds[BASELINE] >= 4.0
    assert seconds[RESPONSE] > 0.5
    assert seconds[SWEEP] > 20.0


@pytest.mark.parametrize(("word", "recorded"), [("no", False), ("unknown", None)])
def test_a_rod_not_proven_off_its_pin_is_recorded_and_said(tmp_path: Path, word: str, recorded: bool | None) -> None:
    job = bench(tmp_path, rod_error_mm=3.0)
    job.play({"rod_unhooked": word, "unhook_again": "go on", "adjust": "no"})
    assert read_capture(tmp_path / "as-found.capture").conditions().rod_unhooked is recorded
    assert "baseline_not_proven" in [notice.code for notice in job.run.live.notices]
    result = job.run.results["as-found"]
    assert result.verdict not in ("correct", "long")
    assert "baseline_not_proven" in [finding.code for finding in result.findings]


@pytest.mark.parametrize(("possible", "sweeps"), [(True, 12), (False, 6)])
def test_an_undecided_run_is_extended_once_where_more_sweeps_can_decide_it(
    tmp_path: Path, mocker: MockerFixture, possible: bool, sweeps: int
) -> None:
    def undecided(capture: Capture) -> Result:
        settle = Settle(possible=possible, sweeps=4, limiting_row="some row")
        return replace(judge_capture(capture), verdict="undecided", settle=settle)

    mocker.patch("rodtrue.run.under_way.judge_capture", undecided)
    job = bench(tmp_path)
    prompts = job.play({"adjust": "no"})
    counted = [prompt.done for prompt in prompts if isinstance(prompt, Sweeping) and prompt.target > 3]
    assert counted == list(range(sweeps))
    capture = read_capture(tmp_path / "as-found.capture")
    looks = [entry.fields for entry in capture.entries if entry.name == "look"]
    assert looks == [{"number": 1 + k, "sweeps": 6 * (1 + k)} for k in range(sweeps // 6)]
    assert capture.conditions().plan == Plan(6, 12, looks=sweeps // 6)


def test_correct_rods_are_not_offered_an_adjustment(tmp_path: Path) -> None:
    job = bench(tmp_path, rod_error_mm=0.2, seed=2)
    questions = _asked(job.play())
    assert job.run.results["as-found"].verdict == "correct"
    assert "adjust" not in questions
    assert "as-left" not in job.run.results


def test_the_as_left_run_begins_with_the_adjustment(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play({"adjusted": "slid 2.4 mm longer"})
    capture = read_capture(tmp_path / "as-left.capture")
    noted = capture.last("adjusted")
    assert noted["moved"] == "slid 2.4 mm longer"
    assert STEPS[capture.samples().step[0]] == "adjusted"
    assert {"engine_off_rods", "vehicle_secured"} <= {caution["code"] for caution in capture.cautions}


def test_rods_are_not_turned_before_the_engine_is_said_to_be_off_and_that_is_asked_once(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=lambda run: bool(run.results))
    said: list[str] = []
    while not _at("adjusted")(job.run):
        prompt = job.run.prompt
        if _at("power_off")(job.run) and not said:
            job.run.answer("no")
            assert _at("power_off")(job.run)
        said.append(prompt.caution.code if isinstance(prompt, Acknowledge) else getattr(prompt, "code", ""))
        answer(job.run, {})
    assert said == ["power_off", "adjust", "engine_off_rods"]
    assert isinstance(job.run.prompt, Ask) and "stays off" in job.run.prompt.text
    job.run.close()


def test_each_stop_of_the_engine_says_what_it_is_for(tmp_path: Path) -> None:
    job = bench(tmp_path)
    prompts = job.play()
    texts = [prompt.text for prompt in prompts if isinstance(prompt, Ask) and prompt.code == "power_off"]
    assert len(texts) == len(set(texts)) == 3
    assert all(text.startswith("Stop the engine: ") and text.endswith("Is it off?") for text in texts)


def test_the_foot_switch_answers_a_question_but_never_one_on_which_safety_hangs(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("power_on"))
    job.line.press_foot_switch()
    job.run.update(0.04)
    assert _at("power_on")(job.run)
    job.play(until=_at("zero_ready"))
    job.line.press_foot_switch()
    job.run.update(0.04)
    assert not _at("zero_ready")(job.run)
    job.run.close()
    marks = [entry for entry in read_capture(tmp_path / "as-found.capture").entries if entry.name == "mark"]
    assert [mark.fields["question"] for mark in marks] == ["zero_ready"]


def test_what_was_done_at_the_rods_is_told_from_there_and_the_wish_to_adjust_from_anywhere(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("adjust"))
    assert not safety_hangs_on(job.run.prompt, "yes")
    job.play(until=_at("adjusted"))
    assert safety_hangs_on(job.run.prompt, "slid 2.4 mm longer")
    job.run.close()


def test_a_pin_that_does_not_come_back_keeps_the_engine_off(tmp_path: Path) -> None:
    job = bench(tmp_path, fault="binding")
    job.play({"return_failed": "stop"})
    assert job.run.stopped
    assert job.run.results == {}
    check = read_capture(tmp_path / "as-found.capture").last("return_check")
    assert check["passed"] is False
    assert check["spread_mm"] > 0.2


@pytest.mark.parametrize("seed", range(1, 5))
def test_a_pin_that_sticks_already_where_its_sense_was_shown_keeps_the_engine_off(tmp_path: Path, seed: int) -> None:
    job = bench(tmp_path, fault="binding", seed=seed, checklists=True)
    job.play(until=lambda run: run.stage == "unhook" or _at("return_failed")(run))
    assert _at("return_failed")(job.run)
    assert isinstance(job.run.prompt, Ask) and "do not start the engine" in job.run.prompt.text
    job.run.close()


def test_a_pin_that_comes_back_to_one_wrong_place_is_not_cleared_by_asking_again(tmp_path: Path) -> None:
    job = bench(tmp_path, fault="binding")
    job.play(until=_at("return_failed"))
    job.run.answer("again")
    job.play(until=_at("return_failed"))
    job.run.answer("remounted")
    job.play(until=lambda run: run.stage != "return" or _at("return_failed")(run))
    job.run.close()
    checks = [e.fields for e in read_capture(tmp_path / "as-found.capture").entries if e.name == "return_check"]
    assert [check["passed"] for check in checks[:2]] == [False, False]
    assert len(checks[1]["rests_mm"]) == 8
    assert len(checks[2]["rests_mm"]) == 4


def test_only_a_virtual_unit_may_go_on_without_a_proven_return(tmp_path: Path) -> None:
    job = bench(tmp_path, fault="binding")
    job.play(until=_at("return_failed"))
    assert isinstance(job.run.prompt, Ask) and "go on" in job.run.prompt.choices
    job.run.close()
    real = bench(tmp_path / "real", fault="binding")
    real.recorder.identity["kind"] = "board"
    real.play(until=_at("return_failed"))
    assert isinstance(real.run.prompt, Ask) and "go on" not in real.run.prompt.choices
    real.run.close()


def test_a_valve_that_does_not_answer_is_asked_again(tmp_path: Path) -> None:
    job = bench(tmp_path, fault="stuck-lever")
    questions = _asked(job.play({"no_response": "stop"}))
    assert questions[-1] == "no_response"
    assert read_capture(tmp_path / "as-found.capture").last("response")["shown"] is False


def test_an_unplugged_sensor_is_said_at_once(tmp_path: Path) -> None:
    job = bench(tmp_path, fault="unplugged-sensor")
    job.play(until=_at("power_off"))
    assert "pressure_sensor_rail" in [notice.code for notice in job.run.live.notices]
    job.run.close()


def test_over_pressure_is_said_at_once_and_loudly(tmp_path: Path) -> None:
    job = bench(tmp_path, profile=with_thresholds(pressure_limit_kpa=300.0))
    job.play(until=lambda run: bool(run.live.sweeps) and run.stage == "sweeps")
    try:
        notices = [notice for notice in job.run.live.notices if notice.code == "pressure_over_limit"]
        # Said when it begins, when it comes back and while it goes on, not with every sample.
        breaches = 2 * (len(job.run.live.sweeps) + 1)
        assert 2 <= len(notices) <= breaches + job.line.now_s / REPEAT_S
        assert {notice.severity for notice in notices} == {"stop"}
    finally:
        job.run.close()
    entries = [e.fields["code"] for e in read_capture(tmp_path / "as-found.capture").entries if e.name == "notice"]
    assert entries.count("pressure_over_limit") == len(notices), "a breach stands in the capture"


def test_lost_samples_are_said_and_stay_a_gap(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.line.lose_blocks = {100, 101}
    job.play(until=_at("power_on"))
    job.run.close()
    assert "samples_lost" in [notice.code for notice in job.run.live.notices]
    (gap,) = read_capture(tmp_path / "as-found.capture").gaps
    assert gap.missing == 40


def test_a_fixture_that_goes_away_leaves_what_was_captured(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=lambda run: run.stage == "sweeps" and len(run.live.sweeps) == 2)
    job.line.gone = True
    with pytest.raises(FixtureError, match="went away"):
        job.run.update(0.04)
    job.run.close()
    capture = read_capture(tmp_path / "as-found.capture")
    assert capture.damages == []
    assert capture.last("fixture_lost")["error"] == "port plant: the fixture went away"
    assert len(capture.samples()) > 5000


def test_silence_in_the_middle_of_a_capture_is_said(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("power_on"))
    job.line.lose_blocks = set(range(100_000))
    with pytest.raises(FixtureError, match="sent no samples for 3 s"):
        for _ in range(200):
            job.run.update(0.04)
    job.run.close()


def test_stopping_keeps_the_capture_and_gives_no_result(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play({"power_on": "stop"})
    assert job.run.stopped
    assert job.run.results == {}
    assert read_capture(tmp_path / "as-found.capture").last("answer") == {"question": "power_on", "answer": "stop"}


def test_the_sweeps_can_be_ended_early_once_there_are_enough_to_judge(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=lambda run: isinstance(run.prompt, Sweeping) and run.stage == "sweeps" and run.prompt.done == 2)
    with pytest.raises(InputError, match="too few to judge, 3 are the least") as refused:
        job.run.answer("finish")
    assert "Do 1 more" in refused.value.next_step
    job.play(until=lambda run: isinstance(run.prompt, Sweeping) and run.prompt.done == 3)
    job.run.answer("finish")
    job.play({"adjust": "no"})
    assert job.run.results["as-found"].verdict == "short"
    assert len(job.run.live.sweeps) == 3


def test_a_run_ended_early_counts_no_stage_as_done_that_was_not_gone_through(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("tap"))
    job.run.stop()
    assert job.run.done == {"cautions", "return", "unhook", "power", "zero"}
    stopped = read_capture(tmp_path / "as-found.capture").last("stopped")
    assert stopped == {"stage": "baseline", "question": "tap"}


def test_the_as_left_run_goes_through_the_measuring_stages_anew(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=lambda run: run.label == "as-left" and run.stage == "zero")
    assert job.run.done == {"cautions", "return", "adjust", "unhook", "power"}
    job.play()
    assert job.run.done == set(job.run.stages)


def test_a_correct_rod_leaves_adjusting_undone(tmp_path: Path) -> None:
    job = bench(tmp_path, rod_error_mm=0.2, seed=2)
    job.play()
    assert set(job.run.stages) - job.run.done == {"adjust"}


def test_the_ramp_is_hinted_at_in_the_sweeps_alone(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0)
    hinted: set[str] = set()
    job.play({"adjust": "no"}, each=lambda: hinted.add(job.run.stage) if job.run.indicates else None)
    assert hinted == {"sweeps"}


def test_the_sweeps_are_not_collected_beside_the_capture_however_many_there_are(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=lambda run: run.stage == "rest" and len(run.collected()[0]) > 0)
    job.play(until=lambda run: len(run.live.sweeps) == 2)
    assert job.run.stage == "sweeps"
    assert len(job.run.collected()[0]) == 0
    job.run.close()


def test_a_run_that_broke_off_does_not_go_on_as_done(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job = bench(tmp_path)
    job.play(until=_at("zero_ready"))

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(job.run, "begin_collecting", full)
    for again in (partial(answer, job.run, {}), job.run.update):
        with pytest.raises(OSError, match="No space left"):
            again()
    assert not job.run.finished
    job.run.close()


def test_nothing_can_be_answered_while_the_run_records(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("zero_ready"))
    answer(job.run, {})
    with pytest.raises(InputError, match="nothing is asked"):
        job.run.answer("yes")
    job.run.close()


def test_a_rod_that_holds_the_throttle_shows_before_the_engine_is_started(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0)
    started = []

    def hold() -> None:
        """From the rest check on the pin stands 3 mm off its stop."""
        if job.run.stage == "rest":
            job.plant.handle.throttle_mm = 3.0
            started.append(getattr(job.run.prompt, "code", "") == "power_on")

    job.play(until=_at("rest_failed"), each=hold)
    assert started and not any(started), "nobody was asked to start the engine"
    assert "rod_holds_throttle" in [notice.code for notice in job.run.live.notices]
    job.run.close()


def test_full_return_is_shown_with_the_rod_off_before_the_throttles_engine_is_started(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0)
    asked: list[str] = []

    def note() -> None:
        code = getattr(job.run.prompt, "code", "")
        if code and (not asked or asked[-1] != code):
            asked.append(code)

    job.play(until=_at("zero_ready"), each=note)
    job.run.close()
    start = asked.index("power_on")
    unhooked = asked.index("rod_unhooked")
    assert "return_ready" in asked[unhooked:start]


def test_stopping_early_says_how_to_leave_it_safe(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("power_on"))
    job.run.answer("stop")
    assert job.run.finished and isinstance(job.run.prompt, Finished)
    assert "Stop the engine and relieve the pressure" in job.run.prompt.text
    assert "Holding spring" in job.run.prompt.text


def test_a_rod_left_on_its_pin_is_asked_about_again(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("rod_unhooked"))
    job.play({"rod_unhooked": "no"}, until=_at("unhook_again"))
    prompt = job.run.prompt
    assert isinstance(prompt, Ask) and prompt.choices[0] == "yes", "the safe way is the first"
    assert not any("`" in notice.text for notice in job.run.live.notices)
    job.play(until=_at("power_on"))
    job.run.close()
    noted = [
        e.fields["answer"] for e in read_capture(tmp_path / "as-found.capture").entries if e.name == "rod_unhooked"
    ]
    assert noted == [True]


def test_a_job_closed_early_names_the_hash_of_the_finished_file(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("adjust"))
    job.run.close()
    result = job.run.results["as-found"]
    assert result.capture.sha256 == sha256_of(tmp_path / "as-found.capture")


def test_a_rod_left_as_found_is_said_to_be_so(tmp_path: Path) -> None:
    job = bench(tmp_path, rod_error_mm=-2.5)
    job.play({"adjust": "no"})
    assert "The rod is left as it was found: short." in [notice.text for notice in job.run.live.notices]


def test_what_stands_in_the_way_is_mended_before_a_rod_is_turned(tmp_path: Path) -> None:
    job = bench(tmp_path, rod_error_mm=3.0, fault="baseline-connected")
    questions = _asked(job.play({"rod_unhooked": "no", "unhook_again": "go on"}))
    assert job.run.results["as-found"].verdict == "undecided"
    assert len(job.run.live.sweeps) == 6, "no extension for what sweeps cannot mend"
    assert "adjust" not in questions


def test_a_pin_still_moving_is_no_resting_place_and_accuses_nothing_of_binding(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.play(until=_at("return_ready"))
    job.plant.handle.follow(job.plant.hand.sweep(6.0, 6.0))
    for _ in range(40):
        job.run.update(0.04)
    answer(job.run, {})
    hand, job.hand.follow = job.hand.follow, lambda run: None  # type: ignore[method-assign]
    job.play(until=_at("return_failed"))
    assert "not shown" in job.run.prompt.text  # type: ignore[union-attr]
    for _ in range(400):
        job.run.update(0.04)
    job.hand.follow = hand  # type: ignore[method-assign]
    job.play({"return_failed": "again"}, until=_at("rod_unhooked"))
    entries = read_capture(tmp_path / "as-found.capture").entries
    assert [entry.fields["passed"] for entry in entries if entry.name == "return_check"] == [False, True]
    job.run.close()
