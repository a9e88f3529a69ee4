"""Fuzzing a reader for some minutes: `python -m bench.fuzz TARGET --minutes 5 --seed 1`.

Inputs are valid ones with a few changes, drawn from the seed. Prints how many were tried and what came of them, and
each finding once: an outcome that is not documented, with the input kept in the folder given by --keep.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from fuzz.target import outcome
from fuzz.targets import TARGETS


def run(name: str, minutes: float, seed: int, keep: Path | None, most: int | None = None) -> Counter[str]:
    """Fuzz one target; return how often each outcome came, findings under their place in the program."""
    target, rng = TARGETS[name], Random(seed)
    warnings.simplefilter("error")  # what a person would see on the terminal is a finding too
    outcomes: Counter[str] = Counter()
    until = time.monotonic() + 60 * minutes
    with tempfile.TemporaryDirectory() as folder:
        while time.monotonic() < until and (most is None or outcomes.total() < most):
            with target.open(Path(folder)) as tell:
                while time.monotonic() < until and (most is None or outcomes.total() < most):
                    data = target.make(rng)
                    try:
                        outcomes[outcome(tell, data)] += 1
                    except Exception as error:
                        place = _place(error)
                        outcomes[place] += 1
                        if outcomes[place] == 1:
                            print(f"FINDING {place}\n{''.join(traceback.format_exception(error)[-3:])}", flush=True)
                            if keep is not None:
                                keep.mkdir(parents=True, exist_ok=True)
                                (keep / f"{name}-{seed}-{outcomes.total()}").write_bytes(data)
                        break  # a child that has ended is started anew
    return outcomes


def _place(error: Exception) -> str:
    frame = traceback.extract_tb(error.__traceback__)[-1]
    ours = [f for f in traceback.extract_tb(error.__traceback__) if "rodtrue" in f.filename or "fuzz" in f.filename]
    last = ours[-1] if ours else frame
    return f"finding: {type(error).__name__} at {Path(last.filename).name}:{last.lineno}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("target", nargs="*", default=list(TARGETS), help=f"of {', '.join(TARGETS)}; default: each")
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for inputs that were findings")
    given = parser.parse_args()
    for name in given.target:
        outcomes = run(name, given.minutes, given.seed, given.keep)
        found = sum(key.startswith("finding") for key in outcomes)
        print(f"{name}: {outcomes.total()} inputs in {given.minutes:g} min, seed {given.seed}, {found} findings")
        for word, count in outcomes.most_common():
            print(f"  {count:9d}  {word}", flush=True)


if __name__ == "__main__":
    main()
