"""Check the firmware's types against the RP2040 port's stubs: `python tests/firmware/check_types.py`.

The stub packages lay bare module files into site-packages, where mypy does not look for them and must
not be pointed at. They are gathered in a folder of their own, beside mypy's cache.
"""

from __future__ import annotations

import shutil
import sys
from importlib import metadata
from pathlib import Path

from mypy import api

ROOT = Path(__file__).resolve().parents[2]
STUBS = ROOT / ".mypy_cache" / "rp2_stubs"
PACKAGES = ("micropython-rp2-stubs", "micropython-stdlib-stubs")


def gather_stubs() -> Path:
    """Copy the stub packages' files into a folder of their own; return it."""
    shutil.rmtree(STUBS, ignore_errors=True)
    for package in PACKAGES:
        for file in metadata.distribution(package).files or ():
            if ".." not in file.parts:
                target = STUBS / file
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(str(file.locate()), target)
    return STUBS


def check() -> tuple[str, int]:
    """Run mypy over the firmware; return its report and exit status."""
    stubs = gather_stubs()
    report, errors, status = api.run(
        [
            "--config-file",
            str(ROOT / "firmware" / "mypy.ini"),
            "--custom-typeshed-dir",
            str(stubs),
            "--cache-dir",
            str(ROOT / ".mypy_cache" / "firmware"),
            str(ROOT / "firmware"),
        ]
    )
    return report + errors, status


if __name__ == "__main__":
    text, code = check()
    print(text, end="")
    sys.exit(code)
