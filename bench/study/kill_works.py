"""What a trial does, one short work each, by keyword arguments that JSON can carry."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from bench.study.after_a_kill import job_in


def save(job: str, records: str) -> None:
    """Keep a job in a database."""
    from rodtrue.records import open_records

    with open_records(records) as opened:
        opened.save(job_in(Path(job)))


def save_many(job: str, records: str, told: str, many: int) -> None:
    """Keep one job after the other, and tell what was begun, what is kept, and how it ended."""
    from rodtrue.model.errors import FixtureError, InputError
    from rodtrue.records import open_records

    loaded = job_in(Path(job))
    with Path(told).open("a", buffering=1) as said:
        print("begun", file=said)
        try:
            with open_records(records) as opened:
                for number in range(many):
                    print("saving", number, file=said)
                    opened.save(replace(loaded, reference=str(number)))
                    print("saved", number, file=said)
        except (InputError, FixtureError) as error:
            print("refused:", error.message.replace("\n", " "), file=said)
        else:
            print("done", file=said)


def migrate(records: str) -> None:
    """Bring a database up to date."""
    from rodtrue.records import open_records

    open_records(records).close()


def report(job: str, to: str) -> None:
    """Make a report in place of an older one."""
    from rodtrue.report import write_report

    write_report(Path(to), job_in(Path(job)))


def plot(job: str, to: str) -> None:
    """Draw a job's plot."""
    from rodtrue.cli.outputs import write_plot

    loaded = job_in(Path(job))
    write_plot(Path(to), loaded.as_found, loaded.as_left)


def job_file(job: str, to: str) -> None:
    """Write a job in place of an older one."""
    from rodtrue.run.job import write_job

    write_job(Path(to), job_in(Path(job)))


def samples(capture: str, to: str) -> None:
    """Write a capture's samples as CSV."""
    from rodtrue.capture.csv_out import write_csv
    from rodtrue.capture.reader import read_capture

    write_csv(read_capture(Path(capture)).samples(), Path(to))


def export(records: str, to: str) -> None:
    """Write the runs as a table."""
    from rodtrue.records import RunFilter, open_records
    from rodtrue.records.export import export_runs

    with open_records(records) as opened:
        export_runs(opened, RunFilter(), Path(to))


def keep_calibration(document: str, to: str, data: str) -> None:
    """Write a calibration with its certificate and plot, and keep the host's copy in a data folder."""
    import os

    from rodtrue.calibration.files import load_calibration
    from rodtrue.cli.calibrate_results import write_results

    os.environ["RODTRUE_DATA"] = data
    write_results(load_calibration(Path(document)), Path(to), "virtual")


def store_in_fixture(document: str, flash: str, told: str, times: int) -> None:
    """Store a calibration in one fixture again and again; note each number that the fixture has acknowledged."""
    from rodtrue.calibration.files import load_calibration
    from rodtrue.link.port import Port
    from rodtrue.run.calibrating import store
    from rodtrue.run.manual_time import manual_client
    from rodtrue.run.session import DEFAULT_SEED, default_plant
    from rodtrue.virtual.calibration_bench import CalibrationBench
    from rodtrue.virtual.fixture import VirtualFixture

    loaded = load_calibration(Path(document))
    bench = CalibrationBench(default_plant().truth, DEFAULT_SEED)

    def hold(pressed: bool) -> None:
        bench.handle.button = pressed

    with (
        VirtualFixture(bench, pace="manual", state_dir=Path(flash)) as fixture,
        Port(fixture.port) as port,
        Path(told).open("a") as acknowledged,
    ):
        client = manual_client(fixture, port)
        identity = client.hello()
        for number in range(1, times + 1):
            done = store(
                client,
                identity,
                replace(loaded, generation=number),
                over_pressure_kpa=None,
                say=lambda text: None,
                hold_button=hold,
            )
            print(done.generation, file=acknowledged, flush=True)


def backup(records: str, to: str) -> None:
    """Back up."""
    from rodtrue.records import open_records
    from rodtrue.records.backup import back_up

    with open_records(records) as opened:
        back_up(opened, Path(to))


def restore(backup: str, records: str, captures: str) -> None:
    """Put a backup back."""
    from rodtrue.records import open_records
    from rodtrue.records.backup import restore as put_back

    with open_records(records) as opened:
        put_back(opened, Path(backup), Path(captures))
