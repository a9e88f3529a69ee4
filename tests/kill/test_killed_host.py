"""The host killed with SIGKILL, and what it left opened again. Two hundred moments: `python -m bench.kill`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bench.kill import kill_stores
from bench.study import killing
from bench.study.after_a_kill import Left, run_left
from bench.study.kill_short import WORKS, Stock, kill_short_work
from bench.study.nursery import Nursery, Trial
from kill.conftest import AS_FOUND, Lived

SEED = 20261125
MOMENTS = 6


@pytest.mark.slow
def test_a_killed_run_leaves_its_capture_readable_nothing_half_written_and_no_child(
    nursery: Nursery, lived: Lived, scratch: Path
) -> None:
    left = Left()
    shares = (np.arange(MOMENTS) + np.random.default_rng(SEED).uniform(size=MOMENTS)) / MOMENTS
    had_children = 0
    for number, share in enumerate(shares):
        out = scratch / f"killed-{number}"
        pid = nursery.begin(Trial("rodtrue.cli:main", arguments=[*AS_FOUND, str(out)]))
        children = killing.kill_after(pid, float(share) * lived.whole_s) or []
        had_children += bool(children)
        assert killing.still_there([pid, *children]) == []
        for folder in out.iterdir() if out.is_dir() else []:
            run_left(folder, left, lived.folder)
    assert left.wrong == []
    assert left.captures >= 2 and had_children >= 2, "kills that strike nothing show nothing"


@pytest.mark.slow
@pytest.mark.parametrize("name", WORKS)
def test_a_killed_work_leaves_what_stood_before_or_all_of_the_new(nursery: Nursery, stock: Stock, name: str) -> None:
    struck, wrong = kill_short_work(nursery, stock, name, 6, np.random.default_rng(SEED))
    assert wrong == []
    assert struck >= 4


@pytest.mark.slow
def test_a_fixture_holds_the_calibration_it_acknowledged_last_or_the_one_after(
    nursery: Nursery, stock: Stock, scratch: Path
) -> None:
    struck, wrong = kill_stores(nursery, stock.calibration, scratch / "stores", 2, np.random.default_rng(SEED))
    assert wrong == []
    assert struck >= 1
