"""The virtual plant's sensors calibrated on the virtual bench: known errors found, undecided runs decided."""

from collections import Counter

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


@pytest.mark.slow
def test_gain_offset_and_curvature_lie_in_their_intervals_at_least_91_times_in_100() -> None:
    held: Counter[str] = Counter()
    for seed in range(SEEDS):
        truth = bent_sensors(seed)
        document = calibrate(truth, seed)
        for channel, known in zip(document.channels, known_errors(truth), strict=True):
            held.update({f"{channel.quantity} {name}": ok for name, ok in covered(channel, known).items()})
    assert len(held) == 6
    assert min(held.values()) >= 0.91 * SEEDS, held


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
