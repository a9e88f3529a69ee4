"""Write what is made from the message table: `python protocol/generator` (`--check` only compares)."""

from __future__ import annotations

import sys
from pathlib import Path

import firmware_table
import message_classes
import protocol_page

from rodtrue_protocol.table import TABLE

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "protocol" / "README.md"


def outputs() -> dict[Path, str]:
    """Return each generated file with the text it must have."""
    return {
        README: protocol_page.write(TABLE, README.read_text(encoding="utf-8")),
        ROOT / "firmware" / "table.py": firmware_table.write(TABLE),
        ROOT / "protocol" / "rodtrue_protocol" / "messages.py": message_classes.write(TABLE),
    }


def stale() -> list[str]:
    """Return the generated files that differ from the table, relative to the checkout."""
    return [
        str(path.relative_to(ROOT))
        for path, text in outputs().items()
        if not path.exists() or path.read_text(encoding="utf-8") != text
    ]


def main() -> int:
    """Write all files, or with --check name those that differ and return 1."""
    if "--check" in sys.argv[1:]:
        for name in stale():
            print(f"{name} differs from the message table; run: python protocol/generator")
        return 1 if stale() else 0
    for path, text in outputs().items():
        path.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
