"""A valve body alone on a bench: its lever moved from its own stop, no rod anywhere, the body judged."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rodtrue.capture.reader import read_capture
from rodtrue.judging import judge_capture
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.model.samples import BASELINE, SWEEP, ZERO
from rodtrue.profiles import load_profile, profile_text
from rodtrue.run.autopilot import Autopilot
from rodtrue.run.cautions import all_cautions, cautions_for, leave_safe
from rodtrue.run.guided import RunSettings
from rodtrue.run.prompts import Acknowledge, Ask, Checklist, Prompt, Sweeping, Wait
from rodtrue.virtual.scenario import body_scenario
from run.runs import Bench, bench

WIDE = profile_text("example-direct")[0].replace("baseline_kpa = [5.0, 60.0]", "baseline_kpa = [nan, 100.0]")
"""The baseline's limits so far off that a fixture without calibration can tell: the body conforms."""

STUBBORN = dict.fromkeys(("no_response", "rest_failed", "return_failed"), "go on") | {"repair": "no"}


def body(folder: Path, **more: Any) -> Bench:
    return bench(folder, drive="bench", reference="lever_stop", **more)


def asked(prompts: list[Prompt]) -> list[str]:
    return [prompt.code for prompt in prompts if isinstance(prompt, Ask)]


def said(prompts: list[Prompt]) -> str:
    """Return all that the run shows for people."""
    texts = [prompt.text for prompt in prompts if isinstance(prompt, Ask | Checklist | Wait)]
    texts += [item.text for prompt in prompts if isinstance(prompt, Checklist) for item in prompt.items]
    return " ".join(texts + [prompt.caution.text for prompt in prompts if isinstance(prompt, Acknowledge)])


def test_a_conforming_body_is_said_so_and_the_rod_has_no_result(tmp_path: Path) -> None:
    job = body(tmp_path, text=WIDE)
    prompts = job.play()
    found = job.run.results["as-found"]
    assert (found.body_verdict, found.verdict) == ("conforming", "no result")
    assert found.reason == "no curb-idle reference"
    assert (found.reference, found.drive, found.rod_unhooked) == ("lever_stop", "bench", True)
    assert found.rod_error is None and found.correction is None
    assert "repair" not in asked(prompts), "nothing is wrong with it"


def test_the_steps_know_no_rod_and_no_pin(tmp_path: Path) -> None:
    job = body(tmp_path, text=WIDE, checklists=True)
    prompts = job.play()
    assert asked(prompts) == [
        *["power_off", "sense_ready", "return_ready", "no_rod", "power_on", "zero_ready", *["tap"] * 4],
        *["response_ready", "power_off"],
    ]
    words = said(prompts)
    for not_there in ("pin", "unhook", "hook up", "engine off", "Engine off", "Road test", "holding spring"):
        assert f" {not_there}" not in words, not_there
    assert list(job.run.stages) == [
        *["cautions", "prepare", "return", "no_rod", "power", "zero", "baseline", "response", "rest", "sweeps"],
        *["adjust", "finish"],
    ]
    assert job.run.done == set(job.run.stages) - {"adjust"}


def test_that_no_rod_is_fitted_is_asked_in_words_and_what_is_no_body_alone_goes_no_further(tmp_path: Path) -> None:
    job = body(tmp_path)
    job.play(until=lambda run: isinstance(run.prompt, Ask) and run.prompt.code == "no_rod")
    assert isinstance(job.run.prompt, Ask) and job.run.prompt.in_words
    job.run.answer("no")
    assert isinstance(job.run.prompt, Ask) and job.run.prompt.code == "no_rod"
    job.run.answer("stop")
    assert job.run.stopped
    assert read_capture(tmp_path / "as-found.capture").conditions().rod_unhooked is None


def test_the_capture_judged_again_says_the_same(tmp_path: Path) -> None:
    job = body(tmp_path)
    job.play()
    assert judge_capture(read_capture(tmp_path / "as-found.capture")) == job.run.results["as-found"]


def test_the_sensor_sits_on_the_lever_so_taps_move_it_and_zero_is_the_levers_stop(tmp_path: Path) -> None:
    job = body(tmp_path)
    job.play()
    samples = read_capture(tmp_path / "as-found.capture").samples()
    zero_mm = samples.travel_mm[samples.step == ZERO].mean()
    assert samples.travel_mm[samples.step == BASELINE].max() - zero_mm > 2.0
    assert samples.travel_mm[samples.step == SWEEP].max() - zero_mm > 30.0


@pytest.mark.parametrize("free_mm", [0.0, 2.0])
def test_the_levers_free_travel_is_measured_against_its_stop(tmp_path: Path, free_mm: float) -> None:
    text = profile_text("example-direct")[0].replace("free_mm = 0.0", f"free_mm = {free_mm}")
    job = body(tmp_path, text=text)
    job.play()
    (free, *_) = job.run.results["as-found"].characteristics
    assert free.name == "lever_free_travel"
    assert free.value is not None and free.expanded_uncertainty is not None
    assert abs(free.value - free_mm) < free.expanded_uncertainty


def test_a_nonconforming_body_is_put_right_with_the_supply_off_and_measured_again(tmp_path: Path) -> None:
    job = body(tmp_path, text=WIDE, fault="low-supply")
    prompts = job.play({"repaired": "relief valve spring renewed"})
    found, left = job.run.results["as-found"], job.run.results["as-left"]
    assert (found.body_verdict, left.body_verdict) == ("nonconforming", "conforming")
    codes = [getattr(p, "code", None) or p.caution.code for p in prompts if isinstance(p, Ask | Acknowledge)]
    at = codes.index("repair")
    assert codes[at - 1 : at + 4] == ["power_off", "repair", "supply_off_body", "repaired", "no_rod"]
    assert read_capture(tmp_path / "as-left.capture").last("adjusted")["moved"] == "relief valve spring renewed"
    assert left.reference == "lever_stop"


def test_a_body_left_as_it_was_found_is_said(tmp_path: Path) -> None:
    job = body(tmp_path, fault="low-supply")
    job.play({"repair": "no"})
    (notice,) = [each for each in job.run.live.notices if each.code == "left_as_found"]
    assert "valve body" in notice.text and "nonconforming" in notice.text
    assert "as-left" not in job.run.results


def test_where_the_body_is_only_not_known_closely_enough_enter_leaves_it(tmp_path: Path) -> None:
    job = body(tmp_path)
    prompts = job.play()
    assert job.run.results["as-found"].body_verdict == "undecided"
    (ask,) = [prompt for prompt in prompts if isinstance(prompt, Ask) and prompt.code == "repair"]
    assert ask.choices == ("no", "yes")


def test_a_lever_that_does_not_come_back_is_never_called_conforming(tmp_path: Path) -> None:
    job = body(tmp_path, text=WIDE, fault="binding")
    job.play(STUBBORN)
    found = job.run.results["as-found"]
    assert all(each.decision in ("within", "not judged") for each in found.characteristics)
    assert found.body_verdict == "undecided"
    stops = [finding for finding in found.findings if finding.severity == "stop"]
    assert [finding.code for finding in stops] == ["travel_not_returned"]
    assert "The lever did not return" in stops[0].text and "throttle" not in stops[0].text
    notices = {notice.code: notice for notice in job.run.live.notices if notice.severity == "stop"}
    assert {"travel_not_returned", "lever_off_stop"} <= set(notices)
    assert all("supply" in notice.text and "throttle" not in notice.text for notice in notices.values())


def test_no_finding_of_a_body_speaks_of_throttle_pin_or_engine(tmp_path: Path) -> None:
    for fault in ("air", "stuck-lever", "loose-clamp"):
        folder = tmp_path / fault
        folder.mkdir()
        job = body(folder, fault=fault)
        job.play(STUBBORN)
        for finding in job.run.results["as-found"].findings:
            for word in ("Engine", "engine", " pin", " rod "):
                assert word not in finding.text, (fault, finding.code)


def test_the_virtual_hands_do_a_whole_job_by_themselves(tmp_path: Path) -> None:
    job = body(tmp_path, text=WIDE, fault="low-supply")
    pilot = Autopilot(job.run, job.hand, job.line.clock, adjust=True, fault="low-supply")
    pilot.play(lambda: None)
    assert [result.body_verdict for result in job.run.results.values()] == ["nonconforming", "conforming"]


def test_a_body_alone_stands_on_a_bench_and_nowhere_else(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="on a bench"):
        RunSettings(load_profile(), WIDE, tmp_path, drive="slide", reference="lever_stop")


@pytest.mark.parametrize("fault", ["baseline-connected", "wrong-intermediate-rod"])
def test_a_body_alone_has_no_fault_of_a_rod(fault: str) -> None:
    with pytest.raises(InputError, match="no rod"):
        body_scenario(load_profile("example-two-bell-cranks"), fault=fault)


@pytest.mark.parametrize("profile", ["example-direct", "example-one-bell-crank", "example-two-bell-cranks"])
def test_every_profile_has_a_body_to_put_on_the_bench(profile: str) -> None:
    scenario = body_scenario(load_profile(profile))
    assert scenario.body_alone and scenario.linkage_exact.rod_error_mm == 0.0


def test_cautions_fit_a_body_alone() -> None:
    before, adjust, after = (
        " ".join(caution.text for caution in cautions_for(when, "bench", "lever_stop"))
        for when in ("before", "adjust", "after")
    )
    assert "oil under pressure" in before.lower() and "Wheels" not in before
    assert "Supply off" in adjust and "rod" not in adjust
    assert "port plugged" in after and "says nothing of the rod" in after
    assert "Holding spring" not in after and "Adjuster" not in after
    assert "Shut the supply" in leave_safe("bench", "lever_stop")
    with_rods = {caution.code for when in ("before", "adjust", "after") for caution in cautions_for(when, "bench")}
    assert {"rod_still_to_set", "supply_off_body"}.isdisjoint(with_rods)
    assert {"rod_still_to_set", "supply_off_body"} <= {caution.code for caution in all_cautions()}


def test_a_fixture_that_goes_is_told_in_the_words_of_a_bench(tmp_path: Path) -> None:
    job = body(tmp_path)
    job.play(until=lambda run: isinstance(run.prompt, Sweeping) and run.stage == "sweeps")
    job.run.lose_fixture(FixtureError("gone", "look"))
    (notice,) = [each for each in job.run.live.notices if each.code == "fixture_lost"]
    assert "shut the supply" in notice.text and "engine" not in notice.text
    job.run.close()
