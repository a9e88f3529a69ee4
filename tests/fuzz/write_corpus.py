"""Writes corpus/short-run.capture: a short run at 100 samples/s, small enough to be changed thousands of times.

    python -m fuzz.write_corpus        (with tests/ on the path)
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

from rodtrue.profiles import load_profile
from run.runs import bench

CORPUS = Path(__file__).resolve().parent / "corpus"


def main() -> None:
    """Run on the plant without firmware; end after the as-found sweeps."""
    profile = load_profile()
    short = replace(profile, plan=replace(profile.plan, sweeps=3, least_sweeps=3, extended_sweeps=3))
    with tempfile.TemporaryDirectory() as folder:
        job = bench(Path(folder), profile=short, rate_hz=100, operator="A.B.", unit="invented unit 1")
        job.play(answers={"adjust": "no"})
        job.run.close()
        CORPUS.mkdir(exist_ok=True)
        (CORPUS / "short-run.capture").write_bytes(job.run.captures["as-found"].read_bytes())


if __name__ == "__main__":
    main()
