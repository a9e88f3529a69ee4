"""The commands that the project's documents show, as a reader would type them."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")), *sorted((ROOT / "hardware").glob("*.md"))]

_FENCE = re.compile(r"^```[a-z]*\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_COMMENT = re.compile(r"\s{2,}#.*$|^#.*$")


def commands_of(document: Path) -> list[str]:
    """Return the document's command lines in order: `rodtrue ...`, and what sets a shell variable for them."""
    lines = (
        _COMMENT.sub("", line).strip()
        for block in _FENCE.findall(document.read_text(encoding="utf-8"))
        for line in block.replace("\\\n", " ").splitlines()
    )
    return [line for line in lines if re.match(r"rodtrue [a-z-]|[A-Z]+=", line)]


def options_of(command: str) -> list[str]:
    """Return the long options a command line uses."""
    return re.findall(r"(?<=\s)--[a-z-]+", command)
