"""Every command in the documents is known, and those that need nobody's hands are run, in the order they stand."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import typer

from documents.commands import DOCUMENTS, ROOT, commands_of, options_of
from rodtrue.cli import app

WITH_COMMANDS = [document for document in DOCUMENTS if commands_of(document)]
GUIDES = [document for document in WITH_COMMANDS if document.parent.name != "hardware"]
LONGEST_S = 1200
FILL_IN = Path(__file__).with_name("fill_in.py")

NOT_RUN_HERE = ("rodtrue page", "rodtrue check", "rodtrue calibrate store", "rodtrue fixture install")
"""They want a person, a button held, or a board, and are worked through in tests of their own; of the checks at the
virtual fixture those of a valve body are run all the same."""


def name_of(document: Path) -> str:
    return document.relative_to(ROOT).as_posix()


def options_known(words: list[str]) -> set[str]:
    """Follow the words into the program's groups to a command, and return the options it takes."""
    command: Any = typer.main.get_command(app)
    for word in words:
        if not hasattr(command, "commands"):
            break
        command = command.commands[word]
    assert not hasattr(command, "commands"), f"{' '.join(words)} names no command"
    return {option for parameter in command.params for option in (*parameter.opts, *parameter.secondary_opts)}


def test_the_documents_show_commands_at_all():
    assert {"README.md", "docs/technician.md", "docs/rebuilder.md", "docs/lab.md"} <= {
        name_of(document) for document in WITH_COMMANDS
    }


@pytest.mark.parametrize("document", WITH_COMMANDS, ids=name_of)
def test_every_command_and_option_shown_is_one_the_program_has(document):
    unknown = []
    for line in commands_of(document):
        if not line.startswith("rodtrue "):
            continue
        known = options_known(line.split()[1:])
        unknown += [f"{line}: {option}" for option in options_of(line) if option not in known]
    assert unknown == []


@pytest.fixture(scope="module")
def a_shop(tmp_path_factory) -> Path:
    """A folder with what the documents take for granted: earlier runs, captures, columns of values to judge."""
    folder = tmp_path_factory.mktemp("shop")
    run(["rodtrue demo --fast"], folder)
    (made,) = (folder / "rodtrue-out").glob("*-demo")
    job = json.loads((made / "job.json").read_text())
    for number in range(1, 25):
        for result in (job["as_found"], job["as_left"]):
            # As if a board had measured so many bodies: statistics leave a virtual fixture's runs out.
            result["fixture"]["kind"] = "board"
            result["unit"] = f"truck {number}"
            for characteristic in result["characteristics"]:
                if characteristic["value"] is not None:
                    characteristic["value"] *= 1 + 0.002 * ((7 * number) % 5 - 2)
        (folder / f"{'job' if number > 12 else 'standard'}-{number}.json").write_text(json.dumps(job))
    run(["rodtrue records add standard-*.json --tag 'check standard'", "rodtrue records add job-*.json"], folder)
    (folder / "captures").mkdir()
    for label in ("as-found", "as-left"):
        shutil.copy(made / f"{label}.capture", folder / "captures")
    slopes = [11.0 + 0.1 * ((7 * number) % 9 - 4) for number in range(30)]
    for name in ("slopes.csv", "check-standard.csv"):
        (folder / name).write_text("value\n" + "".join(f"{slope:.2f}\n" for slope in slopes))
    travels = [f"{1000 * n},{5.0 * n + 0.001 * ((3 * n) % 4)}" for n in range(1, 12)]
    (folder / "points.csv").write_text("code,travel_mm\n" + "\n".join(travels) + "\n")
    run([f"rodtrue dump {made / 'as-found.capture'} --csv body.csv"], folder)
    return folder


def run(lines: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """Type the lines into a shell, one after the other; the first that fails ends it."""
    environment = os.environ | {
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "RODTRUE_DATA": str(folder / "data"),
        "COLUMNS": "80",
    }
    script = "set -eu\n" + "".join(f"echo {shlex.quote(line)} >&2\n{line}\n" for line in lines)
    done = subprocess.run(
        ["bash", "-c", script],
        cwd=folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return done


def typed_here(line: str) -> str | None:
    """Return the line as it is run here: no fixture is plugged in, so the virtual one stands in; None: not run."""
    if line.startswith("rodtrue check --port virtual --drive bench"):
        return f"yes '' | {line}"
    if line.startswith(NOT_RUN_HERE):
        return None
    if line.startswith("rodtrue calibrate run"):
        return "yes '' | rodtrue calibrate run --port virtual --operator A.B. --cycles 2"
    if line.startswith("rodtrue demo") and "--fast" not in line:
        line += " --fast"
    return line.replace("--port auto", "--port virtual")


def filled_in(line: str) -> str:
    """After a plan comes what the operators measured: every part its value, every trial a little off."""
    if line.startswith("rodtrue lab plan"):
        return f"{line}\n{shlex.join([sys.executable, str(FILL_IN), 'study.csv'])}"
    return line


@pytest.mark.slow
@pytest.mark.parametrize("document", GUIDES, ids=name_of)
def test_what_a_document_tells_the_reader_to_type_works(document, a_shop, tmp_path):
    folder = tmp_path / "reader"
    shutil.copytree(a_shop, folder)
    run([filled_in(typed) for line in commands_of(document) if (typed := typed_here(line)) is not None], folder)
