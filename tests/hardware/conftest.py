"""The hardware folder's scripts import each other by name, as when run by hand."""

import sys
from pathlib import Path

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
sys.path.append(str(HARDWARE))
