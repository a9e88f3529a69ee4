"""The bench page killed in the middle of a run: the capture is readable, no child lives on, the page starts again."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from bench.study.kill_page import kill_pages
from bench.study.page_driver import CHROMIUM

WITHIN_S = 4.0
"""Processor time after the beginning of a run within which it surely goes on."""


@pytest.mark.slow
def test_a_page_killed_in_a_run_leaves_its_capture_readable_and_starts_again(tmp_path: Path) -> None:
    if not Path(CHROMIUM).exists():
        why = f"no Chromium at {CHROMIUM}; a page killed in a run is untested here"
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail(why)
        pytest.skip(why)
    came = kill_pages(tmp_path / "pages", tmp_path / "temporary", 1, np.random.default_rng(7), whole_s=WITHIN_S)
    assert came.left.wrong == []
    assert (came.struck, came.orphans) == (1, 0)
    assert came.left.captures + came.left.unbegun == 1
