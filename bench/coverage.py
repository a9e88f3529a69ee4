"""The statistical interval against one disturbance at a time: `python -m bench.coverage [--runs N]`.

Nothing that no data can show is wrong in these runs. The baseline's own error has rows of its own in the
budget and is taken out of the error before it is scored; the second table shows what it adds.
"""

from __future__ import annotations

from dataclasses import asdict

from bench.study import page
from bench.study.cells import statistical_cells
from bench.study.judged import judge_many
from bench.study.scores import Coverage, statistical

LEAST_COVERAGE = 0.93
WIDEST = 1.6
RUNS = 500


def met(found: Coverage) -> bool:
    """Whether both scores reach their goals; a run without a value is a run not covered."""
    return found.covered / found.runs >= LEAST_COVERAGE and found.width_score <= WIDEST


def in_words(found: Coverage) -> str:
    return f"{found.share:.3f} ({found.low:.3f}-{found.high:.3f}), width {found.width_score:.2f}"


def detail(name: str, generator: str, found: Coverage) -> list[str]:
    """Return a row of the table of details."""
    return [
        name,
        generator,
        f"{found.covered} of {found.valued}",
        f"{found.low:.3f}-{found.high:.3f}",
        f"{found.median_half_width_um:.1f}",
        f"{found.error_95_um:.1f}",
        f"{found.width_score:.2f}",
        f"{found.bias_um:+.1f}",
        f"{found.rmse_um:.1f}",
        f"{found.share_floored:.2f}",
    ]


HEAD = (
    "disturbance", "generator", "covered", "Clopper-Pearson 95 %", "median half-width / um", "95 % of errors / um",
    "width", "bias / um", "RMSE / um", "floor decides",
)  # fmt: skip


NOTES = (
    "Width: median half-width without the resolution's floor over the 95th percentile of the absolute error.",
    "The floor counts for coverage. No seed is replaced.",
)


def main() -> None:
    """Run all cells and write the results."""
    runs = page.runs_asked(RUNS)
    lines, rows, with_baseline, data = [], [], [], {}
    for name, makers in statistical_cells().items():
        found = {}
        for generator, make in zip(("plant", "second"), makers, strict=True):
            kept = judge_many(make, range(1, runs + 1), free_width=True)
            found[generator] = statistical(kept)
            rows.append(detail(name, generator, found[generator]))
            with_baseline.append(detail(name, generator, statistical(kept, with_baseline=True)))
            data[f"{name}, {generator}"] = asdict(found[generator])
        reached = all(met(one) for one in found.values())
        goal = f"coverage at least {LEAST_COVERAGE}, width at most {WIDEST}"
        plant, second = in_words(found["plant"]), in_words(found["second"])
        lines.append(page.Line(f"statistical 95 % interval: {name}", goal, plant, second, reached))
    extra = ["The same with the baseline's own error left in:", "", *page.table(HEAD, with_baseline)]
    page.Page(
        "coverage",
        "Coverage and width of the statistical interval",
        f"{runs} runs a cell, seeds 1 to {runs}, rod 3 mm short, 4 sweeps (3 s and 6 s a way in turn), "
        "45 mm of travel, 500 samples/s (aliased: 250), noise 1 kPa",
        lines,
        HEAD,
        rows,
        [*extra, "", *NOTES],
        data={"cells": data},
    ).write()  # fmt: skip


if __name__ == "__main__":
    main()
