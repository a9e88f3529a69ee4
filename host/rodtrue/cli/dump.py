"""`rodtrue dump`: any capture, frame by frame, damaged ones too."""

from __future__ import annotations

import typer


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
