"""What the check standard says of a fixture, on a terminal 80 columns wide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rodtrue.cli.terminal import LOUD
from rodtrue.records.check_standard import CHECK_STANDARD, drift_of

if TYPE_CHECKING:
    from rich.console import Console


class FixtureWatch:
    """Says what the kept runs of a fixture's check standard show: before a run, and again beside its verdict.

    place: the records; tag: what this run is kept for, for a drifted fixture is news before any run but the check
    standard's own.
    """

    def __init__(
        self, console: Console, place: str | None, tag: str | None, fixture_id: str, *, virtual: bool
    ) -> None:
        self._console = console
        self._place = place
        self._is_check_standard = tag == CHECK_STANDARD
        self._fixture_id = fixture_id
        self._virtual = virtual

    def before(self) -> None:
        """Say it before the run begins."""
        self._say(loud=not self._is_check_standard)

    def after(self) -> None:
        """Say an alarm once more, and of the check standard's own run what it has come to."""
        self._say(loud=True, alarm_alone=not self._is_check_standard)

    def _say(self, *, loud: bool, alarm_alone: bool = False) -> None:
        watch = drift_of(self._place, self._fixture_id, virtual=self._virtual)
        if watch.alarm and loud:
            self._console.print(f"{LOUD}\n{watch.text}\n{LOUD}", markup=False)
        elif watch.text and not alarm_alone:
            self._console.print(watch.text, markup=False)
