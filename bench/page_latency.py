"""Updates a second, latency and memory of the bench page: `python -m bench.page_latency [--half-hour]`.

Latency: from the device time of the newest sample shown to the animation frame that shows it, on one computer's
clock, in the system's Chromium, at 500 samples a second.
"""

from __future__ import annotations

import gc
import json
import os
import resource
import subprocess
import sys
import threading
import time
from argparse import ArgumentParser
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from bench.study import page as results
from bench.study.page_driver import Visitor, chromium

MINUTE_S, HALF_HOUR_S = 60.0, 1800.0
MEASURED_S = 20.0
SWEEP_EVERY_S = 7.5
UPDATES_GOAL, LATENCY_GOAL_MS = 20.0, 100.0
RATE_HZ = 500


def main() -> None:
    """Measure, and write results/page_latency.md."""
    parser = ArgumentParser()
    parser.add_argument("--half-hour", action="store_true", help="measure again after half an hour")
    parser.add_argument("--serve", metavar="OUT", help="what the measured process is started with")
    asked, _ = parser.parse_known_args()
    if asked.serve:
        _serve(Path(asked.serve))
        return
    moments = {"a minute": MINUTE_S, **({"half an hour": HALF_HOUR_S} if asked.half_hour else {})}
    figures = _measure(moments)
    lines, rows = [], []
    for name, (updates, p50, p95, worst, program_mb, browser_mb) in figures.items():
        lines += [
            results.Line(
                f"updates a second, after {name}",
                f"at least {UPDATES_GOAL:g}",
                f"{updates:.1f}",
                met=updates >= UPDATES_GOAL,
            ),
            results.Line(
                f"latency, 95th percentile, after {name}",
                f"under {LATENCY_GOAL_MS:g} ms",
                f"{p95:.0f} ms",
                met=p95 < LATENCY_GOAL_MS,
            ),
        ]
        rows.append([name, f"{updates:.1f}", *(f"{x:.0f}" for x in (p50, p95, worst, program_mb, browser_mb))])
    results.Page(
        "page_latency",
        "The bench page, live",
        f"virtual fixture at {RATE_HZ} samples/s in real time, its plant in the same process; swept by hand every "
        f"{SWEEP_EVERY_S:g} s; one headless Chromium tab, 1024 x 768, software rendering; {MEASURED_S:g} s each",
        lines,
        ["after", "updates/s", "median ms", "95 % ms", "worst ms", "program MB", "tab's heap MB"],
        rows,
        ["Latency from the end of the newest sample's period to the animation frame that first shows it."],
        packages=("nicegui", "uvicorn", "playwright"),
    ).write()


def _measure(moments: dict[str, float]) -> dict[str, tuple[float, ...]]:
    """Return updates/s, latencies in ms (median, 95th percentile, greatest), memory of program and tab in MB."""
    with TemporaryDirectory() as scratch, chromium() as browser:
        command = [sys.executable, "-m", "bench.page_latency", "--serve", scratch]
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        try:
            return _look_on(process, browser, moments)
        finally:
            process.terminate()
            process.wait()


def _look_on(process: Any, browser: Any, moments: dict[str, float]) -> dict[str, tuple[float, ...]]:
    tab = browser.new_context(viewport={"width": 1024, "height": 768}).new_page()
    visitor = Visitor(tab, process.stdout.readline().strip())
    visitor.begin(speed="1")
    visitor.go_on(lambda: visitor.stage() == "Hook up")
    began = time.monotonic()
    found = {}
    for name, after_s in moments.items():
        while time.monotonic() - began < after_s:
            _sweep(visitor)
        tab.evaluate("rodtrueLive.measure()")
        until = time.monotonic() + MEASURED_S
        while time.monotonic() < until:
            _sweep(visitor)
        found[name] = _figures(tab.evaluate("rodtrueLive.measured()"), _ask(process), tab)
    return found


def _sweep(visitor: Visitor) -> None:
    visitor.press("One slow sweep")
    visitor.tab.wait_for_timeout(1000 * SWEEP_EVERY_S)


def _figures(drawn: list[list[float]], clock: dict[str, float], tab: Any) -> tuple[float, ...]:
    first: dict[float, float] = {}
    for newest_s, frame_ms in drawn:
        first.setdefault(newest_s, frame_ms)
    latency_ms = np.array([ms - 1000 * (clock["zero_s"] + newest_s + 1 / RATE_HZ) for newest_s, ms in first.items()])
    shown_s = (max(first.values()) - min(first.values())) / 1000
    heap_mb = tab.evaluate("performance.memory.usedJSHeapSize") / 1e6
    p50, p95 = np.percentile(latency_ms, [50, 95])
    return (len(first) - 1) / shown_s, float(p50), float(p95), float(latency_ms.max()), clock["program_mb"], heap_mb


def _ask(process: Any) -> dict[str, float]:
    process.stdin.write("\n")
    process.stdin.flush()
    answer: dict[str, float] = json.loads(process.stdout.readline())
    return answer


def _serve(out: Path) -> None:
    """The measured process: the page as ever, and on each line it is sent its clock and its memory."""
    from rodtrue.page.access import AccessSettings
    from rodtrue.page.engine import Engine
    from rodtrue.page.server import open_http_port, serve

    listening = open_http_port(0, shop=False)
    port = listening.getsockname()[1]
    engine = Engine(out)
    threading.Thread(target=_tell, args=(engine,), daemon=True).start()
    serve(engine, listening, AccessSettings(port), lambda gate: print(f"http://127.0.0.1:{port}/", flush=True))


def _tell(engine: Any) -> None:
    for _ in sys.stdin:
        print(json.dumps({"zero_s": _zero_s(engine), "program_mb": _memory_mb()}), flush=True)


def _zero_s(engine: Any) -> float:
    """Return when, in s since the epoch, the capture's first sample began: by the virtual fixture's own pace."""
    from rodtrue.virtual.server import Server

    (server,) = [each for each in gc.get_objects() if isinstance(each, Server) and not each._closing]
    first_us = engine._open.run._recorder._timeline._first_us
    started = server._pace._start + (first_us + (server._shift_us or 0)) * 1e-6
    return started + time.time() - time.monotonic()


def _memory_mb() -> float:
    pages = int(Path(f"/proc/{os.getpid()}/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


if __name__ == "__main__":
    main()
