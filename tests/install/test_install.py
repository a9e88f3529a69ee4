"""Installing on MicroPython's Unix port through its raw prompt, as far as that goes.

Not shown here: a USB port that vanishes and comes back, a board's own flash, and machine code for its processor.
"""

from __future__ import annotations

import os
import pty
import re
import shutil
import tty
from pathlib import Path

import pytest

import rodtrue_protocol as wire
from install.unix_board import OTHER_INTERPRETER, SMALL_LITTLEFS, WRONG_HASHES, UnixBoard
from rodtrue.install.build import FIXTURE_BOARD, Target, build
from rodtrue.install.entry import Place, who_is_there
from rodtrue.install.installer import install
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.resources import room_path

# On a busy machine the Unix port's prompt on a pseudo-terminal now and then loses a byte.
pytestmark = [pytest.mark.slow, pytest.mark.flaky(reruns=2)]

FIRMWARE = {path.name for path in room_path("firmware").glob("*.py")}
CALIBRATION = bytes.fromhex("00112233")


def modules() -> set[str]:
    """Return the firmware's module files in their compiled names."""
    return {name if name in ("boot.py", "main.py") else name.replace(".py", ".mpy") for name in FIRMWARE}


def test_a_bare_board_gets_the_firmware_and_says_hello_with_it(tmp_path: Path) -> None:
    steps: list[str] = []
    with UnixBoard(tmp_path) as board:
        done = install(board.port, steps.append)
        assert board.runs_program
    assert {path.name for path in board.flash.iterdir()} == modules()
    assert set(done.copied) == modules() and not done.unchanged and not done.removed
    assert done.copied[-1] == "main.py"
    assert done.build.compiled_for == "x64", "what the Unix port is"
    assert done.identity.table_digest == wire.TABLE.digest
    assert "Firmware 0.1.0 says hello." in steps
    assert any("no RP2040" in step for step in steps), "it is not taken for a fixture's board"


def test_a_running_fixture_is_asked_into_maintenance_and_keeps_its_calibration(tmp_path: Path) -> None:
    flash = tmp_path / "flash"
    shutil.copytree(room_path("firmware"), flash, ignore=shutil.ignore_patterns("__pycache__", "mypy.ini"))
    (flash / "calibration_a.bin").write_bytes(CALIBRATION)
    (flash / "notes.txt").write_text("somebody's own\n", "utf-8")
    steps: list[str] = []
    with UnixBoard(tmp_path) as board:
        assert board.runs_program
        done = install(board.port, steps.append)
    assert any("into maintenance" in step for step in steps)
    assert set(done.removed) == FIRMWARE - {"boot.py", "main.py"}, "sources would hide what is compiled"
    assert {path.name for path in flash.iterdir()} == modules() | {"calibration_a.bin", "notes.txt"}
    assert (flash / "calibration_a.bin").read_bytes() == CALIBRATION


def test_a_fixture_that_speaks_another_message_table_is_mended(tmp_path: Path) -> None:
    flash = tmp_path / "flash"
    shutil.copytree(room_path("firmware"), flash, ignore=shutil.ignore_patterns("__pycache__", "mypy.ini"))
    table = (flash / "table.py").read_text("utf-8")
    old = re.sub(r"DIGEST_LOW = const\(0x\w+\)", "DIGEST_LOW = const(0x0001)", table)
    assert old != table
    (flash / "table.py").write_text(old, "utf-8")
    with UnixBoard(tmp_path) as board:
        before = who_is_there(Place(board.port))
        assert before is not None and before.table_digest != wire.TABLE.digest
        assert install(board.port).identity.table_digest == wire.TABLE.digest


def test_installing_again_copies_nothing_that_is_there(tmp_path: Path) -> None:
    with UnixBoard(tmp_path) as board:
        install(board.port)
        written = {path.name: path.stat().st_mtime_ns for path in board.flash.iterdir()}
        again = install(board.port)
        assert {path.name: path.stat().st_mtime_ns for path in board.flash.iterdir()} == written
    assert not again.copied and set(again.unchanged) == modules()


def test_only_what_differs_is_copied_and_main_py_last(tmp_path: Path) -> None:
    with UnixBoard(tmp_path) as board:
        install(board.port)
        (board.flash / "alarm.mpy").write_bytes(b"damaged")
        again = install(board.port)
    assert again.copied == ["alarm.mpy", "main.py"]


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_board_that_loses_its_power_meanwhile_keeps_what_it_had(tmp_path: Path, share: float) -> None:
    old = tmp_path / "flash"
    shutil.copytree(room_path("firmware"), old, ignore=shutil.ignore_patterns("__pycache__", "mypy.ini"))
    whole = sum(len(file.content) for file in build(Target("x64", 6, 3)).files)
    with UnixBoard(tmp_path, cut_after_bytes=int(share * whole)) as board, pytest.raises(FixtureError) as raised:
        install(board.port)
    assert "stopped answering" in raised.value.message
    assert {path.name for path in old.iterdir() if path.suffix != ".new"} == FIRMWARE
    with UnixBoard(tmp_path) as board:
        assert board.runs_program, "the old firmware still starts"
        install(board.port)
        assert {path.name for path in old.iterdir()} == modules(), "what was left over is gone"


def test_a_file_that_does_not_read_back_replaces_nothing(tmp_path: Path) -> None:
    with UnixBoard(tmp_path, WRONG_HASHES) as board, pytest.raises(FixtureError) as raised:
        install(board.port)
    assert "does not read back as it was written" in raised.value.message
    assert not modules() & {path.name for path in board.flash.iterdir()}


def test_a_full_board_is_refused_with_figures(tmp_path: Path) -> None:
    with UnixBoard(tmp_path, SMALL_LITTLEFS.format(blocks=12)) as board, pytest.raises(FixtureError) as raised:
        install(board.port)
    assert "bytes are free on the board" in raised.value.message and "are needed" in raised.value.message


def test_on_littlefs_every_file_is_renamed_into_its_place(tmp_path: Path) -> None:
    """The Unix port cannot start what lies in a flash of its memory; only the installation's end fails."""
    steps: list[str] = []
    with UnixBoard(tmp_path, SMALL_LITTLEFS.format(blocks=64)) as board, pytest.raises(FixtureError) as raised:
        install(board.port, steps.append)
    assert steps[-1] == "Restarting." and "Every file reads back as written." in steps
    assert "no fixture answered" in raised.value.message


@pytest.mark.parametrize(
    ("name", "version", "said"),
    [
        ("micropython", (1, 25, 0), "MicroPython 1.25.0 is too old; the firmware needs 1.26.0 or newer"),
        ("otherpython", (9, 2, 0), "runs otherpython, not MicroPython"),
    ],
)
def test_another_interpreter_is_refused_before_anything_is_copied(
    tmp_path: Path, name: str, version: tuple[int, ...], said: str
) -> None:
    prompt = OTHER_INTERPRETER.format(name=name, version=version)
    with UnixBoard(tmp_path, prompt) as board, pytest.raises(FixtureError) as raised:
        install(board.port)
    assert said in raised.value.message
    assert not list(board.flash.iterdir())


def test_the_newest_too_old_release_is_the_last_that_is_refused(tmp_path: Path) -> None:
    prompt = OTHER_INTERPRETER.format(name="micropython", version=(1, 26, 0, "preview"))
    with UnixBoard(tmp_path, prompt) as board:
        done = install(board.port)
    assert done.facts.version_text == "1.26.0.preview"


def test_a_virtual_fixture_and_an_absent_port_are_refused() -> None:
    with pytest.raises(InputError):
        install("virtual")
    with pytest.raises(FixtureError, match="no such port"):
        install("/dev/does-not-exist")


def test_every_file_is_built_for_the_boards_processor() -> None:
    made = build(FIXTURE_BOARD)
    assert made.compiled_for == "armv6m" and {file.name for file in made.files} == modules()
    assert made.files[-1].name == "main.py"
    native = [file.name for file in made.files if file.name.endswith(".mpy") and file.content[2] >> 2 & 0x0F]
    assert "blocks.mpy" in native, "viper is machine code"


@pytest.mark.parametrize(
    ("target", "said"),
    [
        (Target("armv6m", 5, 0), "the board loads 5.0"),
        (Target("armv6m", 6, 1), "the board loads 6.1"),
        (Target("", 0, 0), "does not say which compiled files it loads"),
        (Target("abacus", 6, 3), "mpy-cross on alarm.py: "),
    ],
    ids=str,
)
def test_where_nothing_can_be_compiled_the_source_goes_and_the_reason_is_told(target: Target, said: str) -> None:
    made = build(target)
    assert made.compiled_for is None and said in (made.why_source or "")
    assert {file.name for file in made.files} == FIRMWARE


def test_the_targets_number_is_the_interpreters_own() -> None:
    """Of the RP2040 port at 1.26: 0x1306 = version 6, sub-version 3, processor 4 (the documentation's rule)."""
    assert Target.from_number(0x1306) == FIXTURE_BOARD
    assert Target.from_number(0) == Target("", 0, 0)


def test_a_port_without_a_prompt_is_told_what_to_do() -> None:
    far, near = pty.openpty()
    tty.setraw(near)
    try:
        with pytest.raises(FixtureError) as raised:
            install(os.ttyname(near))
    finally:
        os.close(near)
        os.close(far)
    assert "no MicroPython prompt answers" in raised.value.message
    assert "button while plugging it in" in raised.value.next_step
