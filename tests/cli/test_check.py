"""`rodtrue check`: the guided run in a terminal, answered by lines."""

from __future__ import annotations

import io
import json
import signal
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from pathlib import Path

import pytest
from rich.console import Console
from typer.testing import CliRunner

from cli.commands import LONGEST_S, rodtrue, running
from rodtrue.capture.reader import read_capture
from rodtrue.cli import app
from rodtrue.cli.keyboard import Keyboard
from rodtrue.cli.terminal import TerminalRun
from rodtrue.link.client import Client
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.report import read_job
from rodtrue.run.prompts import Ask, Checklist, Prompt, Sweeping
from rodtrue.run.session import Session
from run.runs import LONGEST_RUN_S, Bench, bench


class Typist(Keyboard):
    """Types what a rule says for each prompt, once the last answer has been taken."""

    def __init__(self, job: Bench, rule: Callable[[Prompt], str | None]) -> None:
        self.person = True
        self._job = job
        self._rule = rule

    def line(self) -> str | None:
        assert self._job.line.now_s < LONGEST_RUN_S, "the run does not come to an end"
        typed = self._rule(self._job.run.prompt)
        if typed == "EOF":
            raise EOFError
        return typed

    def forget(self) -> None:
        pass


def _enter(prompt: Prompt) -> str:
    return ""


def _go(job: Bench, rule: Callable[[Prompt], str | None]) -> str:
    shown = io.StringIO()
    console = Console(file=shown, width=80, force_terminal=False)
    try:
        TerminalRun(job.run, console, Typist(job, rule), job.hand).go()
    finally:
        job.run.close()
    return shown.getvalue()


def test_at_a_virtual_fixture_enter_alone_leads_through_the_whole_job(tmp_path: Path) -> None:
    job = bench(tmp_path)
    shown = _go(job, _enter)
    told = " ".join(shown.split())
    for words in (
        "VIRTUAL FIXTURE, NOT A MEASUREMENT",
        "Caution: ",
        "Is the rod off the pin?",
        "Sweep 6 of 6.",
        "AS FOUND",
        "SHORT",
        "Lengthen the rod by",
        "a rod is turned or slid only with it off. Is it off?",
        "AS LEFT",
        "Road test",
        "Done.",
    ):
        assert words in told
    assert set(job.run.results) == {"as-found", "as-left"}
    assert max(len(line) for line in shown.splitlines() if str(tmp_path)[:12] not in line) <= 80


def test_the_checklists_of_the_page_are_gone_through_and_recorded_in_the_terminal_too(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    shown = _go(job, _enter)
    assert "[ ] Which port is it, and which adapter and hose are on it?" in shown
    assert "[ ] Idle solenoid energised, where one is fitted." in shown
    assert "Type yes or not fitted; Enter for yes." in shown
    answers = {each["item"]: each["answer"] for each in read_capture(tmp_path / "as-found.capture").checked}
    assert answers["port_and_adapter"] == "virtual fixture"
    assert {"pressure_relieved", "gauge_range", "expected_idle", "engine_warm", "park"} <= set(answers)
    assert "as-left" in job.run.results


def test_a_body_alone_is_gone_through_without_a_rod_and_its_verdict_stands_first(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True, drive="bench", reference="lever_stop", fault="low-supply")
    shown = " ".join(_go(job, _enter).split())
    for words in (
        "No rod fitted: Valve body alone: is the lever free",
        "VALVE BODY NONCONFORMING: The full pressure of",
        "Rod: no result: no curb-idle reference.",
        "Put right: Valve body: nonconforming.",
        "AS LEFT",
    ):
        assert words in shown, words
    for words in ("Is the rod off the pin?", "NO RESULT", "Hook", "Rod error"):
        assert words not in shown, words


@pytest.mark.slow
def test_the_command_measures_a_body_alone_and_keeps_it_as_such(tmp_path: Path) -> None:
    place = tmp_path / "records.sqlite"
    ended = rodtrue(
        *["check", "--port", "virtual", "--drive", "bench", "--reference", "lever_stop", "--order", "order 4711"],
        *["--unit", "body 7", "--out", tmp_path / "out", "--records", place, "--json"],
        stdin="\n" * 200,
    )
    assert ended.code == 0, ended.err
    job = json.loads(ended.out)
    assert (job["reference"], job["as_found"]["reference"]) == ("order 4711", "lever_stop")
    assert job["as_found"]["rod_error"] is None and job["as_found"]["body_verdict"] == "undecided"
    listed = rodtrue("records", "list", "--virtual", "--records", place).out
    assert "valve body undecided" in listed and "no result" not in listed


def test_beside_a_real_unit_each_item_of_a_checklist_is_answered_in_words(tmp_path: Path) -> None:
    job = bench(tmp_path, checklists=True)
    job.recorder.identity["kind"] = "board"
    typed = iter(["", "  ", "side port, tee", "no", "", "y"])

    def rule(prompt: Prompt) -> str:
        return next(typed, "EOF") if isinstance(prompt, Checklist) else "yes"

    shown = io.StringIO()
    with pytest.raises(InputError):
        TerminalRun(job.run, Console(file=shown, width=80), Typist(job, rule), None).go()
    ticked = dict(job.run.ticked)
    job.run.close()
    assert ticked == {"port_and_adapter": "side port, tee", "pressure_relieved": "yes"}
    said = " ".join(shown.getvalue().split())
    assert said.count("Enter alone is no answer here. Type the answer. Ctrl-C ends the run.") == 2
    assert said.count("Enter alone is no answer here. Type yes. Ctrl-C ends the run.") == 1
    assert said.count("'no' is no answer here. Type yes. Ctrl-C ends the run.") == 1


def test_beside_a_real_unit_enter_is_no_answer_where_safety_hangs_on_it(tmp_path: Path) -> None:
    job = bench(tmp_path)
    job.recorder.identity["kind"] = "board"
    left = iter(["", "y", "", "yes", "stop"])

    def rule(prompt: Prompt) -> str:
        return next(left, "EOF")

    with pytest.raises(InputError):
        shown = io.StringIO()
        TerminalRun(job.run, Console(file=shown, width=80), Typist(job, rule), None).go()
    job.run.close()
    assert shown.getvalue().count("Enter alone is no answer here. Type yes.") == 2
    assert "VIRTUAL" not in shown.getvalue()
    cautions = read_capture(tmp_path / "as-found.capture").cautions
    assert len(cautions) == 2


ENTER_WILL_DO = {
    ("slide", "curb_idle"): {"zero_ready", "tap", "response_ready", "hook_up", "adjust"},
    ("throttle", "curb_idle"): {"zero_ready", "tap", "response_ready", "adjust"},
    ("bench", "curb_idle"): {"zero_ready", "tap", "response_ready", "hook_up", "adjust"},
    ("bench", "lever_stop"): {"zero_ready", "tap", "response_ready", "repair"},
}
"""Questions at a real unit that Enter answers, by drive and reference: nothing of engine, supply or pressure."""


@pytest.mark.parametrize(("drive", "reference"), ENTER_WILL_DO)
def test_beside_a_real_unit_enter_answers_nothing_that_tells_of_power_or_pressure(
    tmp_path: Path, drive: str, reference: str
) -> None:
    alone = reference == "lever_stop"
    job = bench(tmp_path, drive=drive, reference=reference, checklists=True, fault="low-supply" if alone else None)
    job.recorder.identity["kind"] = "board"
    entered: list[Prompt] = []
    answered: dict[str, bool] = {}

    def rule(prompt: Prompt) -> str | None:
        """Press Enter at each question first; where that was no answer, type one."""
        if isinstance(prompt, Sweeping):
            return None
        item = next((each for each in getattr(prompt, "items", ()) if not job.run.ticked.get(each.code)), None)
        asked = item or prompt
        if entered and asked is entered[-1]:
            answered[getattr(asked, "code", "caution")] = False
            words = getattr(asked, "words" if item else "choices", ("yes",))
            return words[0] if words else "as typed"
        entered.append(asked)
        answered.setdefault(getattr(asked, "code", "caution"), True)
        return ""

    shown = " ".join(_go(job, rule).split())
    assert {code for code, by_enter in answered.items() if by_enter} == ENTER_WILL_DO[drive, reference]
    assert {"caution", "power_off", "power_on", "return_ready", "sense_ready"} <= set(answered)
    assert "Done." in shown and "Enter alone is no answer here." in shown
    moved = read_capture(tmp_path / "as-left.capture").last("adjusted")
    assert moved is not None and moved["moved"] == "as typed"


def test_answers_may_be_shortened_and_nonsense_is_told_what_would_do(tmp_path: Path) -> None:
    job = bench(tmp_path)
    said: Iterator[str] = iter(["perhaps", "st"])

    def rule(prompt: Prompt) -> str:
        return next(said) if isinstance(prompt, Ask) and prompt.code == "power_on" else ""

    shown = _go(job, rule)
    assert "'perhaps' is no answer here. Type yes, no or stop; Enter for yes." in shown
    assert job.run.stopped
    assert "Stopped; what was captured is kept." in shown


def test_input_that_ends_early_is_said_and_the_capture_is_kept(tmp_path: Path) -> None:
    job = bench(tmp_path)
    with pytest.raises(InputError, match="input ended before the run was over") as ended:
        _go(job, lambda prompt: "EOF" if isinstance(prompt, Ask) and prompt.code == "zero_ready" else "")
    assert "demo" in ended.value.next_step
    capture = read_capture(tmp_path / "as-found.capture")
    assert len(capture.samples()) > 500
    assert capture.damages == []


def test_a_fixture_lost_in_the_as_left_run_takes_nothing_from_what_was_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = bench(tmp_path / "unused")
    job.run.close()

    class PullsTheCable(Keyboard):
        """Enter throughout; the cable is out as soon as the as-left run has begun."""

        def __init__(self) -> None:
            self.person = True

        def line(self) -> str:
            job.line.gone = any(tmp_path.glob("out/*/as-left.capture"))
            return ""

        def forget(self) -> None:
            pass

    client = Client(job.line, clock=job.line.clock, wait=job.line.wait)
    session = Session("plant", client, client.hello(), job.plant)
    monkeypatch.setattr("rodtrue.run.session.open_fixture", lambda *_: nullcontext(session))
    monkeypatch.setattr("rodtrue.cli.keyboard.Keyboard", PullsTheCable)
    told = CliRunner().invoke(
        app, ["check", "--port", "plant", "--out", str(tmp_path / "out"), "--records", str(tmp_path / "kept.sqlite")]
    )
    assert isinstance(told.exception, FixtureError)
    (written,) = tmp_path.glob("out/*/job.json")
    kept = read_job(written)
    assert kept.as_found.verdict == "short" and kept.as_left is None
    assert "Kept: job 1" in told.output


def test_the_command_ends_with_2_where_nobody_can_answer(tmp_path: Path) -> None:
    ended = rodtrue("check", "--port", "virtual", "--out", tmp_path)
    assert ended.code == 2
    assert "input ended" in ended.err
    assert "Stop the engine and relieve the pressure" in " ".join(ended.out.split()), "how to leave it safe"
    (capture,) = tmp_path.glob("*/as-found.capture")
    assert str(capture) in ended.out
    assert read_capture(capture).fixture().kind == "virtual"


def test_ctrl_c_stops_it_and_the_capture_is_kept(tmp_path: Path) -> None:
    with running("check", "--port", "virtual", "--out", tmp_path) as process:
        assert process.stdout is not None
        assert any("Caution" in line for line in process.stdout), "it ended before the first caution"
        process.send_signal(signal.SIGINT)
        rest = process.stdout.read()
        assert process.wait(LONGEST_S) == 0
    assert "Stopped by hand" in rest
    assert "No verdict was formed" in rest
    (capture,) = tmp_path.glob("*/as-found.capture")
    assert read_capture(capture).entries[-1].name == "end"


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--port", "/dev/no-such-port"], 3, "there is no such port"),
        (["--port", "virtual", "--profile", "nobody"], 2, "profile nobody"),
        (["--port", "virtual", "--drive", "rope"], 2, "rope"),
        (["--port", "virtual", "--reference", "lever_stop"], 2, "a valve body alone on a bench"),
        (["--port", "virtual", "--reference", "4711"], 2, "4711"),
    ],
)
def test_what_cannot_begin_is_refused_in_words(tmp_path: Path, arguments: list[str], code: int, words: str) -> None:
    ended = rodtrue("check", "--out", tmp_path, *arguments)
    assert ended.code == code
    assert words in ended.err
    assert not list(tmp_path.iterdir())


def test_a_script_of_lines_is_read_line_by_line_and_its_end_stays_the_end() -> None:
    keyboard = Keyboard(io.StringIO("yes\n no \n"))
    lines: list[str | None] = []
    with pytest.raises(EOFError):
        while True:
            line = keyboard.line()
            if line is not None:
                lines.append(line)
    assert lines == ["yes", "no"]
    with pytest.raises(EOFError):
        keyboard.line()
