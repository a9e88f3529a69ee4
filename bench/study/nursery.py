"""A process that has loaded the program and is forked for each trial: `python -m bench.study.nursery`.

Each line on standard input is a trial as JSON; the answer is its process number. A trial does one thing, then ends;
it may be killed at any moment, or kills itself with SIGKILL at a numbered call of its own.
"""

from __future__ import annotations

import importlib
import io
import json
import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from types import FrameType, ModuleType
from typing import Any

LOADED = (
    "matplotlib.pyplot",
    "numpy",
    "rich.live",
    "rodtrue.cli",
    "rodtrue.cli.live_show",
    "rodtrue.cli.terminal",
    "rodtrue.judging",
    "rodtrue.records",
    "rodtrue.records.backup",
    "rodtrue.report",
    "rodtrue.run.autopilot",
    "rodtrue.run.guided",
    "rodtrue.run.session",
    "rodtrue.virtual.fixture",
    "scipy.signal",
    "scipy.special",
    "serial",
    "typst",
)
TOUCHING = frozenset(
    (
        *("open", "write", "writelines", "writestr", "flush", "fsync", "truncate", "close"),
        *("replace", "rename", "link", "unlink", "mkdir", "rmdir"),
        *("execute", "executemany", "commit", "rollback"),
    )
)
"""Calls of these names touch what is kept, where they are the system's or an open file's or database's."""
TOUCHED = (ModuleType, io.FileIO, io.BufferedWriter, io.TextIOWrapper, sqlite3.Connection, sqlite3.Cursor)


@dataclass(frozen=True)
class Trial:
    """What a process is to do.

    does: `module:function`. given: its keyword arguments. arguments: those of the command line. answers: a file for
    standard input. dies_at: the number of the call before which it kills itself; counts_to: a file for the number of
    calls made instead. touching: count only calls that touch what is kept.
    """

    does: str
    given: dict[str, Any] = field(default_factory=dict)
    arguments: list[str] = field(default_factory=list)
    answers: str = os.devnull
    folder: str = "."
    dies_at: int | None = None
    counts_to: str | None = None
    touching: bool = False


class Nursery:
    """The process, and what is born in it. A context manager."""

    def __init__(self, scratch: Path) -> None:
        scratch.mkdir(parents=True, exist_ok=True)
        (scratch / "temporary").mkdir(exist_ok=True)
        environment = {
            **os.environ,
            "TMPDIR": str(scratch / "temporary"),
            "RODTRUE_DATA": str(scratch / "data"),
            "MPLBACKEND": "Agg",
        }
        self.said = scratch / "said"
        with self.said.open("ab") as said:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "bench.study.nursery"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=said,
                text=True,
                env=environment,
                cwd=Path(__file__).parents[2],
            )
        self._answer()

    def begin(self, trial: Trial) -> int:
        """Begin a trial and return its process number."""
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(asdict(trial)) + "\n")
        self._process.stdin.flush()
        return int(self._answer())

    def __enter__(self) -> Nursery:
        return self

    def __exit__(self, *_: object) -> None:
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()

    def _answer(self) -> str:
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        if not line:
            raise RuntimeError(f"the nursery has ended: {self.said.read_text()[-2000:]}")
        return line.strip()


def main() -> None:
    """Load the program, then fork at each line."""
    for name in LOADED:
        importlib.import_module(name)
    # Nobody waits for a trial: its number is free as soon as it has ended.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    print("loaded", flush=True)
    for line in sys.stdin:
        trial = Trial(**json.loads(line))
        child = os.fork()
        if child == 0:
            _live(trial)
        print(child, flush=True)


def _live(trial: Trial) -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    for number, path in ((0, trial.answers), (1, os.devnull)):
        opened = os.open(path, os.O_RDWR if number else os.O_RDONLY)
        os.dup2(opened, number)
        os.close(opened)
    sys.stdin, sys.stdout = open(0, closefd=False), open(1, "w", closefd=False)  # noqa: SIM115 - as long as it lives
    os.chdir(trial.folder)
    sys.argv = ["rodtrue", *trial.arguments]
    module, _, function = trial.does.partition(":")
    work = getattr(importlib.import_module(module), function)
    status = 1
    try:
        calls = _Calls(trial)
        work(**trial.given)
        calls.end()
        status = 0
    except SystemExit as ended:
        calls.end()
        status = ended.code if isinstance(ended.code, int) else 1
    except BaseException:
        sys.excepthook(*sys.exc_info())
    finally:
        sys.stderr.flush()
        os._exit(status)


class _Calls:
    """Counts calls from now on, and dies at the one asked for."""

    def __init__(self, trial: Trial) -> None:
        self._trial = trial
        self._made = 0
        if trial.dies_at is not None or trial.counts_to is not None:
            sys.setprofile(self._touching if trial.touching else self._every)

    def end(self) -> None:
        sys.setprofile(None)
        if self._trial.counts_to is not None:
            Path(self._trial.counts_to).write_text(str(self._made))

    def _every(self, _frame: FrameType, event: str, _what: Any) -> None:
        if event in ("call", "c_call"):
            self._count()

    def _touching(self, _frame: FrameType, event: str, what: Callable[..., Any]) -> None:
        if event in ("c_call", "c_return") and what.__name__ in TOUCHING:
            owner = getattr(what, "__self__", None)
            if isinstance(owner, TOUCHED) and owner is not sys.stdout:
                self._count()

    def _count(self) -> None:
        if self._made == self._trial.dies_at:
            os.kill(os.getpid(), signal.SIGKILL)
        self._made += 1


if __name__ == "__main__":
    main()
