"""PostgreSQL's server killed while jobs are saved in it: said in words, and nothing lost, doubled or half-written."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from bench.study.kill_server import kill_servers
from bench.study.kill_short import Stock
from bench.study.nursery import Nursery
from records.postgresql import installed_programs

KILLS = 3
"""One of each kind: shut down at once, all its processes killed, and while the tables are made."""


@pytest.mark.slow
def test_a_server_killed_in_the_middle_of_a_save_holds_what_was_kept_and_all_or_nothing_of_the_rest(
    nursery: Nursery, stock: Stock, scratch: Path
) -> None:
    if installed_programs() is None:
        why = "PostgreSQL is not installed (Debian: postgresql); a server killed in a save is untested here"
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail(why)
        pytest.skip(why)
    came = kill_servers(nursery, stock.job, scratch / "servers", KILLS, np.random.default_rng(20261125))
    assert came.wrong == []
    assert came.struck == KILLS
