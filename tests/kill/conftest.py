"""One process that has loaded the program, and one run let live, for all the kills."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from bench.kill import calibration_of_virtual_fixture
from bench.study.kill_short import Stock
from bench.study.killing import watch_to_the_end
from bench.study.nursery import Nursery, Trial

AS_FOUND = ["demo", "--json", "--seed", "4", "--out"]


@dataclass(frozen=True)
class Lived:
    """A run that was let live: the processor time it took, and its folder."""

    whole_s: float
    folder: Path


@pytest.fixture(scope="package")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("killed")


@pytest.fixture(scope="package")
def nursery(scratch: Path) -> Iterator[Nursery]:
    with Nursery(scratch) as nursery:
        yield nursery


@pytest.fixture(scope="package")
def lived(nursery: Nursery, scratch: Path) -> Lived:
    out = scratch / "lived"
    whole_s = watch_to_the_end(nursery.begin(Trial("rodtrue.cli:main", arguments=[*AS_FOUND, str(out)])))
    assert list(out.rglob("report.pdf")), nursery.said.read_text()
    (folder,) = out.iterdir()
    return Lived(whole_s, folder)


@pytest.fixture(scope="package")
def stock(lived: Lived, scratch: Path) -> Stock:
    calibration = calibration_of_virtual_fixture(scratch / "calibration.json")
    return Stock.of_run(lived.folder, calibration, scratch / "short")
