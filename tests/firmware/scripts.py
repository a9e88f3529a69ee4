"""Runs a script of tests/firmware/on_micropython under MicroPython with the firmware's files beside it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

from rodtrue.resources import room_path
from rodtrue.virtual.interpreter import find_interpreter

SCRIPTS = Path(__file__).resolve().parent / "on_micropython"
PATIENCE_S = 120


def run_script(name: str, *arguments: object, firmware: Path | None = None, folder: Path | None = None) -> Any:
    """Return what the script prints last, a JSON document.

    firmware: another folder of firmware files. folder: where the script runs, the board's flash.
    """
    done = subprocess.run(
        [
            *find_interpreter().command,
            str(SCRIPTS / f"{name}.py"),
            str(firmware or room_path("firmware")),
            *(str(argument) for argument in arguments),
        ],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout.splitlines()[-1])
