"""Many captures: the same answers however they are judged, and no bad file or killed worker stops the rest."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from archive import killers
from one_free_port import free_port
from rodtrue.archive import cluster as cluster_room
from rodtrue.archive import workers as workers_room
from rodtrue.archive.changes import changes
from rodtrue.archive.cluster import judge_on_cluster
from rodtrue.archive.files import files_in
from rodtrue.archive.journal import Journal, read_journal
from rodtrue.archive.work import Request, judge_here
from rodtrue.archive.workers import judge_in_processes
from rodtrue.cli import app
from rodtrue.judging import CsvAnswers
from rodtrue.model.errors import FixtureError, InputError


@pytest.fixture(scope="module")
def files(archive):
    return files_in([archive])


@pytest.fixture(scope="module")
def alone(files):
    """What one process says of each file."""
    return [judge_here(file, Request()).line() for file in files]


def judge(*words):
    return CliRunner().invoke(app, ["judge", *map(str, words)])


def test_a_folder_gives_its_captures_and_tables_in_order_and_nothing_else(archive, files):
    assert [Path(file).name for file in files] == [
        "run4.csv", "run5.csv", "run0.csv", "run1.csv", "run2.csv", "run2x.csv", "run3.csv",
    ]  # fmt: skip
    assert files_in([archive, archive / "run0.csv"]) == files


def test_a_folder_without_captures_is_refused(tmp_path):
    with pytest.raises(InputError, match="no file in it ends in"):
        files_in([tmp_path])


@pytest.mark.slow
def test_two_workers_say_what_one_says_and_one_bad_file_stops_nothing(files, alone):
    outcomes = list(judge_in_processes(files, Request(), 2))
    assert [outcome.file for outcome in outcomes] == files
    assert [outcome.line() for outcome in outcomes] == alone
    assert [outcome.refusal is not None for outcome in outcomes].count(True) == 1


@pytest.mark.slow
def test_a_cluster_says_what_one_process_says(files, alone, two_workers):
    assert [outcome.line() for outcome in judge_on_cluster(files, Request(), two_workers)] == alone


@pytest.mark.slow
def test_a_worker_that_is_killed_costs_only_the_file_that_kills_it(files, alone, monkeypatch):
    monkeypatch.setattr(workers_room, "judge_here", killers.judge_here)
    outcomes = list(judge_in_processes(files, Request(), 2))
    assert [outcome.file for outcome in outcomes] == files
    for outcome, line in zip(outcomes, alone, strict=True):
        if outcome.file.endswith("run1.csv"):
            assert "killed, twice" in outcome.refusal.message
        else:
            assert outcome.line() == line


@pytest.mark.slow
def test_a_file_that_kills_workers_of_a_cluster_costs_itself_alone(files, alone, monkeypatch):
    distributed = pytest.importorskip("distributed")
    import dask

    monkeypatch.setattr(cluster_room, "judge_sent", killers.judge_sent)
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 1}),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=":0"
        ) as local,
    ):
        outcomes = list(judge_on_cluster(files, Request(), local.scheduler_address))
    assert [outcome.file for outcome in outcomes] == files
    lost = [outcome for outcome in outcomes if outcome.refusal is not None and "killed" in outcome.refusal.message]
    assert "run1.csv" in {Path(outcome.file).name for outcome in lost}
    for outcome, line in zip(outcomes, alone, strict=True):
        assert outcome in lost or outcome.line() == line


def test_no_scheduler_is_fixture_trouble():
    pytest.importorskip("distributed")
    with pytest.raises(FixtureError, match="no scheduler answers"):
        list(judge_on_cluster([], Request(), f"tcp://127.0.0.1:{free_port()}"))


@pytest.mark.slow
def test_workers_of_another_version_are_refused(files, two_workers, monkeypatch):
    monkeypatch.setenv("RODTRUE_TEST_ASKS", str(os.getpid()))
    monkeypatch.setattr(cluster_room, "versions", killers.older_on_workers)
    with pytest.raises(FixtureError, match=r"rodtrue 0\.0\.9 instead of"):
        list(judge_on_cluster(files, Request(), two_workers))


def test_a_journal_goes_on_where_it_stopped_and_cuts_a_torn_line_off(files, alone, tmp_path):
    out = tmp_path / "results.jsonl"
    with Journal(out, Request(), resume=False) as journal:
        for file in files[:3]:
            journal.write(judge_here(file, Request()))
    whole = out.read_bytes()
    for cut in (0, 1, 40, len(alone[3]) - 1):
        out.write_bytes(whole + alone[3][:cut])
        with Journal(out, Request(), resume=True) as journal:
            assert journal.unfinished(files) == files[3:]
        assert out.read_bytes() == whole


def test_a_file_that_changed_or_was_refused_is_judged_again(files, tmp_path):
    copy = tmp_path / "run.csv"
    copy.write_bytes(Path(files[0]).read_bytes())
    bad = next(file for file in files if file.endswith("run2x.csv"))
    out = tmp_path / "results.jsonl"
    with Journal(out, Request(), resume=False) as journal:
        journal.write(judge_here(str(copy), Request()))
        journal.write(judge_here(bad, Request()))
    with Journal(out, Request(), resume=True) as journal:
        assert journal.unfinished([str(copy), bad]) == [bad]
    copy.write_bytes(Path(files[1]).read_bytes())
    with Journal(out, Request(), resume=True) as journal:
        assert journal.unfinished([str(copy)]) == [str(copy)]


def test_another_way_of_judging_does_not_go_on_with_a_file(tmp_path):
    out = tmp_path / "results.jsonl"
    Journal(out, Request(), resume=False).__exit__()
    with pytest.raises(InputError, match="another profile"):
        Journal(out, Request(answers=CsvAnswers(baseline="unknown")), resume=True)
    with pytest.raises(InputError, match="already"):
        Journal(out, Request(), resume=False)


@pytest.mark.parametrize(
    "text", ["", "{}\n", "nonsense\n", '{"schema": "rodtrue.archive/9", "request": "", "versions": {}}\n']
)
def test_a_file_that_is_no_journal_is_left_alone(tmp_path, text):
    out = tmp_path / "results.jsonl"
    out.write_text(text)
    with pytest.raises(InputError):
        Journal(out, Request(), resume=True)
    assert out.read_text() == text


@pytest.mark.parametrize("result", [{}, {"file": "a.csv", "capture": None}, {"file": [], "capture": {"sha256": ""}}])
def test_a_journal_with_a_result_of_no_file_is_refused_in_words(tmp_path, result):
    out = tmp_path / "results.jsonl"
    Journal(out, Request(), resume=False).__exit__()
    with out.open("ab") as file:
        file.write(json.dumps({"schema": "rodtrue.result/1", **result}).encode() + b"\n")
    with pytest.raises(InputError, match=r"results\.jsonl: a result in it does not say of which file"):
        Journal(out, Request(), resume=True)


@pytest.mark.slow
def test_a_killed_command_goes_on_and_ends_with_the_same_results(archive, files, alone, tmp_path):
    out = tmp_path / "results.jsonl"
    command = [sys.executable, "-m", "rodtrue", "judge", str(archive), "--out", str(out)]
    child = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    end = time.monotonic() + 60
    while time.monotonic() < end and (not out.exists() or out.read_bytes().count(b"\n") < 3):
        time.sleep(0.02)
    child.kill()
    child.wait()
    judged = out.read_bytes().count(b"\n") - 1
    assert judged >= 2
    again = subprocess.run([*command, "--resume"], capture_output=True, text=True, timeout=120, check=False)
    assert again.returncode == 2  # one file is refused
    assert f"{judged} of {len(files)} were judged before" in again.stderr or judged == len(files)
    by_file = {document["file"]: document for document in read_journal(out)}
    assert [json.dumps(by_file[file]) for file in files] == [json.dumps(json.loads(line)) for line in alone]


def test_what_changed_is_told_by_capture_though_it_moved(files, alone):
    before = [json.loads(line) for line in alone]
    assert list(changes(before, before)) == []
    moved = [{**document, "file": f"elsewhere/{i}"} for i, document in enumerate(before)]
    assert [change.file for change in changes(before, moved)] == ["elsewhere/5"]  # the refused one has no digest
    valued = next(i for i, d in enumerate(before) if (d.get("rod_error") or {}).get("value_mm") is not None)
    now = json.loads(json.dumps(before))
    now[valued]["verdict"] = "undecided"
    now[valued]["rod_error"]["value_mm"] += 0.25
    now[valued]["findings"].append({"code": "ripple_high"})
    found = list(changes(before, now))
    assert [change.what for change in found] == ["verdict", "rod error", "findings"]
    assert found[0].now == "undecided"
    assert found[2].now == "ripple_high"
    now[valued] = {**before[valued], "rod_error": {**before[valued]["rod_error"]}}
    now[valued]["rod_error"]["value_mm"] += 0.0004
    assert list(changes(before, now)) == []


def test_the_command_shows_what_changed_in_eighty_columns(archive, tmp_path):
    out = tmp_path / "old.jsonl"
    assert judge(archive, "--out", out).exit_code == 2
    lines = out.read_text().splitlines()
    for i, line in enumerate(lines):
        if '"verdict":"' in line:
            lines[i] = line.replace('"verdict":"', '"verdict":"un', 1)
    out.write_text("\n".join(lines) + "\n")
    result = judge(archive, "--compare", out)
    assert "verdict: un" in result.stdout
    assert "of 7 as before" in result.stdout
    assert max(len(line) for line in result.stdout.splitlines()) <= 80


def test_resume_needs_a_file_to_go_on_with(archive):
    result = judge(archive, "--resume")
    assert isinstance(result.exception, InputError)


def test_json_still_gives_one_document_a_file_in_order(files, alone):
    result = judge(*files, "--json")
    assert result.exit_code == 2
    assert [line.encode() for line in result.stdout.splitlines() if line.startswith("{")] == alone
