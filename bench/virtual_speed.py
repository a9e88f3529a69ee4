"""How fast a virtual fixture runs with manual pace: `python -m bench.virtual_speed`.

Prints device seconds per wall second while streaming, with the shipped plant, firmware under MicroPython.
"""

from __future__ import annotations

import sys
import time

import rodtrue_protocol as wire
from rodtrue.link.port import Port
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import load_scenario

DEVICE_S = 20.0
STEP_S = 0.25


def device_seconds_per_second(rate_hz: int) -> float:
    """Return the speed at one sample rate, the host reading along."""
    with VirtualFixture(Plant(load_scenario(), 1), pace="manual") as fixture, Port(fixture.port) as port:
        port.write(wire.encode("hello", 1, table_digest=wire.TABLE.digest))
        port.write(wire.encode("start", 2, rate_hz=rate_hz))
        begun = time.monotonic()
        while fixture.device_time_s < DEVICE_S:
            fixture.run_for(STEP_S)
            port.read(0)
        return DEVICE_S / (time.monotonic() - begun)


def main() -> int:
    """Print the speed at the slowest, the usual and the fastest rate."""
    for rate_hz in (100, 500, 1000):
        print(f"{rate_hz} samples/s: {device_seconds_per_second(rate_hz):.1f} device seconds per second")
    return 0


if __name__ == "__main__":
    sys.exit(main())
