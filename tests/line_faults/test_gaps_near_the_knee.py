"""Samples lost near the lever start: strokes are refused or the interval widens; the verdict is never wrong."""

from __future__ import annotations

import pytest

from line_faults.gaps import drawn_pair

SEEDS = range(12)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_gap_near_the_lever_start_never_makes_a_verdict_wrong(seed: int) -> None:
    pair = drawn_pair(seed)
    assert pair.lost > 0
    assert not pair.is_wrong, f"{pair.case.rod_error_mm:+.3f} mm was called {pair.gapped.verdict}; {pair.gaps}"
    assert pair.is_honest, f"narrower with gaps than without: {pair.gaps}"
    assert any(finding.code == "samples_lost" for finding in pair.gapped.findings) or pair.lost < 50
