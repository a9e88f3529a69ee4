"""Before the run: checklists recorded item by item, and the sense in which travel counts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rodtrue.capture.reader import read_capture
from rodtrue.judging import encode
from rodtrue.model.errors import InputError
from rodtrue.run.guided import GuidedRun
from rodtrue.run.prompts import DONE, Ask, Checklist
from run.runs import answer, bench


def _at_checklist(code: str) -> Callable[[GuidedRun], bool]:
    return lambda run: isinstance(run.prompt, Checklist) and run.prompt.code == code


def test_every_item_of_both_checklists_is_recorded_with_its_answer(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    prompts = job.play({"adjust": "no"})
    lists = [prompt for prompt in prompts if isinstance(prompt, Checklist)]
    assert [each.code for each in lists] == ["fitting", "preconditions"]
    noted = [e.fields for e in read_capture(tmp_path / "as-found.capture").entries if e.name == "checked"]
    assert [each["item"] for each in noted] == [item.code for each in lists for item in each.items]
    assert all(each["answer"] and each["text"] for each in noted)
    assert job.run.results["as-found"].verdict == "short"


def test_they_are_gone_through_once_a_job(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    prompts = job.play()
    assert "as-left" in job.run.results
    assert len([prompt for prompt in prompts if isinstance(prompt, Checklist)]) == 2


def test_a_run_without_them_is_the_shorter_one(tmp_path: Path) -> None:
    for name in ("shorter", "longer"):
        (tmp_path / name).mkdir()
    shorter = bench(tmp_path / "shorter")
    longer = bench(tmp_path / "longer", checklists=True)
    assert "prepare" not in shorter.run.stages
    assert "prepare" in longer.run.stages
    shorter.run.close()
    longer.run.close()


def test_an_open_item_holds_the_run_and_is_named(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    job.play(until=_at_checklist("fitting"))
    prompt = job.run.prompt
    assert isinstance(prompt, Checklist)
    for item in prompt.items[1:]:
        job.run.tick(item.code, item.words[0])
    with pytest.raises(InputError, match="which adapter"):
        job.run.answer(DONE)
    job.run.tick(prompt.items[0].code, "  ")
    with pytest.raises(InputError, match="which adapter"):
        job.run.answer(DONE)
    job.run.tick(prompt.items[0].code, "side port, tee")
    job.run.tick(prompt.items[1].code, "")
    with pytest.raises(InputError, match="relieved"):
        job.run.answer(DONE)
    with pytest.raises(InputError, match="no answer"):
        job.run.tick(prompt.items[1].code, "perhaps")
    with pytest.raises(InputError, match="checklist"):
        job.run.tick("another", "yes")
    job.run.close()


def test_on_a_bench_nothing_is_asked_of_an_engine(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True, drive="bench")
    prompts = job.play({"adjust": "no"})
    items = [item.code for prompt in prompts if isinstance(prompt, Checklist) for item in prompt.items]
    assert "supply_steady" in items
    assert not {"engine_warm", "park", "idle_screw_on_stop"} & set(items)


def _sense_question(job_run: GuidedRun) -> bool:
    return isinstance(job_run.prompt, Ask) and job_run.prompt.code == "sense_failed"


def test_a_pin_that_does_not_move_is_told_and_the_check_can_be_repeated(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    job.play(until=_at_checklist("fitting"))
    answer(job.run, {})
    hand, job.hand.follow = job.hand.follow, lambda run: None  # type: ignore[method-assign]
    job.play(until=_sense_question)
    assert "clamped" in job.run.prompt.text  # type: ignore[union-attr]
    job.hand.follow = hand  # type: ignore[method-assign]
    job.play({"sense_failed": "again"}, until=lambda run: run.stage == "return")
    entries = read_capture(job.run.captures["as-found"]).entries
    assert [entry.fields["passed"] for entry in entries if entry.name == "sense_check"] == [False, True]
    job.run.close()


def test_a_sensor_the_other_way_round_is_told(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    job.play(until=_at_checklist("fitting"))
    answer(job.run, {})
    samples = job.plant.samples
    job.line.plant.samples = lambda rate, seconds: 65520 - samples(rate, seconds)  # type: ignore[method-assign, operator]
    job.play(until=_sense_question)
    assert "turn the travel sensor round" in job.run.prompt.text  # type: ignore[union-attr]
    job.run.close()


def test_what_was_answered_and_what_was_done_to_the_rod_reach_both_results(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    job.play({"adjusted": "slid 2.4 mm longer"})
    found, left = job.run.results["as-found"], job.run.results["as-left"]
    said = {each["item"]: each for each in found.checked}
    assert said["port_and_adapter"]["answer"] == "invented port_and_adapter"
    assert "rated for more than" in said["gauge_range"]["text"] and said["gauge_range"]["answer"] == "yes"
    assert said["park"]["checklist"] == "preconditions" and said["park"]["answered_at"]
    assert left.checked == found.checked, "the port is not asked for again, so the as-left run repeats it"
    assert found.adjusted is None
    assert left.adjusted is not None and left.adjusted["moved"] == "slid 2.4 mm longer"
    assert left.adjusted["advised_mm"] == pytest.approx(found.correction.amount_mm)  # type: ignore[union-attr]
    assert b'"port_and_adapter"' in encode(found)
