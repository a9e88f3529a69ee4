"""What lag, friction, a rounded knee, a delay and one constant speed leave: `python -m bench.lag_bias [--runs N]`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bench.study import page
from bench.study.cells import FRICTION_KPA, FromPlant, separate
from bench.study.judged import Kept, Make, judge_many
from bench.study.plant_runs import PlantRun
from bench.study.scores import clopper_pearson, full, statistical

LAGS_S = (0.005, 0.015, 0.030)
LARGEST_BIAS_UM = 2.0
LARGEST_RMSE_UM = 4.0
LARGEST_KNEE_BIAS_UM = 3.0
LEAST_FLAGGED = 0.99
RUNS = 300
FRICTION_MM = FRICTION_KPA / 12.0
BASE = PlantRun(friction_kpa=FRICTION_KPA)
HEAD = (
    "what",
    "generator",
    "runs",
    "bias / um",
    "standard error of the bias / um",
    "RMSE / um",
    "RMSE with the baseline's error / um",
    "lag found / ms",
)


class Study:
    """Collects rows as the runs are made."""

    def __init__(self, runs: int) -> None:
        self.runs = runs
        self.rows: list[list[str]] = []

    def run(self, what: str, generator: str, make: Make) -> tuple[float, float, float]:
        """Judge the runs; return bias, its standard error and RMSE in um, the baseline's own error taken out."""
        kept = judge_many(make, range(1, self.runs + 1))
        found, whole = statistical(kept), statistical(kept, with_baseline=True)
        error = float(np.sqrt(max(found.rmse_um**2 - found.bias_um**2, 0.0) / max(1, found.valued)))
        lags = [1000 * k.lag_s for k in kept if k.lag_s is not None]
        lag = f"{np.mean(lags):.2f}" if lags else "-"
        self.rows.append(
            [what, generator, str(found.valued), f"{found.bias_um:+.2f}", f"{error:.2f}", f"{found.rmse_um:.2f}",
             f"{whole.rmse_um:.2f}", lag]
        )  # fmt: skip
        return found.bias_um, error, found.rmse_um


def lag_lines(study: Study) -> list[page.Line]:
    """Bias and RMSE over the lags; the second generator with first- and with second-order lag."""
    plant, first, second = [], [], []
    for lag_s in LAGS_S:
        name = f"lag {1000 * lag_s:.0f} ms, friction {FRICTION_KPA:g} kPa"
        plant.append(study.run(name, "plant", FromPlant(replace(BASE, lag_s=(lag_s, lag_s)))))
        for order, into in ((1, first), (2, second)):
            make = separate(lag_s=lag_s, lag_order=order, friction_mm=FRICTION_MM)
            into.append(study.run(f"{name}, order {order}", "second", make))

    def bias(found: list[tuple[float, float, float]]) -> tuple[str, bool]:
        worst = max(found, key=lambda one: abs(one[0]))
        return f"{worst[0]:+.1f} -+ {worst[1]:.1f} um", abs(worst[0]) <= LARGEST_BIAS_UM

    def rmse(found: list[tuple[float, float, float]]) -> tuple[str, bool]:
        worst = max(one[2] for one in found)
        return f"{worst:.1f} um", worst <= LARGEST_RMSE_UM

    of_plant, of_first, of_second = bias(plant), bias(first), bias(second)
    size, size_first = rmse(plant), rmse(first)
    return [
        page.Line("bias left by lag up to 30 ms (largest, -+ standard error)", f"at most {LARGEST_BIAS_UM:g} um",
                  of_plant[0], of_first[0], of_plant[1] and of_first[1]),
        page.Line("the same where the lag is of second order", "none: the lag is taken to be of first order",
                  "not in this plant", of_second[0]),
        page.Line("RMSE with lag and friction (largest)", f"at most {LARGEST_RMSE_UM:g} um",
                  size[0], size_first[0], size[1] and size_first[1]),
    ]  # fmt: skip


def shape_lines(study: Study) -> list[page.Line]:
    """A rounded knee (only the second generator has one) and a pure delay, made by moving the pressure in time."""
    knee = study.run("knee rounded over 0.5 mm", "second", separate(knee_round_mm=0.5))
    # 6 samples at 400/s are 15 ms; the plant's own lag is then next to nothing.
    delayed = replace(BASE, rate_hz=400, delay_samples=6, lag_s=(0.001, 0.001))
    delay = study.run("pure delay of 15 ms", "plant", FromPlant(delayed))
    goal = f"bias at most {LARGEST_KNEE_BIAS_UM:g} um"
    return [
        page.Line("knee rounded over 0.5 mm", goal, "not in this plant", f"{knee[0]:+.1f} -+ {knee[1]:.1f} um",
                  abs(knee[0]) <= LARGEST_KNEE_BIAS_UM),
        page.Line("pure delay of 15 ms", goal, f"{delay[0]:+.1f} -+ {delay[1]:.1f} um", "",
                  abs(delay[0]) <= LARGEST_KNEE_BIAS_UM),
    ]  # fmt: skip


def one_speed_lines(runs: int) -> list[page.Line]:
    """One constant speed each way, lag 30 ms: flagged, and no interval that misses by being narrow."""
    even = replace(BASE, even_speed=True, halves_s=(4.0,), lag_s=(0.030, 0.030))
    still = {"motion": "constant", "tremor_mm": 0.0, "lag_s": 0.030, "friction_mm": FRICTION_MM}
    kinds: dict[str, tuple[Make, Make]] = {
        "one constant speed": (FromPlant(even), separate(stroke_s=(4.0,), **still)),
        "one constant speed, closing at half of it": (
            FromPlant(replace(even, closing_s=8.0)), separate(stroke_s=(4.0, 8.0), **still)),
    }  # fmt: skip
    lines = []
    for name, makes in kinds.items():
        words, good = [], True
        for make in makes:
            kept = judge_many(make, range(1, runs + 1))
            flagged = [k for k in kept if "one_speed_only" in k.findings]
            narrow = sum(_narrow(k) for k in kept)
            covered = full(kept)
            low, high = clopper_pearson(len(flagged), runs)
            words.append(
                f"flagged {len(flagged)} of {runs} ({low:.3f}-{high:.3f}); full interval holds the truth in "
                f"{covered.covered}, friction's in {runs - narrow}"
            )
            enough = covered.covered >= 0.93 * runs and narrow <= 0.07 * runs
            good &= len(flagged) >= LEAST_FLAGGED * runs and enough
        goal = f"flagged in at least {LEAST_FLAGGED:.0%}, never a narrow interval"
        lines.append(page.Line(name, goal, words[0], words[1], good))
    return lines


def _narrow(kept: Kept) -> bool:
    """Whether friction, which lag hides in, is given an interval that does not hold it."""
    if kept.friction_error is None or kept.friction_reach is None:
        return False
    return abs(kept.friction_error) > kept.friction_reach


def main() -> None:
    """Run everything and write the results."""
    runs = page.runs_asked(RUNS)
    study = Study(runs)
    lines = lag_lines(study) + shape_lines(study)
    few = max(1, runs // 2)
    lines += one_speed_lines(few)
    page.Page(
        "lag_bias",
        "What lag, friction and the shape of the knee leave",
        f"{runs} runs a cell ({few} with one speed), seeds from 1, rod 3 mm short, 2 x (3 s, 6 s) sweeps over 45 mm, "
        "500 samples/s, noise 1 kPa, 20 um (plant) or 15 um in travel",
        lines,
        HEAD,
        study.rows,
        ["The error is that of the value against the middle of the onsets, the baseline's own error taken out."],
    ).write()


if __name__ == "__main__":
    main()
