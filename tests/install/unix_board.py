"""A board made of MicroPython's Unix port: its real prompt, or the firmware that lies in its flash, at one port.

As on a board, a restart from the prompt runs the program in the flash, and the program's way into
maintenance leads to the prompt. What the program does not find here, a converter and pins, the stand-in
board of the virtual fixture gives it.
"""

from __future__ import annotations

import contextlib
import os
import pty
import select
import subprocess
import threading
import tty
from pathlib import Path
from types import TracebackType

from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.interpreter import find_interpreter
from virtual.bench import RulePlant

_LOOK_S = 0.02
_CHUNK = 4096
_RESET_MODULE = "def reset():\n    raise SystemExit\n"

SMALL_LITTLEFS = """
import os, vfs
class _Ram:
    def __init__(self, blocks):
        self.data = bytearray(4096 * blocks)
    def readblocks(self, n, buf, off=0):
        for k in range(len(buf)):
            buf[k] = self.data[4096 * n + off + k]
    def writeblocks(self, n, buf, off=0):
        for k in range(len(buf)):
            self.data[4096 * n + off + k] = buf[k]
    def ioctl(self, op, arg):
        if op == 4:
            return len(self.data) // 4096
        if op == 5:
            return 4096
        return 0
_ram = _Ram({blocks})
vfs.VfsLfs2.mkfs(_ram, progsize=256)
vfs.umount("/")
vfs.mount(vfs.VfsLfs2(_ram, progsize=256), "/")
os.chdir("/")
"""
"""Said to the prompt before anything else: the flash is a littlefs of so many blocks of 4096 bytes."""

OTHER_INTERPRETER = """
import sys
class _Implementation:
    name = {name!r}
    version = {version!r}
    _machine = "an invented board"
    _mpy = sys.implementation._mpy
class _Sys:
    implementation = _Implementation
    platform = "rp2"
sys.modules["sys"] = _Sys
"""
"""Said to the prompt before anything else: it takes itself for another interpreter."""

WRONG_HASHES = """
import sys
class _Hash:
    def update(self, data):
        pass
    def digest(self):
        return b"0" * 32
class _Hashlib:
    sha256 = _Hash
sys.modules["hashlib"] = _Hashlib
"""
"""Said to the prompt before anything else: whatever is read back hashes to something else."""


class UnixBoard:
    """A board at `port`. flash: its files. said: what stood on the line, both ways, for a look afterwards.

    before_prompt: code that the interpreter runs before its prompt shows. cut_after_bytes: from the host to
    the prompt, after which the board loses its power and its port.
    """

    def __init__(self, folder: Path, before_prompt: str = "", cut_after_bytes: int | None = None) -> None:
        self.flash = folder / "flash"
        self.flash.mkdir(exist_ok=True)
        self._modules = folder / "modules"
        self._modules.mkdir(exist_ok=True)
        (self._modules / "machine.py").write_text(_RESET_MODULE, "utf-8")
        self._before_prompt = before_prompt
        self._left_bytes = cut_after_bytes
        self._outer, far_side = pty.openpty()
        tty.setraw(far_side)
        # Kept open, or the line would end with the first host that closes it.
        self._far_side = far_side
        self.port = os.ttyname(far_side)
        self.from_host = bytearray()
        self._inner = -1
        self._prompt: subprocess.Popen[bytes] | None = None
        self._program: VirtualFixture[None] | None = None
        self._closing = threading.Event()
        self._boot()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    @property
    def runs_program(self) -> bool:
        """Whether the firmware runs, and not the prompt."""
        return self._program is not None

    def close(self) -> None:
        """Take it away."""
        self._closing.set()
        self._thread.join()
        self._stop()
        with contextlib.suppress(OSError):
            os.close(self._outer)
        with contextlib.suppress(OSError):
            os.close(self._far_side)

    def __enter__(self) -> UnixBoard:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _boot(self) -> None:
        self._stop()
        if (self.flash / "main.py").exists():
            self._program = VirtualFixture(RulePlant(), firmware=self.flash, state_dir=self.flash)
            self._inner = os.open(self._program.port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        else:
            self._show_prompt()

    def _show_prompt(self) -> None:
        self._stop()
        self._inner, child_side = pty.openpty()
        tty.setraw(child_side)
        self._prompt = subprocess.Popen(
            [*find_interpreter().command, "-i", "-c", self._before_prompt or "pass"],
            stdin=child_side,
            stdout=child_side,
            stderr=child_side,
            cwd=self.flash,
            env={"MICROPYPATH": str(self._modules)},
        )
        os.close(child_side)

    def _stop(self) -> None:
        if self._inner >= 0:
            os.close(self._inner)
            self._inner = -1
        if self._program is not None:
            self._program.close()
            self._program = None
        if self._prompt is not None:
            self._prompt.kill()
            self._prompt.wait()
            self._prompt = None

    def _run(self) -> None:
        while not self._closing.is_set():
            ready, _, _ = select.select([self._outer, self._inner], [], [], _LOOK_S)
            try:
                if self._outer in ready and not self._take_from_host(os.read(self._outer, _CHUNK)):
                    return
                if self._inner in ready:
                    os.write(self._outer, os.read(self._inner, _CHUNK))
            except OSError:
                # The prompt's end of the line goes with its process.
                pass
            # Lit with no program: the boot for maintenance has cleared its flag.
            if self._program is not None and self._program.resets and self._program.lamp:
                self._show_prompt()
            elif self._prompt is not None and self._prompt.poll() is not None:
                self._boot()

    def _take_from_host(self, data: bytes) -> bool:
        """Pass bytes on; return False where the power has gone."""
        self.from_host += data
        if self._prompt is not None and self._left_bytes is not None:
            self._left_bytes -= len(data)
            if self._left_bytes < 0:
                self._stop()
                os.close(self._far_side)
                os.close(self._outer)
                return False
        while data:
            data = data[os.write(self._inner, data) :]
        return True
