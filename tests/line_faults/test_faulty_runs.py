"""A whole run over a bad line goes on with its gaps stated or ends with an error in words; never a wrong verdict."""

from __future__ import annotations

from pathlib import Path

import pytest

from line_faults.faulty_line import Faults
from line_faults.faulty_runs import faulty_run

EVERYTHING = Faults(bit_errors=1e-5, lost=0.003, repeated=0.003, reordered=0.003, delayed=0.001)


@pytest.mark.parametrize(
    ("faults", "rod_error_mm", "seed"),
    [
        (Faults(bit_errors=1e-6), -0.3, 1),
        (Faults(bit_errors=1e-5), 1.6, 2),
        (Faults(bit_errors=1e-4), -2.5, 3),
        (Faults(bit_errors=1e-3), 2.5, 4),
        (Faults(bit_errors=1e-2), -2.5, 5),
        (Faults(lost=0.01), 0.2, 6),
        (Faults(repeated=0.05), -2.5, 7),
        (Faults(reordered=0.02), 3.0, 8),
        (Faults(delayed=0.002, late_reads=40), -1.2, 9),
        (EVERYTHING, 0.3, 10),
    ],
    ids=str,
)
def test_a_run_over_a_bad_line_ends_well_or_in_words(
    tmp_path: Path, faults: Faults, rod_error_mm: float, seed: int
) -> None:
    ending = faulty_run(tmp_path, faults, rod_error_mm=rod_error_mm, seed=seed, real_firmware=False)
    assert ending.damaged_bits + ending.touched_packets > 0, "the line did nothing"
    assert ending.verdict is not None or ending.error is not None


@pytest.mark.parametrize("faults", [Faults(bit_errors=1e-5), EVERYTHING], ids=str)
def test_the_firmware_itself_over_a_bad_line(tmp_path: Path, faults: Faults) -> None:
    ending = faulty_run(tmp_path, faults, rod_error_mm=-2.5, seed=11, real_firmware=True)
    assert ending.damaged_bits + ending.touched_packets > 0
    assert ending.received > 0
    assert ending.missing > 0


def test_repeated_packets_alone_cost_nothing(tmp_path: Path) -> None:
    ending = faulty_run(tmp_path, Faults(repeated=0.05), rod_error_mm=-2.5, seed=12, real_firmware=False)
    assert (ending.verdict, ending.missing) == ("short", 0)


@pytest.mark.parametrize("seed", range(8))
def test_a_greeting_over_a_bad_line_succeeds_or_is_refused_in_words(tmp_path: Path, seed: int) -> None:
    faults = Faults(bit_errors=2e-2)
    ending = faulty_run(
        tmp_path, faults, rod_error_mm=-2.5, seed=seed, real_firmware=False, from_start=True
    )
    assert ending.error is not None
    assert ending.device_time_s < 60.0
