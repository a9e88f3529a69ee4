"""The cautions: every hazard of the work is named where it arises. Common practice of the trade, no source."""

from __future__ import annotations

import pytest

from rodtrue.model.conditions import Drive
from rodtrue.run.cautions import all_cautions, cautions_for

HAZARDS_BEFORE_AT_A_VEHICLE = (
    "chocked",
    "park",
    "brake",
    "stands",
    "fan",
    "belts",
    "driveline",
    "carbon monoxide",
    "hot",
    "race",
    "pressure before opening",
    "leak by hand",
    "rated",
    "eye protection",
    "stop the engine",
)


def test_codes_are_unique() -> None:
    codes = [caution.code for caution in all_cautions()]
    assert len(codes) == len(set(codes))


@pytest.mark.parametrize("drive", ["slide", "throttle"])
@pytest.mark.parametrize("hazard", HAZARDS_BEFORE_AT_A_VEHICLE)
def test_every_hazard_at_a_vehicle_is_named_before_the_run(drive: Drive, hazard: str) -> None:
    words = " ".join(caution.text for caution in cautions_for("before", drive)).lower()
    assert hazard.lower() in words


@pytest.mark.parametrize("drive", ["slide", "throttle", "bench"])
def test_rods_are_turned_without_engine_or_supply(drive: Drive) -> None:
    (first, *_) = cautions_for("adjust", drive)
    assert "off" in first.text.lower()


@pytest.mark.parametrize(
    "work", ["lock", "holding spring", "slot", "hooked up", "plugged", "leaks", "opened wide", "road test"]
)
def test_everything_left_to_do_is_named_after_the_last_run(work: str) -> None:
    words = " ".join(caution.text for caution in cautions_for("after", "slide")).lower()
    assert work in words


def test_a_bench_is_not_told_about_wheels_and_roads() -> None:
    words = " ".join(
        caution.text for when in ("before", "adjust", "after") for caution in cautions_for(when, "bench")
    )
    assert "Wheels" not in words
    assert "Road test" not in words
    assert "oil under pressure" in words.lower()
