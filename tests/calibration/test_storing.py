"""Storing in a fixture: real firmware, its seal and its flash."""

from dataclasses import replace
from pathlib import Path

import pytest

from rodtrue.calibration.files import load_calibration
from rodtrue.cli.calibrate_run import open_bench
from rodtrue.model.errors import InputError
from rodtrue.run.calibrating import store
from rodtrue.run.recorder import read_calibration

VERSION_1 = Path(__file__).parents[1] / "data" / "calibration" / "format_version_1.json"


@pytest.mark.slow
def test_a_later_calibration_keeps_the_over_pressure_threshold_unless_told_another() -> None:
    with open_bench("virtual") as (session, hands):
        assert hands is not None
        document = load_calibration(VERSION_1)
        fixture = replace(document.fixture, unique_id=session.identity.unique_id.hex())
        document = replace(document, fixture=fixture)
        said: list[str] = []

        def stored_kpa(over_pressure_kpa: float | None) -> float | None:
            store(
                session.client,
                session.identity,
                document,
                over_pressure_kpa=over_pressure_kpa,
                say=said.append,
                hold_button=hands.hold_button,
            )
            held = read_calibration(session.client)
            assert held is not None
            return held["over_pressure_kpa"]

        assert stored_kpa(None) is None
        assert "its nominal threshold" in said[0]
        assert stored_kpa(1200.0) == pytest.approx(1200.0, abs=0.1)
        assert stored_kpa(None) == pytest.approx(1200.0, abs=0.2)
        assert "1200 kPa" in said[-2]
        with pytest.raises(InputError, match="the sensor shows"):
            stored_kpa(5000.0)
        held = read_calibration(session.client)
        assert held is not None and held["generation"] == 3
