"""One page of all figures against their goals, from the results that lie beside it: `python -m bench.summary`.

Runs nothing itself; `python -m bench` runs it after the benchmarks it reads.
"""

from __future__ import annotations

from bench.study import collected

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
    collected.write(
        "analysis",
        "The measurement against its goals",
        [
            "Written by `python -m bench.summary` from the other results of this folder. Synthetic data, not a",
            "measurement. No goal is moved and no seed replaced.",
        ],
        READS,
    )


if __name__ == "__main__":
    main()
