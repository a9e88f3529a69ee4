"""One page of all figures against their goals, from the results that lie beside it: `python -m bench.summary`.

Runs nothing itself; `python -m bench` runs it after the benchmarks it reads.
"""

from __future__ import annotations

import json

from bench.study import page

READS = {
    "start_bound": "Estimator",
    "coverage": "Statistical interval",
    "full_interval": "Full interval",
    "lag_bias": "Lag, friction, shape of the knee, one speed",
    "detent": "Detent",
    "fit_speed": "Speed of the fit",
    "decode_speed": "Decoding and the wire",
    "start_up": "Start-up",
}


def main() -> None:
    """Write results/analysis.md and say what is missed."""
    text = ["# The measurement against its goals", ""]
    text += ["Written by `python -m bench.summary` from the other results of this folder. Synthetic data, not a"]
    text += ["measurement. No goal is moved and no seed replaced.", ""]
    missed, counted = [], 0
    for name, title in READS.items():
        path = page.RESULTS / f"{name}.json"
        text += [f"## {title}", ""]
        if not path.exists():
            text += [f"Not run yet: `python -m bench.{name}`.", ""]
            continue
        kept = json.loads(path.read_text("utf-8"))
        lines = [page.Line(**line) for line in kept["lines"]]
        counted += sum(line.met is not None for line in lines)
        missed += [line for line in lines if line.met is False]
        text += [
            *page.figures(lines),
            "",
            f"Input: {kept['input']}. Ran on {kept['about']}. Details: [{name}.md]({name}.md).",
            "",
        ]
    head = f"Goals met: {counted - len(missed)} of {counted}."
    if missed:
        head += " Missed: " + "; ".join(line.what for line in missed) + "."
    text[5:5] = [
        head,
        "",
        "Width: median half-width over the 95th percentile of the absolute error. In brackets: 95 % limits",
        "(Clopper-Pearson).",
        "",
    ]
    (page.RESULTS / "analysis.md").write_text("\n".join(text))
    print(head)


if __name__ == "__main__":
    main()
