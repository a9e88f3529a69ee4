"""What is fuzzed, by name: see `fuzz.target` for what an input may come to."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from fuzz import corpus_seeds as seeds
from fuzz.file_targets import (
    capture_bytes,
    capture_read,
    csv_bytes,
    csv_read,
    damaged_bytes,
    damaged_read,
    profile_bytes,
    profile_read,
)
from fuzz.lab_targets import calibration_bytes, calibration_read, table_bytes, tables_read
from fuzz.record_targets import record_bytes, record_read
from fuzz.target import Target
from fuzz.wire_targets import decoder, firmware, stream


def _from(streams: Callable[[], list[bytes]]) -> Callable[[Random], bytes]:
    return lambda rng: stream(rng, streams())


TARGETS = {
    target.name: target
    for target in (
        Target("decoder", _from(lambda: seeds.frames("from_fixture")), decoder),
        Target("firmware", _from(seeds.requests), firmware),
        Target("capture", capture_bytes, capture_read),
        Target("damaged-capture", damaged_bytes, damaged_read),
        Target("csv", csv_bytes, csv_read),
        Target("profile", profile_bytes, profile_read),
        Target("records", record_bytes, record_read),
        Target("tables", table_bytes, tables_read),
        Target("calibration", calibration_bytes, calibration_read),
    )
}
