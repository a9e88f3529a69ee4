"""How often the demo's verdict is right: `rodtrue demo --rod-error E --seed N --json` over errors and seeds.

Writes results/demo_study.md and results/demo_study.json beside this file. No seed is replaced.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

from scipy.stats import beta

ROD_ERRORS_MM = (-12.0, -3.0, -0.2, 0.1, 0.5, 3.0, 10.0)
SEEDS = (1, 2, 3, 4, 5)
LARGE_MM = 3.0
RESULTS = Path(__file__).parent / "results"


@dataclass(frozen=True)
class Outcome:
    """One run: what was set in the virtual unit, and what the demo said."""

    rod_error_mm: float
    seed: int
    verdict: str
    value_mm: float | None
    interval_mm: tuple[float, float] | None
    right: str
    findings: tuple[str, ...]

    @property
    def covered(self) -> bool:
        """Whether the interval holds the error that was set."""
        return self.interval_mm is not None and self.interval_mm[0] <= self.rod_error_mm <= self.interval_mm[1]

    @property
    def wrong(self) -> bool:
        """Whether a verdict was given that is not the right one."""
        return self.verdict in ("long", "short", "correct") and self.verdict != self.right


def right_verdict(rod_error_mm: float, limits_mm: tuple[float, float]) -> str:
    """Return what a perfect measurement would say; limits closed."""
    if rod_error_mm < limits_mm[0]:
        return "short"
    return "long" if rod_error_mm > limits_mm[1] else "correct"


def run_once(rod_error_mm: float, seed: int) -> Outcome:
    """Run the demo as a person would, in a process of its own, and read its one line of JSON."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "rodtrue", "demo", "--json", "--out", folder]
        command += ["--rod-error", f"{rod_error_mm:g}", "--seed", str(seed)]
        done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)} ended with {done.returncode}:\n{done.stderr}")
    result = json.loads(done.stdout)
    error = result["rod_error"] or {}
    interval = error.get("interval_mm")
    limits = tuple(error.get("limits_mm", (-0.5, 1.0)))
    return Outcome(
        rod_error_mm,
        seed,
        result["verdict"],
        error.get("value_mm"),
        tuple(interval) if interval else None,
        right_verdict(rod_error_mm, limits),
        tuple(finding["code"] for finding in result["findings"]),
    )


def study(errors_mm: tuple[float, ...] = ROD_ERRORS_MM, seeds: tuple[int, ...] = SEEDS) -> list[Outcome]:
    """Return the outcomes of every error with every seed, in order; two runs at a time."""
    pairs = [(error, seed) for error in errors_mm for seed in seeds]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(lambda pair: run_once(*pair), pairs))


def summary(outcomes: list[Outcome]) -> dict[str, int | list[float]]:
    """Return the counts, and Clopper-Pearson 95 % limits of the coverage.

    Source of the limits: Clopper and Pearson, Biometrika 26 (1934) 404-413, by quantiles of beta.
    """
    small = [outcome for outcome in outcomes if abs(outcome.rod_error_mm) < LARGE_MM]
    large = [outcome for outcome in outcomes if abs(outcome.rod_error_mm) >= LARGE_MM]
    covered, n = sum(outcome.covered for outcome in outcomes), len(outcomes)
    low = float(beta.ppf(0.025, covered, n - covered + 1)) if covered else 0.0
    high = float(beta.ppf(0.975, covered + 1, n - covered)) if covered < n else 1.0
    return {
        "runs": n,
        "wrong": sum(outcome.wrong for outcome in outcomes),
        "large_runs": len(large),
        "large_right": sum(outcome.verdict == outcome.right for outcome in large),
        "small_runs": len(small),
        "small_undecided": sum(outcome.verdict == "undecided" for outcome in small),
        "small_no_result": sum(outcome.verdict == "no result" for outcome in small),
        "covered": covered,
        "coverage_95_percent_limits": [round(low, 3), round(high, 3)],
    }


def write(outcomes: list[Outcome]) -> None:
    """Write the table and the counts."""
    counts = summary(outcomes)
    RESULTS.mkdir(exist_ok=True)
    rows = [asdict(outcome) | {"covered": outcome.covered, "wrong": outcome.wrong} for outcome in outcomes]
    (RESULTS / "demo_study.json").write_text(json.dumps({"counts": counts, "runs": rows}, indent=1) + "\n")
    (RESULTS / "demo_study.md").write_text(_page(outcomes, counts))


def _page(outcomes: list[Outcome], counts: dict[str, int | list[float]]) -> str:
    limits = counts["coverage_95_percent_limits"]
    lines = [
        "# Demo study",
        "",
        "Written by `python -m bench.demo_study`: `rodtrue demo --rod-error E --seed N --json`, each run in its own",
        "process, firmware under MicroPython. Virtual fixture, not a measurement. No seed is replaced.",
        "",
        f"- wrong verdicts: {counts['wrong']} of {counts['runs']}",
        f"- right verdict where it is {LARGE_MM:g} mm or more: {counts['large_right']} of {counts['large_runs']}",
        f"- undecided where it is smaller: {counts['small_undecided']} of {counts['small_runs']}"
        f" (no result: {counts['small_no_result']})",
        f"- error within its interval: {counts['covered']} of {counts['runs']}"
        f" (95 % limits of the share, Clopper-Pearson: {limits})",
        "",
        "| error / mm | seed | verdict | right | value / mm | interval / mm | covered | findings |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for outcome in outcomes:
        value = "-" if outcome.value_mm is None else f"{outcome.value_mm:+.3f}"
        interval = (
            "-" if outcome.interval_mm is None else f"{outcome.interval_mm[0]:+.3f} to {outcome.interval_mm[1]:+.3f}"
        )
        covered = "yes" if outcome.covered else "**no**"
        cells = [f"{outcome.rod_error_mm:+g}", outcome.seed, outcome.verdict, outcome.right, value, interval, covered]
        lines.append("| " + " | ".join(str(cell) for cell in [*cells, ", ".join(outcome.findings)]) + " |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run the study and write its results."""
    outcomes = study()
    write(outcomes)
    print(json.dumps(summary(outcomes), indent=1))


if __name__ == "__main__":
    main()
