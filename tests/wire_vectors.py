"""Reads the golden vectors and runs the firmware's codec under MicroPython, once for many rows."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from rodtrue_protocol.table import TABLE, Message

ROOT = Path(__file__).resolve().parents[1]
SCRIPT = Path(__file__).resolve().parent / "protocol" / "on_micropython.py"
FILES = sorted((ROOT / "shared" / "vectors").glob("*.json"))


def rows(*names: str) -> list[dict[str, Any]]:
    """Return the rows of the named vector files, or of all."""
    chosen = [path for path in FILES if not names or path.stem in names]
    return [row for path in chosen for row in json.loads(path.read_text(encoding="utf-8"))]


def micropython() -> Path:
    """Return the interpreter: RODTRUE_MICROPYTHON, else the one installed beside this Python."""
    return Path(os.environ.get("RODTRUE_MICROPYTHON") or Path(sys.executable).parent / "micropython")


def on_micropython(task: str, argument: Any = None) -> Any:
    """Run one task of the script under MicroPython with firmware/ on its path; return its JSON answer.

    Skips aloud where no interpreter is installed, unless RODTRUE_REQUIRE_REAL or RODTRUE_MICROPYTHON is set.
    """
    demanded = os.environ.get("RODTRUE_REQUIRE_REAL") == "1" or "RODTRUE_MICROPYTHON" in os.environ
    if not micropython().exists() and not demanded:
        pytest.skip(f"no MicroPython at {micropython()}: the firmware's codec was not run")
    done = subprocess.run(
        [micropython(), SCRIPT, ROOT / "firmware", task],
        input=json.dumps(argument),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def sizes(direction: str) -> dict[str, tuple[int, int, int, int]]:
    """Return the size rules of one direction's messages, for the firmware's receiver."""
    messages = [message for message in TABLE.messages.values() if message.direction == direction]
    return {str(message.type): _rule(message) for message in messages}


def _rule(message: Message) -> tuple[int, int, int, int]:
    free = message.free_field
    return (message.head_size, free.unit_size, free.least, free.most) if free else (message.head_size, 0, 0, 0)
