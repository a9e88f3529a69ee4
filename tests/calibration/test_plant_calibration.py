"""The virtual plant's sensors calibrated on the virtual bench: known errors found, undecided runs decided."""

from collections import Counter

import numpy as np
import pytest

from bench.study.calibrated_runs import (
    before_and_after,
    bent_sensors,
    calibrate,
    covered,
    known_errors,
    study_profile,
)
from rodtrue.calibration.channel import reading_uncertainty, residuals

SEEDS = 200


WIDEST = 1.75 * 1.96
"""Mean expanded uncertainty over the root mean square of the errors made: a normal's 1.96, Student's factor for seven
degrees of freedom (2.36), and what a rectangular reference adds; an interval twice too wide is beyond it.
"""


@pytest.mark.slow
def test_known_errors_lie_in_their_intervals_91_times_in_100_and_these_are_no_wider_than_need_be() -> None:
    held: Counter[str] = Counter()
    made: dict[str, list[float]] = {}
    stated: dict[str, list[float]] = {}
    for seed in range(SEEDS):
        truth = bent_sensors(seed)
        document = calibrate(truth, seed)
        for channel, known in zip(document.channels, known_errors(truth), strict=True):
            held.update({f"{channel.quantity} {name}": ok for name, ok in covered(channel, known).items()})
            for name in ("offset", "gain", "curvature"):
                found = getattr(channel.errors, name)
                made.setdefault(f"{channel.quantity} {name}", []).append(found.value - getattr(known, name))
                stated.setdefault(f"{channel.quantity} {name}", []).append(found.expanded_uncertainty)
    assert len(held) == 6
    assert min(held.values()) >= 0.91 * SEEDS, held
    wide = {name: np.mean(stated[name]) / np.sqrt(np.mean(np.square(made[name]))) for name in made}
    assert max(wide.values()) <= WIDEST, wide


@pytest.mark.slow
def test_runs_undecided_without_a_calibration_are_decided_rightly_with_it_and_none_is_wrong() -> None:
    profile = study_profile(6.0)
    undecided = 0
    for error_mm in (-6.35, -5.65):
        for seed in range(40):
            pair = before_and_after(profile, error_mm, seed, "bench")
            assert pair.before.verdict in (pair.right, "undecided"), (error_mm, seed)
            assert pair.after.verdict in (pair.right, "undecided"), (error_mm, seed)
            if pair.before.verdict == "undecided":
                undecided += 1
                assert pair.after.verdict == pair.right, (error_mm, seed)
    assert undecided >= 3


def test_a_calibrated_reading_lies_within_its_uncertainty_of_the_reference() -> None:
    document = calibrate(bent_sensors(3), 3)
    for channel in document.channels:
        limits = [reading_uncertainty(channel, point.reference).expanded_uncertainty for point in channel.points]
        inside = [abs(left) <= limit for left, limit in zip(residuals(channel), limits, strict=True)]
        assert sum(inside) >= 0.9 * len(inside)
