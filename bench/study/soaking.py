"""A fixture watched for long: what it sends, what it counts, its heap, the memory of every process, its clock.

The firmware is the shipped one; only its main.py is another, which after each collection also tells how much
heap is taken, as text between frames.
"""

from __future__ import annotations

import os
import re
import resource
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.study import page
from rodtrue.capture.framing import TEXT
from rodtrue.capture.reader import read_capture
from rodtrue.link.client import Client, Line
from rodtrue.resources import room_path
from rodtrue.run.recorder import Recorder
from rodtrue.virtual.handle import Handle

RATE_HZ, PERIOD_US = 500, 2000
CLOCK_WRAP_US = 1 << 32
SWEEP_EVERY_S = 7.5
HEIGHT_MM = 40.0
FLAT_MB = 2.0
FLAT_BYTES = 64

_MAIN = """\
import maintenance

if not maintenance.active:
    import gc

    import app
    import board

    the_board = board.Board()
    fixture = app.App(the_board)
    fixture.begin()
    collected_at = 0
    while True:
        fixture.step()
        if fixture._collected_at != collected_at:
            collected_at = fixture._collected_at
            text = b"heap taken %d\\0" % gc.mem_alloc()
            the_board.write(text, 0, len(text))
        the_board.idle()
"""


@dataclass
class Watch:
    """What was seen from outside: memory in MB by process, load over a minute."""

    memory_mb: dict[str, list[float]] = field(default_factory=dict)
    load: list[float] = field(default_factory=list)

    def look(self, processes: dict[str, int]) -> None:
        """Note the memory of each process, by its number."""
        self.load.append(os.getloadavg()[0])
        for name, pid in processes.items():
            self.memory_mb.setdefault(name, []).append(resident_mb(pid))


@dataclass(frozen=True)
class Kept:
    """What a capture holds of a long stream. worst_us: how far any sample lies from its index times the period."""

    samples: int
    missing: int
    repeated_blocks: int
    damages: int
    worst_us: float
    lost_samples: int
    dropped_blocks: int
    overruns: int
    heap_bytes: NDArray[np.int64]
    device_s: float

    @property
    def unreported(self) -> int:
        """Samples that device time says were taken and neither came nor are known to be missing."""
        return round(self.device_s * 1e6 / PERIOD_US) + 1 - self.samples - self.missing


def swing(handle: Handle) -> None:
    """Move the pin to the other end of its sweep."""
    handle.throttle_mm = 0.0 if handle.throttle_mm > HEIGHT_MM / 2 else HEIGHT_MM


@contextmanager
def recording(line: Line, path: Path) -> Iterator[tuple[Client, Recorder]]:
    """Record what comes over a line into a new capture, closed at the end."""
    client = Client(line)
    recorder = Recorder(client, client.hello())
    recorder.open_capture(path, RATE_HZ)
    yield client, recorder
    recorder.close_capture()


def firmware_that_tells_its_heap(folder: Path) -> Path:
    """Return a copy of the firmware with that main.py."""
    copy = folder / "firmware"
    shutil.copytree(room_path("firmware"), copy, ignore=shutil.ignore_patterns("__pycache__"))
    (copy / "main.py").write_text(_MAIN, "utf-8")
    return copy


def resident_mb(pid: int) -> float:
    """Return the memory of a process that lies in RAM, in MB."""
    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


def children_of(pid: int) -> list[int]:
    """Return the numbers of a process's children."""
    return [
        int(child)
        for task in Path(f"/proc/{pid}/task").iterdir()
        for child in (task / "children").read_text().split()
    ]


def kept_in(path: Path) -> Kept:
    """Read a finished capture back as anybody would."""
    capture = read_capture(path)
    stream = capture.stream
    last = stream.statuses[-1]
    told = b"\n".join(item.payload for item in capture.items if item.kind == TEXT)
    heap = [int(number) for number in re.findall(rb"heap taken (\d+)", told)]
    due_s = (stream.index - stream.index[0]) * PERIOD_US * 1e-6
    return Kept(
        samples=len(stream.index),
        missing=sum(gap.missing for gap in stream.gaps),
        repeated_blocks=stream.repeated_blocks,
        damages=len(capture.damages),
        worst_us=float(np.abs(stream.time_s - due_s).max()) * 1e6,
        lost_samples=last.lost_samples,
        dropped_blocks=last.dropped_blocks,
        overruns=last.overruns,
        heap_bytes=np.array(heap, np.int64),
        device_s=float(stream.time_s[-1] - stream.time_s[0]),
    )


def grown(values: list[float]) -> float:
    """Return by how much the last tenth's median lies over that of the second tenth, when all has settled."""
    tenth = max(1, len(values) // 10)
    return float(np.median(values[-tenth:]) - np.median(values[tenth : 2 * tenth]))


def sample_lines(kept: Kept) -> list[page.Line]:
    """Return what became of the samples."""
    counted = f"{kept.lost_samples} lost, {kept.dropped_blocks} blocks dropped, {kept.overruns} intervals overrun"
    return [
        page.Line(
            "samples taken that neither came nor are known to be missing",
            "0",
            f"{kept.unreported} of {kept.samples + kept.missing:,}",
            met=kept.unreported == 0,
        ),
        page.Line("samples known to be missing; the fixture's own counters", "-", f"{kept.missing}; {counted}"),
        page.Line(
            "worst distance of a sample's time from index x period",
            "0 us",
            f"{kept.worst_us:.0f} us",
            met=round(kept.worst_us) == 0,
        ),
    ]


def heap_line(kept: Kept) -> page.Line:
    """Return how the firmware's heap went; the first collection still has the start-up's in it."""
    heap = kept.heap_bytes
    return page.Line(
        "firmware's heap after each collection: growth, first to last",
        "none",
        f"{int(heap[-1] - heap[1])} bytes over {len(heap)} collections ({int(heap.min())}-{int(heap.max())} taken)",
        met=abs(int(heap[-1] - heap[1])) <= FLAT_BYTES,
    )


def memory_lines(watch: Watch) -> list[page.Line]:
    """Return how the memory of each process went."""
    return [
        page.Line(
            f"memory of the {name}: growth",
            f"at most {FLAT_MB:g} MB",
            f"{grown(values):+.2f} MB (at most {max(values):.0f} MB)",
            met=grown(values) <= FLAT_MB,
        )
        for name, values in watch.memory_mb.items()
    ]


@dataclass(frozen=True)
class Drift:
    """The fixture's clock against the host's: a line fitted by least squares.

    ppm: how much faster it runs. standard_error_ppm: from the residuals. worst_us: the greatest residual.
    """

    ppm: float
    standard_error_ppm: float
    worst_us: float
    looks: int


def fitted_drift(host_s: NDArray[np.float64], device_us: NDArray[np.int64]) -> Drift:
    """Fit device time, as told modulo 2^32 us, against host time at the same moments. Both of shape (n,)."""
    steps = np.diff(device_us) % CLOCK_WRAP_US
    device_s = np.concatenate([[0.0], np.cumsum(steps)]) * 1e-6
    x = host_s - host_s.mean()
    y = device_s - host_s
    slope = float(x @ (y - y.mean()) / (x @ x))
    residuals = y - y.mean() - slope * x
    deviation = np.sqrt(residuals @ residuals / (len(x) - 2))
    return Drift(
        1e6 * slope, 1e6 * float(deviation / np.sqrt(x @ x)), 1e6 * float(np.abs(residuals).max()), len(x)
    )

