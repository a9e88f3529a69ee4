"""Speed of the running fit against general fitters on the same data: `python -m bench.fit_speed`.

pwlf and piecewise-regression take part where installed (`pip install -e '.[bench]'`).
"""

from __future__ import annotations

import importlib
import importlib.util
import warnings
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from bench.study import page
from bench.study.ramps import HIGH_MM, LEVEL, LOW_MM, SLOPE, Array, course, curve_fit_from, running_fit
from bench.study.timing import medians_s
from rodtrue.analysis.stream import RunningBins

LOWER_MM, WIDTH_MM = 3.0, 9.0
NOISE_KPA = 1.5
SIZES = (2_000, 20_000, 60_000)
LARGE = 1_000_000
GROUP = 500
REFIT_GOALS = (1.2, 7.0, 25.0)
RAW_GOALS = (1.2, 4.0, 8.0)
OTHERS_GOALS = {"pwlf": 60.0, "piecewise_regression": 150.0}
TURNS = 15
SLOW_TURNS = 3
DECENT = [LEVEL + 2.0, LOWER_MM + 0.5, SLOPE * 0.9, WIDTH_MM - 1.0]


def data(n: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(20260106)
    x = rng.uniform(LOW_MM, HIGH_MM, n)
    return x, course(x, LEVEL, LOWER_MM, SLOPE, WIDTH_MM) + NOISE_KPA * rng.standard_normal(n)


def filled(n: int) -> RunningBins:
    """Return running bins that took n samples in the groups a live run delivers."""
    bins = RunningBins(LOW_MM - 0.5, HIGH_MM + 0.5, LEVEL)
    x, p = data(n)
    for begin in range(0, n, GROUP):
        bins.add(x[begin : begin + GROUP], p[begin : begin + GROUP])
    return bins


def pwlf_fit(x: Array, p: Array) -> float:
    """Three segments, its quick search. Returns the first break."""
    found = importlib.import_module("pwlf").PiecewiseLinFit(x, p, seed=1).fitfast(3)
    return float(found[1])


def piecewise_regression_fit(x: Array, p: Array) -> float:
    """Two breaks from decent starts, no bootstrap. Returns the first break."""
    starts = [DECENT[1], DECENT[1] + DECENT[3]]
    fit = importlib.import_module("piecewise_regression").Fit(x, p, start_values=starts, n_boot=0)
    return float(fit.get_results()["estimates"]["breakpoint1"]["estimate"])


OTHERS: dict[str, Callable[[Array, Array], float]] = {
    "pwlf": pwlf_fit,
    "piecewise_regression": piecewise_regression_fit,
}


def refit_lines(rows: list[list[str]]) -> list[page.Line]:
    """Refit of a live run: the same time however long it has been going."""
    bins = {n: filled(n) for n in (*SIZES, LARGE)}
    times = medians_s({str(n): one.fit for n, one in bins.items()}, TURNS)
    small = [times[str(n)] for n in SIZES]
    growth, large = max(small) / min(small), times[str(LARGE)] / small[0]
    rows += [["refit", f"{n:,}", f"{1000 * times[str(n)]:.3f}", "-"] for n in bins]
    in_words = f"{growth:.2f} x over {SIZES[0]:,} to {SIZES[-1]:,} samples, {large:.2f} x at {LARGE:,}"
    met = growth <= 1.5 and large <= 2.0
    return [page.Line("refit during a live run, 2k to 60k samples (1M)", "within 1.5 x (2 x)", in_words, "", met)]


def against_curve_fit(rows: list[list[str]]) -> list[page.Line]:
    """Refit and whole fit, each against curve_fit from a decent start."""
    refit, raw = [], []
    for n in SIZES:
        x, p = data(n)
        things: dict[str, Callable[[], Any]] = {
            "refit": filled(n).fit,
            "from raw arrays": partial(running_fit, x, p),
            "curve_fit": partial(curve_fit_from, x, p, DECENT),
        }
        times = medians_s(things, TURNS)
        refit.append(times["curve_fit"] / times["refit"])
        raw.append(times["curve_fit"] / times["from raw arrays"])
        rows += [[name, f"{n:,}", f"{1000 * t:.3f}", f"{times['curve_fit'] / t:.1f}"] for name, t in times.items()]
    sizes = " / ".join(f"{n // 1000}k" for n in SIZES)

    def line(what: str, found: list[float], goals: tuple[float, ...]) -> page.Line:
        met = all(one >= goal for one, goal in zip(found, goals, strict=True))
        goal = " / ".join(f"{g:g}" for g in goals) + " times faster"
        return page.Line(f"{what} against scipy curve_fit from a decent start, {sizes}", goal,
                         " / ".join(f"{one:.1f}" for one in found), "", met)  # fmt: skip

    return [line("refit", refit, REFIT_GOALS), line("fit from raw arrays", raw, RAW_GOALS)]


def against_others(rows: list[list[str]]) -> list[page.Line]:
    """Whole fit at the largest size against fitters of broken lines, where installed."""
    n, lines = SIZES[-1], []
    x, p = data(n)
    warnings.simplefilter("ignore")
    for name, fit in OTHERS.items():
        what, goal = f"fit from raw arrays against {name}, {n // 1000}k", f"{OTHERS_GOALS[name]:g} times faster"
        if importlib.util.find_spec(name) is None:
            lines.append(page.Line(what, goal, "not installed, not measured"))
            continue
        mine = medians_s({"from raw arrays": partial(running_fit, x, p)}, TURNS)["from raw arrays"]
        theirs = medians_s({name: partial(fit, x, p)}, SLOW_TURNS)[name]
        rows.append([name, f"{n:,}", f"{1000 * theirs:.1f}", f"{theirs / mine:.0f} times slower"])
        lines.append(page.Line(what, goal, f"{theirs / mine:.0f}", "", theirs / mine >= OTHERS_GOALS[name]))
    return lines


def main() -> None:
    """Time everything and write the results."""
    rows: list[list[str]] = []
    lines = refit_lines(rows) + against_curve_fit(rows) + against_others(rows)
    page.Page(
        "fit_speed",
        "Speed of the fit",
        f"level, ramp, level; travel evenly drawn from {LOW_MM:g} to {HIGH_MM:g} mm, noise {NOISE_KPA:g} kPa; "
        f"medians of {TURNS} turns (others {SLOW_TURNS}) in one process, one thread",
        lines,
        ("what", "samples", "median / ms", "curve_fit's time over it"),
        rows,
        ["Read the ratios; the times are this machine's."],
        ("numpy", "scipy", "pwlf", "piecewise-regression"),
    ).write()


if __name__ == "__main__":
    main()
