"""Do the tests notice a wrong line? `python -m bench.mutation [MODULE...] [--sample N] [--seed S]`.

Works on a copy of the tree in a temporary folder, never on the tree itself. First every test of the room
runs once, and what lines it reaches is written down; then each mutant (`study.mutants`) meets the tests that
reach its line, quickest first, until one fails. A mutant that none notices is printed: a survivor. Each run is a
fork of one pytest that has collected its tests, with a limit on processor time, so that a busy machine
decides nothing. Inside the fork a host module's functions and constants are changed where they stand; who is left is
tried once more from its file, in a fresh Python. A firmware file is changed in the copy, and MicroPython reads it.

A tool of our own, because one mutator has to serve the host's modules and the firmware's files, which run in
another interpreter, and a fresh Python for each mutant takes longer than most of these tests.
"""

from __future__ import annotations

import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from bench.study.mutants import Mutant, mutants
from bench.study.mutants_in_place import change_in_place
from bench.study.page import ROOT

COPIED = ("host", "protocol", "firmware", "hardware", "shared", "tests", "pyproject.toml")
TESTS = {
    "host/rodtrue/analysis": ["tests/analysis"],
    "protocol/rodtrue_protocol": ["tests/protocol"],
    "firmware": [
        "tests/protocol/test_vectors.py",
        "tests/protocol/test_firmware_framing.py",
        "tests/protocol/test_firmware_blocks.py",
        "tests/firmware/test_sampling.py",
    ],
}
FLAGS = ["-qq", "-s", "-p", "no:xdist", "-p", "no:cacheprovider", "-p", "no:rerunfailures"]
GENERATED = ("__init__.py", "messages.py")


@dataclass
class Timed:
    """What one test took, in processor seconds, and which lines it reached, by module."""

    seconds: float = 0.0
    lines: dict[str, list[int]] = field(default_factory=dict)


@dataclass(frozen=True)
class Drawn:
    """Which of a module's mutants are tried: so many (0: all) by this seed, on these lines where any are named.

    most_s: processor seconds of tests, as they took unchanged, that one mutant meets at the most.
    """

    sample: int
    seed: int
    lines: frozenset[int]
    most_s: float


class Trial:
    """A pytest plugin that runs the collected tests once as they are, then against each mutant."""

    def __init__(self, folder: str, modules: list[str], drawn: Drawn) -> None:
        self._folder, self._modules, self._drawn = folder, modules, drawn
        self.survivors = 0

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Take the place of pytest's own loop over the tests."""
        tests = self._reached(session)
        for module in self._modules:
            source = Path(module).read_text("utf-8")
            every = [m for m in mutants(source) if not self._drawn.lines or m.line in self._drawn.lines]
            count = min(self._drawn.sample or len(every), len(every))
            order = sorted(random.Random(f"{self._drawn.seed} {module}").sample(range(len(every)), count))
            left = [every[i] for i in order if self._survives(session, module, source, every[i], tests)]
            self.survivors += len(left)
            told = f"{count} of {len(every)} mutants, {count - len(left)} noticed, {len(left)} not"
            print(f"{module}: {told}", flush=True)
        return True

    def _survives(
        self, session: pytest.Session, module: str, source: str, mutant: Mutant, tests: dict[str, Timed]
    ) -> bool:
        items = covering(session.items, tests, module, mutant.line, self._drawn.most_s)
        seconds = 10 + 5 * sum(tests[item.nodeid].seconds for item in items)

        def in_place() -> bool:
            change_in_place(module, mutant.source)
            return passes(session, items)

        on_board = module.startswith("firmware")
        if not on_board and not in_fork(in_place, seconds):
            return False
        try:
            Path(module).write_text(mutant.source, "utf-8")
            again = (lambda: passes(session, items)) if on_board else (lambda: passes_afresh(items))
            unnoticed = in_fork(again, seconds)
        finally:
            Path(module).write_text(source, "utf-8")
        if unnoticed:
            print(f"{module}:{mutant.line}: {mutant.what}  [{len(items)} tests]", flush=True)
        return unnoticed

    def _reached(self, session: pytest.Session) -> dict[str, Timed]:
        """Return what each test takes and reaches, from an unchanged run (kept in the copy)."""
        kept = Path("reached-" + self._folder.replace("/", "-") + ".json")
        known = json.loads(kept.read_text()) if kept.exists() else {}
        new = [item for item in session.items if item.nodeid not in known]
        if new:
            folder = Path.cwd() / self._folder
            if not in_fork(lambda: watch(session, new, folder, Path("new.json")), 3600, quiet=False):
                raise pytest.UsageError("the tests do not pass on the unchanged tree")
            known |= json.loads(Path("new.json").read_text())
            kept.write_text(json.dumps(known))
        return {name: Timed(**test) for name, test in known.items()}


def passes(session: pytest.Session, items: list[pytest.Item], finished: Callable[[str], None] | None = None) -> bool:
    """Run the tests until one fails; whether none did."""
    for item, following in pairwise([*items, None]):
        assert item is not None
        session.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return False
        if finished:
            finished(item.nodeid)
    return True


def passes_afresh(items: list[pytest.Item]) -> bool:
    """Run the tests in a new Python; whether none failed."""
    names = [item.nodeid for item in items]
    path = os.pathsep.join(str(Path.cwd() / room) for room in ("host", "protocol"))
    command = [sys.executable, "-B", "-m", "pytest", "-x", *FLAGS, *names]
    return subprocess.run(command, env={**os.environ, "PYTHONPATH": path}, check=False).returncode == 0


def in_fork(work: Callable[[], bool], seconds: float, quiet: bool = True) -> bool:
    """Return what `work` gives in a fork; false where it takes more processor time, or falls over."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
            signal.signal(signal.SIGXCPU, signal.SIG_DFL)
            if quiet:
                for stream in (1, 2):
                    os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
            code = 0 if work() else 1
        finally:
            sys.stdout.flush()
            os._exit(code)
    return os.waitpid(child, 0)[1] == 0


def watch(session: pytest.Session, items: list[pytest.Item], folder: Path, kept: Path) -> bool:
    """Run the tests unchanged and write down what each takes and reaches in `folder`."""
    here = len(str(Path.cwd())) + 1
    reached: dict[str, set[int]] = {}
    tests: dict[str, Timed] = {}
    began = time.process_time()

    def trace(frame: Any, event: str, _: Any) -> Any:
        name = frame.f_code.co_filename
        if not name.startswith(str(folder)):
            return None
        lines = reached.setdefault(name[here:], set())

        def line(frame: Any, event: str, _: Any) -> Any:
            lines.add(frame.f_lineno)
            return line

        return line(frame, event, _)

    def finished(name: str) -> None:
        nonlocal began
        tests[name] = Timed(time.process_time() - began, {m: sorted(lines) for m, lines in reached.items()})
        reached.clear()
        began = time.process_time()

    sys.settrace(trace)
    passed = passes(session, items, finished)
    sys.settrace(None)
    if passed:
        kept.write_text(json.dumps({name: asdict(test) for name, test in tests.items()}))
    return passed


def covering(
    items: list[pytest.Item], tests: dict[str, Timed], module: str, line: int, most_s: float
) -> list[pytest.Item]:
    """Return the tests that a mutant meets: those that reach its line, quickest first, within `most_s`.

    Where none does (a line that runs at import, one of the firmware) all that reach the module count, or all.
    """
    hit = [item for item in items if line in tests[item.nodeid].lines.get(module, [])]
    hit = hit or [item for item in items if module in tests[item.nodeid].lines] or items
    chosen, total = [], 0.0
    for item in sorted(hit, key=lambda item: tests[item.nodeid].seconds):
        total += tests[item.nodeid].seconds
        if chosen and total > most_s:
            break
        chosen.append(item)
    return chosen


def all_modules() -> list[str]:
    """Return what is tried where no module is named: the analysis, and the codec on both sides."""
    found = [*ROOT.glob("host/rodtrue/analysis/*.py"), *ROOT.glob("protocol/rodtrue_protocol/*.py")]
    host = [str(path.relative_to(ROOT)) for path in sorted(found) if path.name not in GENERATED]
    return [*host, "firmware/framing.py", "firmware/blocks.py"]


def copy_tree(copy: Path) -> None:
    """Copy what the tests need."""
    for name in COPIED:
        if (ROOT / name).is_dir():
            skipped = shutil.ignore_patterns("__pycache__")
            shutil.copytree(ROOT / name, copy / name, dirs_exist_ok=True, ignore=skipped)
        else:
            shutil.copy2(ROOT / name, copy / name)


def main(arguments: list[str] | None = None) -> None:
    """Try the named modules, or a sample of all."""
    parser = ArgumentParser(prog="python -m bench.mutation", description="Mutation test of analysis and codec.")
    parser.add_argument("modules", nargs="*", metavar="MODULE", help="paths in the tree; all where none is named")
    parser.add_argument("--sample", type=int, default=12, help="mutants a module, drawn by the seed (12); 0 for all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--lines", default="", help="only mutants on these lines: 12,40,41")
    most = "processor seconds of tests, as they take unchanged, that one mutant meets at the most (40)"
    parser.add_argument("--most", type=float, default=40.0, help=most)
    parser.add_argument("--copy", type=Path, help="make the copy here and keep it, with what the tests reach")
    chosen = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as fresh:
        copy = (chosen.copy or Path(fresh)).resolve()
        copy_tree(copy)
        os.chdir(copy)
        sys.dont_write_bytecode = True  # a changed file must not be met by the last one's compiled form
        sys.path[:0] = [str(copy / "host"), str(copy / "protocol")]
        lines = frozenset(int(line) for line in chosen.lines.split(",") if line)
        drawn = Drawn(chosen.sample, chosen.seed, lines, chosen.most)
        survivors = 0
        for folder, tests in TESTS.items():
            modules = [name for name in chosen.modules or all_modules() if name.startswith(folder)]
            if modules:
                trial = Trial(folder, modules, drawn)
                pytest.main([*FLAGS, "-m", "not slow", *tests], plugins=[trial])
                survivors += trial.survivors
        print(f"{survivors} not noticed")


if __name__ == "__main__":
    main(sys.argv[1:])
