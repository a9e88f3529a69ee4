"""Reading the published tables."""

import csv
from pathlib import Path

import numpy as np

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


def columns(name: str, *wanted: str) -> list[np.ndarray]:
    with (PUBLISHED / name).open() as file:
        rows = list(csv.DictReader(file))
    return [np.array([float(row[column]) for row in rows]) for column in wanted]


def words(name: str, wanted: str) -> list[str]:
    with (PUBLISHED / name).open() as file:
        return [row[wanted] for row in csv.DictReader(file)]
