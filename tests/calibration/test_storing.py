"""Storing in a fixture: real firmware, its seal and its flash."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from rodtrue.calibration.document import CalibrationDocument
from rodtrue.calibration.files import load_calibration
from rodtrue.calibration.making import renumbered
from rodtrue.calibration.record import over_pressure_code, record_of, threshold_kpa
from rodtrue.cli.calibrate_bench import open_bench
from rodtrue.cli.calibrate_results import write_again
from rodtrue.model.errors import InputError
from rodtrue.run.calibrating import Stored, next_number, store
from rodtrue.run.recorder import read_calibration

VERSION_1 = Path(__file__).parents[1] / "data" / "calibration" / "format_version_1.json"


@pytest.mark.slow
def test_fixture_and_certificate_say_one_number_and_a_threshold_stays_unless_told_another() -> None:
    with open_bench("virtual") as (session, hands):
        assert hands is not None
        kept = load_calibration(VERSION_1)
        first = replace(kept, fixture=replace(kept.fixture, unique_id=session.identity.unique_id.hex()))
        said: list[str] = []

        def stored(document: CalibrationDocument, over_pressure_kpa: float | None = None) -> Stored:
            return store(
                session.client,
                session.identity,
                document,
                over_pressure_kpa=over_pressure_kpa,
                say=said.append,
                hold_button=hands.hold_button,
            )

        def holds() -> tuple[int, float | None]:
            held = read_calibration(session.client)
            assert held is not None
            return held["generation"], held["over_pressure_kpa"]

        with pytest.raises(InputError, match="number 4, done 2026-03-31; the fixture holds none yet"):
            stored(replace(first, generation=4))
        assert stored(first) == Stored(1, written=True)
        assert holds() == (1, None)
        assert "its nominal threshold" in said[0]

        said.clear()
        assert stored(first) == Stored(1, written=False), "the same once more"
        assert not said, "nobody is asked to press the button for nothing"

        with pytest.raises(InputError, match="already, as number 1, with another over-pressure threshold"):
            stored(first, 1200.0)
        second = renumbered(first, next_number(session.client), date(2026, 4, 1))
        assert (second.generation, second.travel) == (2, first.travel)
        assert "Issued again on 2026-04-01" in second.remarks and "number 1" in second.remarks
        assert stored(second, 1200.0) == Stored(2, written=True)
        assert holds() == (2, pytest.approx(1200.0, abs=0.1))
        assert stored(second) == Stored(2, written=False), "the threshold it holds counts as the one asked for"

        with pytest.raises(InputError, match=r"number 1, done 2026-03-31; the fixture holds number 2.*is older"):
            stored(first)
        with pytest.raises(InputError, match="holds another number 2, done 2026-03-31"):
            stored(replace(first, generation=2, travel=replace(first.travel, scale_half_width=0.001)))

        assert stored(replace(first, generation=3)) == Stored(3, written=True)
        assert holds() == (3, pytest.approx(1200.0, abs=0.2))
        with pytest.raises(InputError, match="the sensor shows"):
            stored(replace(first, generation=4), 5000.0)
        assert holds()[0] == 3


def test_a_threshold_read_back_gives_the_same_code_again() -> None:
    document = load_calibration(VERSION_1)
    for asked_kpa in (300.0, 1200.0, 1999.0):
        record = record_of(document, asked_kpa)
        told_kpa = threshold_kpa(record)
        assert told_kpa is not None
        assert over_pressure_code(document.pressure, told_kpa) == record.over_pressure_code


def test_a_calibration_issued_again_overwrites_neither_a_calibration_nor_a_certificate(tmp_path: Path) -> None:
    again = renumbered(load_calibration(VERSION_1), 7, date(2026, 4, 1))
    for name in ("calibration-7.json", "certificate-7.md"):
        (tmp_path / name).write_text("theirs")
        with pytest.raises(InputError, match=f"{name}: there already"):
            write_again(again, tmp_path / "calibration.json")
        assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {name: "theirs"}
        (tmp_path / name).unlink()
