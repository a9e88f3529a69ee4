"""What the quality lab reads: studies and values for its statistics, columns to fit, calibrations, standards."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from functools import cache
from hashlib import sha256
from pathlib import Path
from random import Random

import typer

from fuzz.mutation import as_json, mutate, mutate_document, mutate_text
from fuzz.target import Tell, chosen
from rodtrue.calibration.certificate import certificate_content, certificate_text
from rodtrue.calibration.files import load_calibration
from rodtrue.calibration.record import record_of
from rodtrue.cli import app

DATA = Path(__file__).resolve().parents[1] / "data"
TABLES = {
    "aiag_grr.csv": {"appraiser": "operator"},
    "nist_individuals.csv": {"flowrate": "value"},
    "pistonrings.csv": {"diameter_mm": "value", "sample": "subgroup"},
    "nist_ewma.csv": {"x": "value"},
    "hinge_saturation.csv": {},
    "nist_norris.csv": {},
    "aiag_linearity.csv": {"reference": "x", "reading": "y"},
}
"""Published tables, and what their columns are called for a command to take them."""

DRAWN_SHARE = 0.02
"""Share of the inputs of which a picture and a report are made too: they take ten times as long."""


@cache
def _tables() -> list[str]:
    found = []
    for name, renamed in TABLES.items():
        head, *rows = (DATA / "published" / name).read_text("utf-8").splitlines()
        found.append("\n".join([",".join(renamed.get(word, word) for word in head.split(",")), *rows]) + "\n")
    return found


def table_bytes(rng: Random) -> bytes:
    texts = _tables()
    text = rng.choice(texts)
    return mutate_text(rng, text, texts) if rng.random() < 0.9 else mutate(rng, text.encode(), [text.encode()])


def _commands(path: str, drawn: list[str]) -> list[list[str]]:
    lab = (
        ["lab", "repeatability", path, "--pool"],
        ["lab", "chart", path],
        ["lab", "capability", path, "--upper", "60"],
    )
    return [
        *(words + drawn for words in lab),
        ["lab", "repeatability", path, "--method", "range"],
        ["lab", "chart", path, "--kind", "ranges"],
        ["lab", "chart", path, "--kind", "weighted"],
        ["lab", "limits", path, "--json"],
        ["hinge", path, "--x", "x", "--y", "y"],
        ["hinge", path, "--x", "x", "--y", "y", "--flat-left", "--json"],
        ["calibrate", "fit", path, "--x", "x", "--y", "y", "--degree", "2", "--at", "3"],
    ]


@contextmanager
def tables_read(folder: Path) -> Iterator[Tell]:
    """Each table is handed to one of the commands that read one; which, is drawn from its content."""
    path = folder / "table.csv"
    drawn = ["--plot", str(folder / "p.png"), "--report", str(folder / "r.pdf")]

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        commands = _commands(str(path), drawn if chosen(data, DRAWN_SHARE) else [])
        words = commands[int.from_bytes(sha256(data).digest()[4:8], "big") % len(commands)]
        command = typer.main.get_command(app)
        with redirect_stdout(io.TextIOWrapper(io.BytesIO(), "utf-8")):
            command.main(args=words, standalone_mode=False)
        for made in drawn[1::2]:
            Path(made).unlink(missing_ok=True)
        return f"{words[0]} {words[1]}" if words[0] != "hinge" else "hinge"

    yield tell


def calibration_bytes(rng: Random) -> bytes:
    text = (DATA / "calibration" / "format_version_1.json").read_text("utf-8")
    if rng.random() < 0.7:
        return as_json(mutate_document(rng, json.loads(text)))
    return mutate_text(rng, text, [text])


@contextmanager
def calibration_read(folder: Path) -> Iterator[Tell]:
    path = folder / "calibration.json"

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        document = load_calibration(path)
        certificate_content(document), certificate_text(document)
        record_of(document)
        return "read"

    yield tell
