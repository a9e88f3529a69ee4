"""Files that are measured data or say how to judge them: captures, CSV, profiles."""

from __future__ import annotations

import contextlib
import io
import json
import math
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any

from fuzz import corpus_seeds as seeds
from fuzz.mutation import as_json, mutate, mutate_document, mutate_text
from fuzz.target import JUDGED_SHARE, Tell, chosen
from fuzz.wire_targets import mutated_frame
from rodtrue.capture.csv_file import read_columns, read_samples
from rodtrue.capture.framing import ENTRY, FIRST_LINE, RECEIVED, Item, encode_item
from rodtrue.capture.reader import read_capture
from rodtrue.cli.dump import dump
from rodtrue.judging import CsvAnswers, encode, judge_capture, judge_csv
from rodtrue.linkage import linkage_of
from rodtrue.profiles import load_profile
from rodtrue.shifts.effect import expected_effect

TRUTH_MM = -2.5
"""Rod error of the short run's plant."""


def capture_bytes(rng: Random) -> bytes:
    data = seeds.CAPTURE.read_bytes()
    if rng.random() < 0.35:
        return mutate(rng, data, [data])
    items = list(read_capture(seeds.CAPTURE).items)
    if rng.random() < 0.5:
        items = items[: rng.choice((4, 30, 120))]
    for _ in range(1 + int(rng.expovariate(0.5))):
        change_item(rng, items)
    return FIRST_LINE + b"".join(encode_item(item) for item in items)


def change_item(rng: Random, items: list[Item]) -> None:
    """Change one item under a sound check, lose it, repeat it or put it elsewhere."""
    if not items:
        return
    entries = [k for k, item in enumerate(items) if item.kind == ENTRY]
    at = rng.choice(entries) if entries and rng.random() < 0.6 else rng.randrange(len(items))
    item = items[at]
    kind, host_us, index, payload = item.kind, item.host_time_us, item.sample_index, item.payload
    what = rng.random()
    if what < 0.1:
        del items[at]
    elif what < 0.2:
        items.insert(rng.randrange(len(items) + 1), items[at])
    elif what < 0.3:
        host_us = rng.choice((0, 1, 2**63, 2**64 - 1, (host_us + 1) % 2**64))
        index = rng.choice((0, 2**31, 2**32 - 1, (index + 1) % 2**32))
        items[at] = Item(rng.choice((kind, 0, 1, 2, 3, 255)), host_us, index, payload)
    elif kind == ENTRY and what < 0.9 and (document := _document(payload)) is not None:
        items[at] = Item(kind, host_us, index, as_json(mutate_document(rng, document)))
    elif kind == RECEIVED:
        items[at] = Item(kind, host_us, index, mutated_frame(rng, payload + b"\0", [payload]).rstrip(b"\0"))
    else:
        items[at] = Item(kind, host_us, index, mutate(rng, payload, [payload]))


def _document(payload: bytes) -> Any:
    """Return the JSON in a payload, None where an earlier change has left none."""
    with contextlib.suppress(ValueError):
        return json.loads(payload)
    return None


@contextmanager
def capture_read(folder: Path) -> Iterator[Tell]:
    path = folder / "input.capture"

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        with contextlib.redirect_stdout(io.TextIOWrapper(io.BytesIO(), "utf-8")):
            dump(path, csv=None, force=False, as_json=len(data) % 2 == 0)
        capture = read_capture(path)
        samples = capture.samples()
        assert (samples.time_s[1:] > samples.time_s[:-1]).all(), "time stands still or goes back"
        capture.conditions(), capture.fixture(), capture.cautions, capture.profile
        if not chosen(data, JUDGED_SHARE):
            return "read"
        result = judge_capture(capture)
        encode(result)
        return f"judged: {result.verdict}"

    yield tell


def damaged_bytes(rng: Random) -> bytes:
    data = seeds.CAPTURE.read_bytes()
    if rng.random() < 0.7:  # the head is where most notes are
        return data[:50] + mutate(rng, data[50:3000], [data]) + data[3000:]
    return mutate(rng, data, [data])


@contextmanager
def damaged_read(folder: Path) -> Iterator[Tell]:
    """A capture that was damaged on the disk: whatever is left, the verdict is its truth's or none."""
    path = folder / "input.capture"

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        result = judge_capture(read_capture(path))
        assert result.verdict in ("short", "undecided", "no result"), f"a short rod was called {result.verdict}"
        if result.rod_error is not None and result.rod_error.interval_mm is not None:
            low, high = result.rod_error.interval_mm
            assert low <= TRUTH_MM <= high, f"the interval {low} to {high} leaves the truth out"
        return f"judged: {result.verdict}"

    yield tell


def csv_bytes(rng: Random) -> bytes:
    texts = seeds.csvs()
    text = texts[0] if rng.random() < 0.1 else rng.choice(texts[1:])
    return mutate_text(rng, text, texts[2:]) if rng.random() < 0.9 else mutate(rng, text.encode(), [text.encode()])


@contextmanager
def csv_read(folder: Path) -> Iterator[Tell]:
    path = folder / "input.csv"
    profile = load_profile()

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        samples = read_samples(path)
        assert len(samples) and all(math.isfinite(value) for value in (samples.time_s.sum(), samples.travel_mm.sum()))
        read_columns(path, ["travel_mm", "pressure_kpa"])
        if not chosen(data, JUDGED_SHARE):
            return "read"
        result = judge_csv(path, profile, CsvAnswers())
        encode(result)
        return f"judged: {result.verdict}"

    yield tell


def profile_bytes(rng: Random) -> bytes:
    texts = seeds.profiles()
    return mutate_text(rng, rng.choice(texts), texts)


@contextmanager
def profile_read(folder: Path) -> Iterator[Tell]:
    path = folder / "input.toml"
    csv = folder / "run.csv"
    csv.write_text(seeds.csvs()[1], "utf-8")

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        profile = load_profile(str(path))
        linkage_of(profile)
        for error_mm in (-15.0, 0.0, 12.0):
            expected_effect(profile, error_mm)
        if not chosen(data, JUDGED_SHARE):
            return "read"
        result = judge_csv(csv, profile, CsvAnswers())
        encode(result)
        return f"judged: {result.verdict}"

    yield tell
