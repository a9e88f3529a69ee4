"""The mutator: which small wrong changes it makes, and that a change put in place is met by whoever took the code."""

import ast
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from bench.mutation import Timed, all_modules, covering, in_fork
from bench.study.mutants import mutants
from bench.study.mutants_in_place import change_in_place

ROOT = Path(__file__).parents[2]

SOURCE = '''
@wrapped(1)
def kept(value: Bounded[3], low, high=2.5):
    """At most 7."""
    if low:
        raise ValueError(f"{value + 1} is not below 9")
    store(value)
    held = value // 4 > 0.0 and value not in low
    held += True
    return min(value, -high) if value is None else any(low)
'''

CHANGED = [
    "def kept(value: Bounded[3], low, high=5.0):",
    "if not low:",
    "None",  # for store(value)
    "held = value // 4 > 0.0 or value not in low",
    "held = value // 4 >= 0.0 and value not in low",
    "held = value * 4 > 0.0 and value not in low",
    "held = value // 5 > 0.0 and value not in low",
    "held = value // 4 > 1.0 and value not in low",
    "held = value // 4 > 0.0 and value in low",
    "held -= True",
    "held += False",
    "return None",
    "return min(value, -high) if value is not None else any(low)",
    "return max(value, -high) if value is None else any(low)",
    "return min(value, --high) if value is None else any(low)",
    "return min(value, -high) if value is None else all(low)",
]
"""Every change by hand; the decorator, the annotation, the docstring and the error with its wording stay."""


def changed_line(whole: str, mutant: str) -> str:
    """Return the one line in which a mutant differs."""
    pairs = zip(whole.splitlines(), mutant.splitlines(), strict=True)
    (line,) = [after.strip() for before, after in pairs if before != after]
    return line


def test_each_small_change_is_made_once_and_words_are_left_alone():
    whole = ast.unparse(ast.parse(SOURCE))
    found = mutants(SOURCE)
    assert sorted(changed_line(whole, mutant.source) for mutant in found) == sorted(CHANGED)


def test_a_mutant_names_its_line_and_what_it_does():
    told = {(mutant.line, mutant.what) for mutant in mutants("a = 1\nif a:\n    b = a < 3\n")}
    assert told == {(1, "1  ->  2"), (2, "a  ->  not a"), (3, "a < 3  ->  a <= 3"), (3, "3  ->  4")}


@pytest.mark.parametrize("module", ["host/rodtrue/analysis/interval.py", "firmware/framing.py"])
def test_every_mutant_of_a_real_module_compiles_and_is_another_program(module):
    source = (ROOT / module).read_text("utf-8")
    whole = ast.unparse(ast.parse(source))
    found = mutants(source)
    assert len(found) > 50
    for mutant in found:
        compile(mutant.source, module, "exec")
        changed_line(whole, mutant.source)


def test_what_is_tried_unnamed_is_there_and_what_is_generated_is_not_tried():
    names = all_modules()
    assert all((ROOT / name).is_file() for name in names)
    assert {"host/rodtrue/analysis/ramp.py", "protocol/rodtrue_protocol/codec.py", "firmware/blocks.py"} <= set(names)
    assert not any(name.endswith(("__init__.py", "messages.py")) for name in names)


MODULE = """
from functools import cache, cached_property
LEAST = 3
def plain(value, more=1):
    return value + more
@cache
def remembered(value):
    return value + 1
class Thing:
    def method(self):
        return 1
    @property
    def looked_up(self):
        return 1
    @cached_property
    def worked_out(self):
        return 1
    @staticmethod
    def alone():
        return 1
"""


@pytest.fixture
def module(tmp_path, monkeypatch) -> ModuleType:
    """An imported module whose file stands in the folder we are in."""
    (tmp_path / "made_up.py").write_text(MODULE, "utf-8")
    monkeypatch.chdir(tmp_path)
    spec = importlib.util.spec_from_file_location("made_up", tmp_path / "made_up.py")
    made = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "made_up", made)
    spec.loader.exec_module(made)
    return made


def test_who_took_a_function_by_its_name_meets_the_change(module):
    plain, thing = module.plain, module.Thing()
    changed = MODULE.replace("+", "-").replace("return 1", "return 2").replace("more=1", "more=5")
    change_in_place("made_up.py", changed)
    assert module.plain is plain
    assert (plain(3, 1), plain(3)) == (2, -2)
    assert module.remembered(3) == 2
    assert (thing.method(), thing.looked_up, thing.worked_out, thing.alone()) == (2, 2, 2, 2)


def test_a_constant_changes_for_all_who_took_it_by_its_name_and_for_no_one_else(module, monkeypatch):
    taker, other = ModuleType("taker"), ModuleType("other")
    module.LEAST = taker.LEAST = 1000.5
    other.LEAST = float("1000.5")  # equal, and another object
    for each in (taker, other):
        monkeypatch.setitem(sys.modules, each.__name__, each)
    change_in_place("made_up.py", MODULE.replace("LEAST = 3", "LEAST = 4"))
    assert (module.LEAST, taker.LEAST, other.LEAST) == (4, 4, 1000.5)


class Item:
    def __init__(self, nodeid: str) -> None:
        self.nodeid = nodeid


def test_a_mutant_meets_the_tests_that_reach_its_line_quickest_first_within_the_time():
    slow, quick, elsewhere, other = items = [Item(name) for name in ("slow", "quick", "elsewhere", "other")]
    tests = {
        "slow": Timed(3.0, {"m.py": [1, 2]}),
        "quick": Timed(1.0, {"m.py": [2]}),
        "elsewhere": Timed(2.0, {"m.py": [9]}),
        "other": Timed(0.1, {"n.py": [2]}),
    }
    assert covering(items, tests, "m.py", 2, 10.0) == [quick, slow]
    assert covering(items, tests, "m.py", 2, 3.9) == [quick]
    assert covering(items, tests, "m.py", 1, 0.5) == [slow], "one at the least"
    assert covering(items, tests, "m.py", 5, 10.0) == [quick, elsewhere, slow], "no test's line: who reaches the file"
    assert covering(items, tests, "k.py", 5, 10.0) == [other, quick, elsewhere, slow], "no test's file: all"


def spin() -> bool:
    while True:
        pass


def test_work_in_a_fork_that_fails_falls_over_or_never_ends_is_noticed():
    assert in_fork(lambda: True, 10)
    assert not in_fork(lambda: False, 10)
    assert not in_fork(lambda: 1 // 0 == 0, 10)
    assert not in_fork(spin, 0)
