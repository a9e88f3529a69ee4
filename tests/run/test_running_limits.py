"""Moving the throttle itself: the fixture knows the travel limit, and the operator watches the engine's speed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rodtrue.capture.reader import read_capture
from rodtrue.capture.scaling import NOMINAL, Channel
from rodtrue.link.port import Port
from rodtrue.profiles import load_profile, profile_text
from rodtrue.run.guided import GuidedRun, RunSettings
from rodtrue.run.manual_time import manual_client
from rodtrue.run.prompts import Ask, Sweeping
from rodtrue.run.recorder import Recorder
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for
from run.runs import Bench, bench, with_thresholds

NO_LIMIT = 65535


def test_the_limit_is_set_in_the_fixture_before_the_engine_starts_and_cleared_when_it_is_off(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0)
    seen: dict[str, list[int]] = {}

    def note_limit() -> None:
        if isinstance(job.run.prompt, Ask):
            seen.setdefault(job.run.prompt.code, []).append((job.line.travel_limits or [NO_LIMIT])[-1])

    job.play({"adjust": "no"}, each=note_limit)
    assert NO_LIMIT not in seen["idle_speed"] and NO_LIMIT not in seen["tap"]
    assert set(seen["hook_up"]) == {NO_LIMIT} == set(seen["return_ready"])
    assert job.line.travel_limits[-1] == NO_LIMIT, "the engine is off at the end"
    armed = [code for code in job.line.travel_limits if code != NO_LIMIT]
    mm = NOMINAL.travel.values(np.array(armed))
    assert np.ptp(mm) < 0.5 and np.all(np.abs(mm - job.run.zero_mm - 6.0) < 0.3), "6 mm above zero, as it is now"


def test_with_the_hand_slide_no_limit_is_set(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="slide", rod_error_mm=-1.0)
    job.play({"adjust": "no"})
    assert not job.line.travel_limits


def test_the_engines_speed_is_asked_for_by_its_limit_and_recorded(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0, profile=with_thresholds(idle_speed_limit_rpm=950.0))
    prompts = job.play({"adjust": "no"})
    asked = [prompt for prompt in prompts if isinstance(prompt, Ask) and prompt.code == "idle_speed"]
    assert len(asked) == 2, "after each start of the engine"
    assert "950 rpm" in asked[0].text and "tachometer" in asked[0].text and "stop the engine" in asked[0].text
    assert asked[0].in_words, "no press of a button confirms it"
    advice = [prompt.advice for prompt in prompts if isinstance(prompt, Sweeping) and "Never past" in prompt.advice]
    assert advice and all("nor above 950 rpm" in text for text in advice)
    entries = read_capture(tmp_path / "as-found.capture").entries
    assert [entry.fields["limit_rpm"] for entry in entries if entry.name == "idle_speed_limit"] == [950.0, 950.0]


def test_an_engine_that_idles_too_fast_is_asked_about_again_until_the_run_is_stopped(tmp_path: Path) -> None:
    job = bench(tmp_path, drive="throttle", rod_error_mm=-1.0)
    answers = iter(["no", "no", "stop"])
    while not job.run.finished:
        prompt = job.run.prompt
        words = {"idle_speed": next(answers)} if isinstance(prompt, Ask) and prompt.code == "idle_speed" else {}
        _answer_once(job, words)
    assert job.run.stopped and next(answers, None) is None


def _answer_once(job: Bench, words: dict[str, str]) -> None:
    before = job.run.prompt
    job.play(words, until=lambda run: run.prompt is not before)


def test_the_firmwares_own_sounder_warns_at_the_throttle(tmp_path: Path) -> None:
    profile = load_profile()
    plant = Plant(scenario_for(profile, rod_error_mm=-1.0, drive="throttle"), 1)
    with VirtualFixture(plant, pace="manual") as fixture, Port(fixture.port) as port:
        client = manual_client(fixture, port)
        recorder = Recorder(client, client.hello())
        settings = RunSettings(profile, profile_text("example-direct")[0], tmp_path, drive="throttle")
        run = GuidedRun(recorder, settings)
        run.open_capture("as-found")
        for _ in range(50):
            run.update(0.04)
        run.live.zero_mm = run.live.travel_mm
        run.live.running_limit_mm = 6.0
        plant.handle.throttle_mm = 5.5
        for _ in range(60):
            run.update(0.04)
        assert not fixture.sounder_changes
        plant.handle.throttle_mm = 9.0
        for _ in range(60):
            run.update(0.04)
        assert fixture.sounder_changes[0].level
        run.close()


def test_the_end_of_a_capture_tells_how_sampling_kept_its_time(tmp_path: Path) -> None:
    job = bench(tmp_path, rod_error_mm=-1.0)
    job.play({"adjust": "no"})
    entries = read_capture(tmp_path / "as-found.capture").entries
    (end,) = [entry for entry in entries if entry.name == "end"]
    assert end.fields["timing"] == {
        "interval_us": 500, "early_us": 0, "late_us": 12, "jitter_us": 12, "interrupt_us": 180,
    }  # fmt: skip


@pytest.mark.parametrize(
    "channel", [NOMINAL.travel, Channel(0.5, 50.0, 125.0, 8.0), Channel(0.5, 50.0, 125.0, -8.0)], ids=str
)
def test_a_code_found_for_a_value_reads_as_that_value(channel: Channel) -> None:
    for value in (3.0, 17.3, 60.0, 97.0):
        step = abs(channel.values(np.array(2)) - channel.values(np.array(1)))
        assert channel.values(np.array(channel.code(value))) == pytest.approx(value, abs=float(step))


def test_a_value_beyond_the_sensor_gets_the_code_of_its_end() -> None:
    assert NOMINAL.travel.code(140.0) == round(0.9 * 65536)
    assert NOMINAL.travel.code(-5.0) == round(0.1 * 65536)
    assert Channel(0.5, 50.0, 100.0, -400.0).code(80.0) == round(0.9 * 65536), "the curve turns before it"
