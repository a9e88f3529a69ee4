"""The full interval with every systematic error drawn: `python -m bench.full_interval [--runs N]`.

Both generators draw zero transfer, scale, axis, nonlinearity, baseline, rests and friction's asymmetry from the
budget's own distributions, and the disturbances as shipped, all at once.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from bench.coverage import HEAD, LEAST_COVERAGE, WIDEST, detail, in_words, met
from bench.study import page
from bench.study.judged import Kept, judge_many
from bench.study.plant_runs import PlantRun, Truth, plant_samples
from bench.study.scores import full
from bench.study.separate_runs import separate_samples
from rodtrue.model.conditions import Conditions
from rodtrue.model.samples import Samples

RANGES_MM = {
    "far short": (-15.0, -5.0),
    "short": (-5.0, -1.0),
    "near the tolerance": (-1.0, 1.5),
    "long": (1.5, 5.0),
    "far long": (5.0, 12.0),
}
LIMITS_MM = (-0.5, 1.0)
RUNS = 1000


@dataclass(frozen=True)
class Drawn:
    """Makes runs with a rod error drawn evenly from a range."""

    generator: str
    range_mm: tuple[float, float]

    def __call__(self, seed: int) -> tuple[Samples, Truth]:
        rod_error_mm = float(np.random.default_rng((seed, 60_037)).uniform(*self.range_mm))
        if self.generator == "plant":
            return plant_samples(PlantRun(rod_error_mm=rod_error_mm, sweeps=6, exact=False), seed)
        return separate_samples({"rod_error_mm": rod_error_mm, "drive": "slide"}, seed)


def wrong_words(kept: list[Kept], makes: Drawn, seeds: range) -> int:
    """Return how many verdicts contradict the rod error that was set; limits closed."""
    wrong = 0
    for seed, one in zip(seeds, kept, strict=True):
        error = float(np.random.default_rng((seed, 60_037)).uniform(*makes.range_mm))
        right = "short" if error < LIMITS_MM[0] else "long" if error > LIMITS_MM[1] else "correct"
        wrong += one.verdict in ("short", "long", "correct") and one.verdict != right
    return wrong


def main() -> None:
    """Run all ranges on both generators and write the results."""
    runs = page.runs_asked(RUNS)
    seeds = range(1, runs // len(RANGES_MM) + 1)
    pooled: dict[str, list[Kept]] = {"plant": [], "second": []}
    wrong = dict.fromkeys(pooled, 0)
    rows = []
    for name, range_mm in RANGES_MM.items():
        for generator in pooled:
            makes = Drawn(generator, range_mm)
            kept = judge_many(makes, seeds, Conditions(kind="csv", drive="slide"))
            wrong[generator] += wrong_words(kept, makes, seeds)
            pooled[generator] += kept
            rows.append(detail(f"{name} ({range_mm[0]:g} to {range_mm[1]:g} mm)", generator, full(kept)))
    found = {generator: full(kept) for generator, kept in pooled.items()}
    total = len(pooled["plant"])
    words = {generator: f"{count} of {total}" for generator, count in wrong.items()}
    page.Page(
        "full_interval",
        "Coverage and width of the full interval",
        f"{total} runs a generator, {len(seeds)} in each range of rod error (seeds 1 to {len(seeds)}), drive: slide",
        [
            page.Line(
                "full 95 % interval, every systematic error drawn",
                f"coverage at least {LEAST_COVERAGE}, width at most {WIDEST}",
                in_words(found["plant"]),
                in_words(found["second"]),
                all(met(one) for one in found.values()),
            ),
            page.Line(
                "wrong verdicts in these runs", "none", words["plant"], words["second"], not any(wrong.values())
            ),
        ],
        HEAD[:-1],
        [row[:-1] for row in rows],
        data={"pooled": {generator: asdict(one) for generator, one in found.items()}, "wrong": wrong},
    ).write()


if __name__ == "__main__":
    main()
