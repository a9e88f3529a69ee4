"""Write firmware/pins.py from pins.json: `python hardware/generate_pins.py`; `--check` only compares."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
PIN_MAP = HERE / "pins.json"
TARGET = HERE.parent / "firmware" / "pins.py"

HEAD = '''"""Pins and converter channels, written by hardware/generate_pins.py from hardware/pins.json."""

from micropython import const
'''


def pins_module(pin_map: dict[str, Any]) -> str:
    """Return the text of the firmware's pins file for the content of `pins.json`."""
    converter = pin_map["converter"]
    polarity, phase = divmod(converter["spi_mode"], 2)
    groups = [
        [(f"PIN_{pin['name'].upper()}", pin["gpio"]) for pin in pin_map["pins"]],
        [
            ("SPI_BUS", converter["spi_bus"]),
            ("SPI_POLARITY", polarity),
            ("SPI_PHASE", phase),
            ("SPI_CLOCK_HZ", converter["clock_hz"]),
        ],
        [(f"CHANNEL_{entry['name'].upper()}", entry["channel"]) for entry in converter["channels"]],
    ]
    body = "\n".join("".join(f"{name} = const({value})\n" for name, value in group) for group in groups)
    return f"{HEAD}\n{body}"


if __name__ == "__main__":
    made = pins_module(json.loads(PIN_MAP.read_text("utf-8")))
    if "--check" not in sys.argv[1:]:
        TARGET.write_text(made, "utf-8")
    elif TARGET.read_text("utf-8") != made:
        sys.exit(f"{TARGET.name} is not what hardware/generate_pins.py makes of pins.json")
