"""Write firmware/pins.py from pins.json: `python hardware/generate_pins.py`. A test compares the two."""

from __future__ import annotations

import json
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
    TARGET.write_text(pins_module(json.loads(PIN_MAP.read_text("utf-8"))), "utf-8")
