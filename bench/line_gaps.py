"""Gaps near the lever start on many drawn runs: `python -m bench.line_gaps --cases 300`.

Counts wrong verdicts, intervals that leave the truth out (with gaps and without: 95 % is promised, not 100 %), and
runs that with gaps say more than whole: no stroke refused, and yet a narrower interval.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from line_faults.gaps import drawn_pair


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1000)
    given = parser.parse_args()
    counts: Counter[str] = Counter()
    verdicts: Counter[str] = Counter()
    for seed in range(given.seed, given.seed + given.cases):
        pair = drawn_pair(seed)
        verdicts[pair.gapped.verdict] += 1
        counts["verdict given whole"] += pair.whole.verdict in ("long", "short", "correct")
        counts["wrong whole"] += pair.whole.verdict in pair.case.wrong_verdicts
        counts["wrong with gaps"] += pair.is_wrong
        counts["strokes refused"] += pair.fewer_strokes
        counts["intervals"] += pair.covers is not None
        counts["truth left out"] += pair.covers is False
        counts["says more than whole"] += not pair.is_honest
        if pair.is_wrong or not pair.is_honest:
            rod = f"rod {pair.case.rod_error_mm:+.3f} mm"
            print(f"seed {seed}: {rod}, {pair.gapped.verdict}, gaps {pair.gaps}", flush=True)
    told = ", ".join(f"{count} {word}" for word, count in verdicts.items())
    print(f"{given.cases} runs from seed {given.seed}, with gaps: {told}")
    for word, count in counts.items():
        print(f"  {count:6d}  {word}")


if __name__ == "__main__":
    main()
