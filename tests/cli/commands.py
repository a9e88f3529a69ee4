"""Running the program as a person does: a process, its exit code, and what it prints where."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

PROGRAM = [sys.executable, "-m", "rodtrue"]
LONGEST_S = 300


@dataclass(frozen=True)
class Ended:
    """A process that has ended."""

    code: int
    out: str
    err: str


def rodtrue(*arguments: object, stdin: str = "", **environment: str) -> Ended:
    """Run the program to its end."""
    done = subprocess.run(
        [*PROGRAM, *map(str, arguments)],
        input=stdin,
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
    )
    assert "Traceback" not in done.stderr + done.stdout
    return Ended(done.returncode, done.stdout, done.stderr)


@contextmanager
def running(*arguments: object) -> Iterator[subprocess.Popen[str]]:
    """Run the program beside the test; ended with the block if it has not ended itself."""
    with subprocess.Popen(
        [*PROGRAM, *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            yield process
        finally:
            if process.poll() is None:
                process.kill()


@contextmanager
def served_fixture(*arguments: object) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Serve a virtual fixture in a process of its own; yields the process and the port to open."""
    with running("fixture", "virtual", *arguments) as process:
        assert process.stdout is not None
        yield process, process.stdout.readline().strip()
