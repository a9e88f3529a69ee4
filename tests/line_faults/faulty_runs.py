"""Whole guided runs over a faulty line, in virtual time, and what each may end with."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from line_faults.faulty_line import Faults, FaultyLine
from rodtrue.capture.entries import Entry
from rodtrue.capture.reader import read_capture
from rodtrue.link.client import Client, Line
from rodtrue.link.port import Port
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.model.result import Result
from rodtrue.profiles import load_profile, profile_text
from rodtrue.run.autopilot import Autopilot
from rodtrue.run.guided import GuidedRun, RunSettings
from rodtrue.run.hand import VirtualHand
from rodtrue.run.recorder import Recorder
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for
from run.plant_line import PlantLine

LONGEST_RUN_S = 600.0
"""Device time; a run that is not over by then hangs."""
ROD_SHORT_MM, ROD_LONG_MM = 0.5, 1.0


@dataclass(frozen=True)
class Ending:
    """How a run ended: with a verdict, or with an error in words. missing: samples stated to be missing."""

    verdict: str | None
    error: str | None
    missing: int
    received: int
    damaged_bits: int
    touched_packets: int
    device_time_s: float


@contextmanager
def _plant_line(plant: Plant) -> Iterator[tuple[Line, dict[str, object]]]:
    line = PlantLine(plant)
    yield line, {"clock": line.clock, "wait": line.wait}


@contextmanager
def _firmware(plant: Plant) -> Iterator[tuple[Line, dict[str, object]]]:
    """The firmware in MicroPython; device time passes while the client waits."""
    with VirtualFixture(plant, pace="manual") as fixture, Port(fixture.port) as port:

        def wait(seconds: float) -> None:
            fixture.run_for(seconds)
            until = time.monotonic() + 0.5
            while port.arrived_bytes < fixture.carried_bytes and time.monotonic() < until:
                time.sleep(0)

        yield port, {"clock": lambda: fixture.device_time_s, "wait": wait}


def faulty_run(
    folder: Path, faults: Faults, *, rod_error_mm: float, seed: int, real_firmware: bool, from_start: bool = False
) -> Ending:
    """Run the as-found run of a unit over a faulty line; return how it ended, its promises checked.

    from_start: damage the greeting too, and not only what comes after it.
    Raises: AssertionError where a promise is broken: a verdict that is not the unit's, an interval that leaves the
    truth out, samples that are gone without being stated, or no end.
    """
    profile = load_profile()
    plant = Plant(scenario_for(profile, rod_error_mm=rod_error_mm, drive="slide"), seed)
    with (_firmware if real_firmware else _plant_line)(plant) as (sound, options):
        line = FaultyLine(sound, faults, seed)
        line.faulty = from_start
        client = Client(line, **options)  # type: ignore[arg-type]
        run: GuidedRun | None = None
        error = None
        try:
            recorder = Recorder(client, client.hello())
            line.faulty = True
            settings = RunSettings(profile, profile_text("example-direct")[0], folder)
            run = GuidedRun(recorder, settings)
            pilot = Autopilot(run, VirtualHand(plant.hand, plant.handle), client.clock, adjust=False, fault=None)
            while not run.finished:
                assert client.clock() < LONGEST_RUN_S, "the run does not come to an end"
                pilot.step()
        except FixtureError as trouble:
            assert trouble.message and trouble.next_step and trouble.exit_code == 3
            error = trouble.message
        if run is None:
            return Ending(None, error, 0, 0, line.damaged_bits, line.touched_packets, client.clock())
        before_s = client.clock()
        try:
            run.close()
        except InputError as refused:
            error = refused.message
        assert client.clock() - before_s < 10.0, "closing takes too long"
        missing, received = _accounted_for(run.captures["as-found"])
        result = run.results.get("as-found")
        if result is not None:
            _is_true(result, rod_error_mm)
        verdict = result.verdict if result is not None else None
        assert verdict or error, "neither a verdict nor an error"
        return Ending(
            verdict, error, missing, received, line.damaged_bits, line.touched_packets, client.clock()
        )


def _accounted_for(path: Path) -> tuple[int, int]:
    """Return samples stated to be missing, and received, of a capture; every index is one or the other."""
    capture = read_capture(path)
    stream = capture.stream
    missing = sum(gap.missing for gap in stream.gaps)
    if len(stream.index):
        assert len(stream.index) + missing == stream.index[-1] + 1, "samples are gone without being stated"
        assert (stream.time_s[1:] > stream.time_s[:-1]).all()
    ends = [entry for entry in capture.entries if entry.name == "end"]
    _says_the_same(ends, missing)
    return missing, len(stream.index)


def _says_the_same(ends: list[Entry], missing: int) -> None:
    assert [entry.fields["missing_samples"] for entry in ends] == [missing]


def _is_true(result: Result, rod_error_mm: float) -> None:
    """Check that a result does not contradict the unit it was taken from."""
    truth = "short" if rod_error_mm < -ROD_SHORT_MM else "long" if rod_error_mm > ROD_LONG_MM else "correct"
    assert result.verdict in (truth, "undecided", "no result"), f"{truth} was called {result.verdict}"
    error = result.rod_error
    if error is not None and error.interval_mm is not None:
        low, high = error.interval_mm
        assert low <= rod_error_mm <= high, f"{low} to {high} leaves {rod_error_mm} out"
