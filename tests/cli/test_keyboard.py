"""What is typed, or fed by a script, is read beside the run, and not further ahead than it may ever be needed."""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterator

import pytest

from rodtrue.cli.keyboard import MOST_AHEAD, Keyboard


class Endless(io.StringIO):
    """Enter, again and again, as `yes ''` gives it."""

    taken = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        self.taken += 1
        return "\n"


def _wait(until: Callable[[], bool]) -> None:
    ends = time.monotonic() + 30.0
    while not until() and time.monotonic() < ends:
        time.sleep(0.01)
    assert until()


def test_a_source_without_end_is_read_no_further_than_so_far_ahead() -> None:
    source = Endless()
    keyboard = Keyboard(source)
    _wait(lambda: source.taken > MOST_AHEAD)
    time.sleep(0.2)
    assert source.taken == MOST_AHEAD + 1, "one waits for room"
    assert [keyboard.line() for _ in range(3)] == [""] * 3
    _wait(lambda: source.taken == MOST_AHEAD + 4)


def test_each_line_comes_once_and_then_the_end() -> None:
    keyboard = Keyboard(io.StringIO("yes\n  no \n\n"))
    told: list[str] = []

    def ended() -> bool:
        try:
            line = keyboard.line()
        except EOFError:
            return True
        if line is not None:
            told.append(line)
        return False

    _wait(ended)
    assert told == ["yes", "no", ""]
    for _ in range(2):
        with pytest.raises(EOFError):
            keyboard.line()
