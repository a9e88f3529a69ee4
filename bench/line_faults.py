"""Whole runs over a bad line, many of them, on the firmware in virtual time: `python -m bench.line_faults --runs 6`.

Each cell of the table is one kind and rate of fault, with units drawn from the seed. A run must go on with its gap
stated or end with an error in words; a verdict that is not the unit's, an interval that leaves the truth out, a
sample gone without being stated, or a run without end is a broken promise, printed and counted.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from line_faults.faulty_line import Faults
from line_faults.faulty_runs import faulty_run

CELLS = {
    **{f"bit errors {rate:g}": Faults(bit_errors=rate) for rate in (1e-6, 1e-5, 1e-4, 3e-4, 1e-3, 1e-2)},
    **{f"packets lost {rate:g}": Faults(lost=rate) for rate in (0.001, 0.01, 0.1)},
    **{f"packets repeated {rate:g}": Faults(repeated=rate) for rate in (0.01, 0.3)},
    **{f"packets reordered {rate:g}": Faults(reordered=rate) for rate in (0.001, 0.01, 0.1)},
    "packets 0.8 s late 0.002": Faults(delayed=0.002, late_reads=20),
    "packets 2.4 s late 0.001": Faults(delayed=0.001, late_reads=60),
    "all at once": Faults(bit_errors=1e-5, lost=0.002, repeated=0.002, reordered=0.002, delayed=0.001),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=6, help="runs a cell")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--without-firmware", action="store_true", help="on the plant's frames alone: faster")
    given = parser.parse_args()
    broken = 0
    print("| fault | runs | verdicts | ended in words | samples missing | broken |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name, faults in CELLS.items():
        rng = Random(f"{given.seed} {name}")
        verdicts: Counter[str] = Counter()
        errors = missing = received = here = 0
        for _ in range(given.runs):
            rod_error_mm, seed = rng.uniform(-4.0, 4.0), rng.randrange(10**6)
            with tempfile.TemporaryDirectory() as folder:
                try:
                    ending = faulty_run(
                        Path(folder),
                        faults,
                        rod_error_mm=rod_error_mm,
                        seed=seed,
                        real_firmware=not given.without_firmware,
                    )
                except Exception as promise:
                    here += 1
                    print(f"BROKEN {name}, rod {rod_error_mm:+.3f} mm, seed {seed}: {promise!r}", flush=True)
                    continue
            verdicts[ending.verdict or ""] += ending.verdict is not None
            errors += ending.error is not None
            missing, received = missing + ending.missing, received + ending.received
        told = ", ".join(f"{count} {word}" for word, count in sorted(verdicts.items()) if word and count)
        share = 100 * missing / max(1, missing + received)
        print(f"| {name} | {given.runs} | {told or '-'} | {errors} | {share:.2g} % | {here} |", flush=True)
        broken += here
    print(f"\nBroken promises: {broken} of {given.runs * len(CELLS)} runs, seed {given.seed}.")


if __name__ == "__main__":
    main()
