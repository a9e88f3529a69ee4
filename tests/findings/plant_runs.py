"""Runs for the findings, each with and without one thing wrong: on the plant directly, and through a whole fixture.

What is wrong has a physical cause. The unit and the fixture are drawn from the same key with it and without.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from zlib import crc32

import numpy as np
import pytest

import rodtrue_protocol as wire
from rodtrue.analysis.judge import judge
from rodtrue.calibration.document import CalibratedFixture
from rodtrue.calibration.files import keep_copy, load_calibration
from rodtrue.calibration.record import record_of
from rodtrue.capture.csv_out import write_csv
from rodtrue.findings_table import load_findings_table
from rodtrue.judging import CsvAnswers, judge_csv
from rodtrue.link.port import Port
from rodtrue.model.conditions import Conditions
from rodtrue.model.profile import Profile, RunPlan
from rodtrue.model.result import Judgement, Result
from rodtrue.model.samples import SWEEP
from rodtrue.profiles import load_profile, profile_text
from rodtrue.run.autopilot import Autopilot
from rodtrue.run.guided import GuidedRun, RunSettings
from rodtrue.run.hand import VirtualHand
from rodtrue.run.manual_time import manual_client
from rodtrue.run.recorder import Recorder
from rodtrue.virtual.direct import play
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.motion import Step, guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import Scenario, scenario_for

TABLE = load_findings_table()
DIRECT, TWO_BELL_CRANKS = load_profile("example-direct"), load_profile("example-two-bell-cranks")

KEPT_CALIBRATION = Path(__file__).parents[1] / "data" / "calibration" / "format_version_1.json"

"""A safety net on a loaded machine, never a promise."""

Change = Callable[[Scenario], Scenario]
Moves = Callable[[Plant], Sequence[Step]]


def section(name: str, **changes: object) -> Change:
    """Return the change of one section of a scenario, such as its valve."""
    return lambda scenario: replace(scenario, **{name: replace(getattr(scenario, name), **changes)})


def by_hand(plant: Plant) -> Sequence[Step]:
    """The usual run: six sweeps at two speeds."""
    return guided_run(plant.hand)


def plant_of(profile: Profile, rod_error_mm: float, fault: str | None, change: Change | None, seed: int) -> Plant:
    """Return a unit; with the fault it is the same one, only ill."""
    scenario = scenario_for(profile, rod_error_mm=rod_error_mm)
    plant = Plant(change(scenario) if change else scenario, seed)
    plant.handle.fault = fault
    return plant


def on_plant(
    rod_error_mm: float = 0.2,
    fault: str | None = None,
    *,
    change: Change | None = None,
    moves: Moves = by_hand,
    profile: Profile = DIRECT,
    seed: int = 3,
) -> Judgement:
    """Return the judgement of a run on the plant directly."""
    plant = plant_of(profile, rod_error_mm, fault, change, seed)
    conditions = Conditions(kind="virtual", drive="slide", rod_unhooked=fault != "baseline-connected")
    return judge(play(plant, moves(plant)), profile, conditions, TABLE)


def shifted(shift_kpa: float, rod_error_mm: float = -2.0, seed: int = 3) -> Judgement:
    """Return the judgement of a run whose pressure stands this much higher from the first sweep on."""
    plant = plant_of(DIRECT, rod_error_mm, None, None, seed)
    samples = play(plant, by_hand(plant))
    pressure_kpa = samples.pressure_kpa + np.where(samples.step == SWEEP, shift_kpa, 0.0)
    conditions = Conditions(kind="virtual", drive="slide", rod_unhooked=True)
    return judge(replace(samples, pressure_kpa=pressure_kpa), DIRECT, conditions, TABLE)


def as_csv(rod_error_mm: float = -2.0, *, baseline: str | None, invented: bool) -> Result:
    """Return the result of a run on the plant, written as CSV and judged from the file."""
    plant = plant_of(DIRECT, rod_error_mm, None, None, 3)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "run.csv"
        write_csv(play(plant, by_hand(plant)), path)
        return judge_csv(path, replace(DIRECT, invented=invented), CsvAnswers(baseline=baseline))


def through_fixture(
    rod_error_mm: float = -2.0,
    *,
    fault: str | None = None,
    change: Change | None = None,
    calibration: bytes | None = None,
    stalls_s: Sequence[tuple[float, float]] = (),
    profile: Profile = DIRECT,
) -> Result:
    """Return the result of a guided run of three sweeps: firmware, wire, capture, judgement.

    calibration: the record in the fixture's flash. stalls_s: pairs (from, for) of device time in which the host
    takes nothing off the line.
    """
    plan = RunPlan(sweeps=3, extended_sweeps=3)
    plant = plant_of(profile, rod_error_mm, fault, change, 3)
    with TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "flash").mkdir()
        if calibration is not None:
            (place / "flash" / "calibration_a.bin").write_bytes(_slot(calibration))
        with (
            VirtualFixture(plant, pace="manual", state_dir=place / "flash", stalls_s=stalls_s) as fixture,
            Port(fixture.port) as port,
        ):
            client = manual_client(fixture, port)
            recorder = Recorder(client, client.hello())
            settings = RunSettings(replace(profile, plan=plan), profile_text(profile.name)[0], place)
            run = GuidedRun(recorder, settings)
            hand = VirtualHand(plant.hand, plant.handle)
            try:
                Autopilot(run, hand, client.clock, adjust=False, fault=fault).play(lambda: None)
            finally:
                run.close()
            return run.results["as-found"]


def calibrated_up_to(pressure_kpa: float) -> Result:
    """Return the result of a run with a fixture calibrated up to a pressure, its document kept on this computer."""
    whole = load_calibration(KEPT_CALIBRATION)
    points = [point for point in whole.pressure.points if point.reference <= pressure_kpa]
    document = replace(
        whole,
        fixture=CalibratedFixture("virtual", b"VIRTUAL\x01".hex()),
        pressure=replace(whole.pressure, points=points),
        due=None,
    )
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setenv("RODTRUE_DATA", folder)
        keep_copy(document)
        return through_fixture(calibration=wire.encode_calibration(record_of(document)))


def calibration_record(fixture_id: bytes, due_year: int) -> bytes:
    """Return a calibration of nominal scaling; the virtual fixture's own id is `VIRTUAL` and a 1."""
    return wire.encode_calibration(
        wire.CalibrationRecord(
            layout=1,
            over_pressure_code=63_000,
            fixture_id=fixture_id,
            done_year=2020,
            done_month=3,
            done_day=14,
            due_year=due_year,
            due_month=3,
            due_day=14,
            references="invented gauge, invented blocks",
            channels=(
                wire.ChannelCalibration(1, 0.1, 0.0, 125.0, 0.0, 0.001, 0.02, 0.01, 21.0),
                wire.ChannelCalibration(1, 0.1, 0.0, 2585.0, 0.0, 0.002, 1.0, 0.5, 21.0),
            ),
        )
    )


def _slot(data: bytes) -> bytes:
    """Return a calibration slot as the firmware keeps it in its flash."""
    content = struct.pack("<4sHB", b"RTC1", 1, len(data)) + data
    return content + struct.pack("<I", crc32(content))
