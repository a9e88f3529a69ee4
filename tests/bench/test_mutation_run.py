"""A whole mutation run on a small tree: what a weak test lets through is told, the tree is left as it was."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
MODULE = "host/steps.py"
SOURCE = """def steps(length, width):
    if width <= 0:
        return None
    return length // width
"""
TESTS = """import steps
def test_whole_steps():
    assert steps.steps(7, 2) == 3
"""
AT_ITS_LIMIT = """def test_no_width_no_steps():
    assert steps.steps(7, 0) is None
    assert steps.steps(7, 1) == 7
"""
RUN = f"""import sys
import pytest
from bench.mutation import FLAGS, Drawn, Trial
trial = Trial("host", ["{MODULE}"], Drawn(0, 1, frozenset(), 10.0))
pytest.main([*FLAGS, "tests"], plugins=[trial])
print(trial.survivors, "left")
"""


def told(folder: Path, tests: str) -> list[str]:
    """Return what a run says of a tree with these tests."""
    for room, name, text in (("host", "steps.py", SOURCE), ("tests", "test_steps.py", tests)):
        (folder / room).mkdir(parents=True)
        (folder / room / name).write_text(text, "utf-8")
    path = os.pathsep.join(map(str, (ROOT, folder / "host")))
    outside = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST")}
    done = subprocess.run(
        [sys.executable, "-B", "-c", RUN], cwd=folder, env={**outside, "PYTHONPATH": path},
        capture_output=True, text=True, timeout=300, check=True,
    )  # fmt: skip
    assert (folder / MODULE).read_text("utf-8") == SOURCE
    return [line.lstrip(".") for line in done.stdout.splitlines() if line.strip(".")]


def test_survivors_are_told_with_their_line_and_none_is_left_once_the_limits_are_tested(tmp_path):
    weak = told(tmp_path / "weak", TESTS)
    assert weak == [
        f"{MODULE}:2: width <= 0  ->  width < 0  [1 tests]",
        f"{MODULE}:2: 0  ->  1  [1 tests]",
        f"{MODULE}: 4 of 4 mutants, 2 noticed, 2 not",
        "2 left",
    ]
    strong = told(tmp_path / "strong", TESTS + AT_ITS_LIMIT)
    assert strong == [f"{MODULE}: 4 of 4 mutants, 4 noticed, 0 not", "0 left"]
