"""Result pages: a table in Markdown and the same as JSON, with what was run on what."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
RESULTS = ROOT / "bench" / "results"


@dataclass(frozen=True)
class Line:
    """One figure against its goal.

    goal: in words. plant, second: what was reached on either generator, in words; where no generator is
    used, `plant` holds the figure and `second` is empty. met: None where the row has no goal of its own.
    """

    what: str
    goal: str
    plant: str
    second: str = ""
    met: bool | None = None


@dataclass(frozen=True)
class Page:
    """One benchmark's results: figures against goals, and a table with the details."""

    name: str
    title: str
    input: str
    lines: Sequence[Line]
    head: Sequence[str] = ()
    rows: Sequence[Sequence[Any]] = ()
    notes: Sequence[str] = ()
    packages: Sequence[str] = ("numpy", "scipy")
    data: dict[str, Any] = field(default_factory=dict)

    def write(self) -> None:
        """Write results/<name>.md and .json, and print the figures."""
        about = ran_on(self.packages)
        RESULTS.mkdir(exist_ok=True)
        kept = {"input": self.input, "about": about, "lines": [asdict(line) for line in self.lines], **self.data}
        (RESULTS / f"{self.name}.json").write_text(json.dumps(kept, indent=1) + "\n")
        text = [
            f"# {self.title}",
            "",
            f"Written by `python -m bench.{self.name}`. Synthetic data, not a measurement.",
        ]
        text += ["", f"- input: {self.input}", f"- {about}", "", *figures(self.lines)]
        if self.rows:
            text += ["", *table(self.head, self.rows)]
        if self.notes:
            text += ["", *self.notes]
        (RESULTS / f"{self.name}.md").write_text("\n".join(text) + "\n")
        print(f"{self.title}\n  input: {self.input}\n  {about}")
        for line in self.lines:
            second = f" | second generator: {line.second}" if line.second else ""
            print(f"  {verdict(line):9s} {line.what}: {line.plant}{second} (goal: {line.goal})", flush=True)


def verdict(line: Line) -> str:
    """Return the line's last cell."""
    return {True: "yes", False: "**missed**", None: "-"}[line.met]


def figures(lines: Sequence[Line]) -> list[str]:
    """Return the table of figures against goals."""
    cells = [(line.what, line.goal, line.plant, line.second or "-", verdict(line)) for line in lines]
    return table(("what", "goal", "plant, or the figure", "second generator", "met?"), cells)


def table(head: Sequence[str], rows: Sequence[Sequence[Any]]) -> list[str]:
    """Return a Markdown table's lines."""
    lines = ["| " + " | ".join(head) + " |", "| " + " | ".join("---" for _ in head) + " |"]
    return lines + ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows]


def ran_on(packages: Sequence[str]) -> str:
    """Return commit, interpreter, machine with its load over the last minute, and versions on one line."""
    found = [f"Python {platform.python_version()}"]
    for package in packages:
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            found.append(f"{package} not installed")
    machine = f"{platform.machine()}, {platform.system()}, load {os.getloadavg()[0]:.1f}"
    return f"commit {commit()}; {machine}; " + ", ".join(found)


def commit() -> str:
    """Return the commit's short name, with `+` where the package's files differ from it."""
    try:
        name = _git("rev-parse", "--short", "HEAD")
        changed = _git(
            "status", "--porcelain", "--untracked-files=no", "--", "host", "protocol", "firmware", "shared"
        )
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return name + ("+" if changed else "")


def _git(*words: str) -> str:
    return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()


def runs_asked(default: int) -> int:
    """Return the runs per cell: `--runs N` on the command line, else the default."""
    parser = ArgumentParser(add_help=False)
    parser.add_argument("--runs", type=int, default=default)
    runs: int = parser.parse_known_args(sys.argv[1:])[0].runs
    return runs
