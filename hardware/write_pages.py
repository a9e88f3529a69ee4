"""Write what is made from data: pages from templates/, wiring.md, every drawing, budget.json.

`python hardware/write_pages.py` writes; with `--check` nothing is written, what differs is named, and the
end is 1. A test runs the check.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import budget
import circuit_drawing
import circuits
import mounting_drawings
import wiring_drawing

HERE = Path(__file__).resolve().parent


def budget_table() -> str:
    """Return the budget's rows as a Markdown table."""
    lines = ["| row | half-width | of | why | calibration removes it |", "| --- | --- | --- | --- | --- |"]
    for row in budget.rows():
        removed = "yes" if row["calibration_removes"] else "no"
        kind = row["applies_to"].replace("_", " ") + (", normal" if row["distribution"] == "normal" else "")
        lines.append(f"| `{row['name']}` | {row['half_width']} {row['unit']} | {kind} | {row['why']} | {removed} |")
    return "\n".join(lines)


def made() -> dict[str, str]:
    """Return the text of every file made from data, by its name in this folder."""
    fields = {**circuits.values(), "budget_table": budget_table()}
    templates = sorted((HERE / "templates").glob("*.md"))
    files = {template.name: template.read_text("utf-8").format(**fields) for template in templates}
    rows = ",\n  ".join(json.dumps(row) for row in budget.rows())
    head = f'"schema": {json.dumps(budget.document()["schema"])},\n "comment": {json.dumps(budget.COMMENT)}'
    files["budget.json"] = f'{{{head},\n "rows": [\n  {rows}\n ]}}\n'
    files |= {"wiring.md": wiring_drawing.table(), "wiring.svg": wiring_drawing.draw(wiring_drawing.load()).svg()}
    files["circuits.svg"] = circuit_drawing.draw().svg()
    files |= {name: draw().svg() for name, draw in mounting_drawings.DRAWINGS.items()}
    return files


def main(arguments: list[str]) -> int:
    """Write or check; return the exit code."""
    differing = []
    for name, text in made().items():
        path = HERE / name
        if "--check" in arguments:
            if not path.exists() or path.read_text("utf-8") != text:
                differing.append(name)
        else:
            path.write_text(text, "utf-8")
    for name in differing:
        print(f"{name} is not what hardware/write_pages.py makes of its data", file=sys.stderr)
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
