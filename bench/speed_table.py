"""All speeds and sizes against their goals on one page, from the results beside it: `python -m bench.speed_table`.

Runs nothing itself; `python -m bench` (`make bench`) runs it after the benchmarks it reads.
"""

from __future__ import annotations

from bench.study import collected

READS = {
    "start_bound": "Estimator against its bound",
    "coverage": "Statistical interval",
    "full_interval": "Full interval",
    "lag_bias": "Lag, friction, shape of the knee, one speed",
    "fit_speed": "Speed of the fit",
    "decode_speed": "Decoding and the wire",
    "firmware_cobs": "Firmware",
    "start_up": "Start-up of the command line",
    "page_latency": "The bench page, live",
    "records_scale": "Records, as they grow",
    "archive_speed": "An archive judged anew",
    "soak": "Half an hour in real time",
    "soak_wraps": "Eighty minutes of device time",
    "soak_guided": "Half an hour of one guided run",
    "soak_runs": "Whole jobs one after the other",
    "kill": "The host killed, and the records' server",
}


def main() -> None:
    """Write results/speed.md and say what is missed."""
    collected.write(
        "speed",
        "Speed table",
        [
            "Written by `python -m bench.speed_table` from the other results of this folder; `make bench` runs all",
            "of them anew. Synthetic data, not a measurement. Times are ratios where they can be, to another library",
            "or to an empty Python in the same run: read no milliseconds from another machine. No goal is moved and",
            "no seed replaced.",
        ],
        READS,
    )


if __name__ == "__main__":
    main()
