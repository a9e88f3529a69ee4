"""Viper COBS against the same loop as bytecode, under MicroPython: `python -m bench.firmware_cobs`.

Prints both times for a full sample block's body and their ratio. The ratio is this machine's; on the
board's processor it is of the same kind, the times are not.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from rodtrue.resources import room_path
from rodtrue.virtual.interpreter import find_interpreter

SCRIPT = """
import sys, time
sys.path.insert(0, sys.argv[1])
import framing, plain
body = bytearray((7 * i) % 251 for i in range(145))
target = bytearray(160)
def seconds(encode, turns):
    best = 1e9
    for _ in range(9):
        begun = time.ticks_us()
        for _ in range(turns):
            encode(body, 145, target)
        best = min(best, time.ticks_diff(time.ticks_us(), begun) / turns)
    return best
viper = seconds(framing.cobs_encode, 4000)
bytecode = seconds(plain.cobs_encode, 400)
print("viper %.3f us, bytecode %.3f us, ratio %.1f" % (viper, bytecode, bytecode / viper))
"""


def as_bytecode(source: str) -> str:
    """Return the firmware's framing file with its viper functions left to the bytecode compiler."""
    plain = source.replace("@micropython.viper\n", "")
    for name in ("source", "target"):
        plain = plain.replace(f"ptr8({name})", name)
    return plain


def main() -> int:
    """Run both under MicroPython; return its exit status."""
    firmware = room_path("firmware")
    with tempfile.TemporaryDirectory() as folder:
        for file in firmware.glob("*.py"):
            (Path(folder) / file.name).write_text(file.read_text("utf-8"), "utf-8")
        plain = as_bytecode((firmware / "framing.py").read_text("utf-8"))
        (Path(folder) / "plain.py").write_text(plain, "utf-8")
        script = Path(folder) / "bench_cobs.py"
        script.write_text(SCRIPT, "utf-8")
        return subprocess.run([*find_interpreter().command, str(script), folder], check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
