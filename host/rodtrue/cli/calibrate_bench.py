"""What the calibration commands share: a fixture to calibrate, hands at a virtual bench, words and questions."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import typer

from rodtrue.cli.wrapped import hanging

if TYPE_CHECKING:
    from rodtrue.run.session import Session
    from rodtrue.virtual.calibration_bench import CalibrationBench


class VirtualHands:
    """The hands at the virtual bench."""

    def __init__(self, bench: CalibrationBench) -> None:
        self._handle = bench.handle

    def hold_button(self, pressed: bool) -> None:
        """Press the fixture's button, or let it go."""
        self._handle.button = pressed

    def place(self, quantity: str, value: float) -> None:
        """Set the slide, or load the pressure standard."""
        if quantity == "travel":
            self._handle.place(travel_mm=value)
        else:
            self._handle.place(pressure_kpa=value)


@contextmanager
def open_bench(port: str) -> Iterator[tuple[Session, VirtualHands | None]]:
    """Open a fixture for calibration: a port, or with `virtual` one on a virtual bench and the hands at it."""
    from rodtrue.run.session import DEFAULT_SEED, VIRTUAL, default_plant, open_port, open_virtual
    from rodtrue.virtual.calibration_bench import CalibrationBench

    if port != VIRTUAL:
        with open_port(port) as session:
            yield session, None
        return
    # The sensors of the very unit that `check --port virtual` measures with.
    bench = CalibrationBench(default_plant().truth, DEFAULT_SEED)
    with open_virtual(bench, "manual") as session:
        yield session, VirtualHands(bench)


def say(text: str) -> None:
    """Print to standard error, in lines of a terminal's width."""
    for paragraph in text.split("\n"):
        indent = paragraph[: len(paragraph) - len(paragraph.lstrip())]
        for line in hanging(paragraph, rest=indent + "  ") or [""]:
            typer.echo(line, err=True)


def ask(text: str, answers: tuple[str, ...]) -> None:
    """Ask until one of the answers comes. Raises: InputError where the input ends."""
    from rodtrue.model.errors import InputError

    while True:
        typer.echo(f"{text}: ", err=True, nl=False)
        typed = sys.stdin.readline()
        if not typed:
            raise InputError(
                "the input ended before the calibration was over", "Run `rodtrue calibrate run` in a terminal."
            )
        if typed.strip().lower() in answers:
            return
