"""Names that are no text, links in a circle, outputs that take nothing: words, and not a traceback."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path
from typing import IO

import pytest

from capture.captures import write_blocks
from cli.commands import LONGEST_S, PROGRAM, rodtrue

FULL = Path("/dev/full")


@pytest.fixture
def capture(tmp_path: Path) -> Path:
    path = tmp_path / "a.capture"
    write_blocks(path, [0, 4, 8])
    return path


def ended(*arguments: object, stdout: int | IO[bytes] = subprocess.PIPE, **unbuffered: str) -> tuple[int, str]:
    """Run a command with bytes as they are. Returns: its exit code and what it said beside its output."""
    done = subprocess.run(
        [*PROGRAM, *(a if isinstance(a, bytes) else str(a) for a in arguments)],
        stdin=subprocess.DEVNULL,
        stdout=stdout,
        stderr=subprocess.PIPE,
        timeout=LONGEST_S,
        env={name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"} | unbuffered,
        check=False,
    )
    return done.returncode, done.stderr.decode("utf-8", "backslashreplace")


@pytest.mark.skipif(not FULL.exists(), reason="no device here that is always full")
@pytest.mark.parametrize("options", [(), ("--json",)])
@pytest.mark.parametrize("unbuffered", [{}, {"PYTHONUNBUFFERED": "1"}])
def test_an_output_on_a_full_disk_is_said_in_two_lines(
    capture: Path, options: tuple[str, ...], unbuffered: dict[str, str]
) -> None:
    with FULL.open("wb") as full:
        code, said = ended("dump", capture, *options, stdout=full, **unbuffered)
    assert (code, len(said.splitlines())) == (2, 2), said
    assert "the output cannot be written (No space left on device)" in said


def test_without_an_output_a_command_does_its_work(capture: Path) -> None:
    command = " ".join([*PROGRAM, "dump", str(capture), ">&-"])
    done = subprocess.run(["sh", "-c", command], stderr=subprocess.PIPE, timeout=LONGEST_S, check=False)
    assert (done.returncode, done.stderr) == (0, b"")


def test_an_argument_that_is_no_text_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    path = tmp_path / "b.capture"
    code, said = ended("capture", path, "--port", "virtual", "--seconds", "0.2", "--operator", b"A\xff")
    assert (code, len(said.splitlines())) == (2, 2), said
    assert "not UTF-8" in said
    assert not path.exists()


def test_a_file_in_a_folder_whose_name_is_no_text_is_named(capture: Path) -> None:
    try:
        os.rename(capture, os.fsencode(capture.parent) + b"/\xff.capture")
    except OSError:
        pytest.skip("this file system takes names in UTF-8 only")
    code, said = ended("judge", capture.parent, "--json")
    assert (code, len(said.splitlines())) == (2, 2), said
    assert "its name is not UTF-8" in said


def test_a_csv_that_no_file_can_become_is_refused(capture: Path) -> None:
    loop = capture.parent / "loop"
    loop.symlink_to(loop)
    for out in (loop, capture.parent / (300 * "x")):
        refused = rodtrue("dump", capture, "--csv", out)
        assert refused.code == 2
        assert "cannot be written" in refused.err


def test_bytes_that_are_no_text_are_no_answer_and_the_next_one_counts() -> None:
    done = subprocess.run(
        [*PROGRAM, "fixture", "maintenance", "--port", "virtual"],
        input=b"\xff\nn\n",
        capture_output=True,
        timeout=LONGEST_S,
        env=os.environ | {"PYTHONIOENCODING": "utf-8:strict"},
        check=False,
    )
    assert (done.returncode, done.stdout.strip()) == (0, b"Nothing was done."), done.stderr


@pytest.mark.parametrize("command", ["check --port virtual --out OUT", "fixture maintenance --port virtual"])
def test_without_an_input_nobody_has_answered(tmp_path: Path, command: str) -> None:
    line = " ".join([*PROGRAM, command.replace("OUT", str(tmp_path)), "<&-"])
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, timeout=LONGEST_S, check=False)
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
