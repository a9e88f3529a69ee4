"""Pages, drawings and the budget are what their data make of them."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"


def write_pages(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(folder / "write_pages.py"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)


@pytest.fixture
def copy(tmp_path):
    return Path(shutil.copytree(HARDWARE, tmp_path / "hardware", ignore=shutil.ignore_patterns("__pycache__")))


def test_committed_files_are_what_the_scripts_make():
    done = write_pages(HARDWARE, "--check")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("name", ["wiring.svg", "circuits.md", "budget.json", "mount_direct.svg"])
def test_a_page_changed_by_hand_is_named(copy, name):
    (copy / name).write_text((copy / name).read_text("utf-8") + " ", "utf-8")
    done = write_pages(copy, "--check")
    assert done.returncode == 1
    assert name in done.stderr


def test_a_pin_map_changed_without_the_firmwares_pins_is_told_and_nothing_is_written(copy):
    firmware = copy.parent / "firmware"
    firmware.mkdir()
    shutil.copy(HARDWARE.parent / "firmware" / "pins.py", firmware)
    command = [sys.executable, str(copy / "generate_pins.py"), "--check"]
    assert subprocess.run(command, check=False, timeout=60).returncode == 0
    text = (copy / "pins.json").read_text("utf-8")
    (copy / "pins.json").write_text(text.replace('"gpio": 12', '"gpio": 27'), "utf-8")
    before = (firmware / "pins.py").read_text("utf-8")
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, "pins.py" in done.stderr) == (1, True)
    assert (firmware / "pins.py").read_text("utf-8") == before


def test_a_pin_moved_in_the_map_moves_in_drawing_and_table(copy):
    pins = json.loads((copy / "pins.json").read_text("utf-8"))
    next(pin for pin in pins["pins"] if pin["name"] == "lamp")["gpio"] = 27
    (copy / "pins.json").write_text(json.dumps(pins), "utf-8")
    assert write_pages(copy).returncode == 0
    for name in ("wiring.svg", "wiring.md"):
        text = (copy / name).read_text("utf-8")
        assert "GP27" in text
        assert "GP12" not in text


def test_a_rating_changed_changes_the_numbers_in_the_text(copy):
    text = (copy / "circuits.py").read_text("utf-8")
    (copy / "circuits.py").write_text(text.replace("track_ohm: float = 5000.0", "track_ohm: float = 8000.0"), "utf-8")
    assert write_pages(copy).returncode == 0
    page = (copy / "circuits.md").read_text("utf-8")
    assert "E = 1000 Ohm" in page
    assert "E = 625 Ohm" not in page
