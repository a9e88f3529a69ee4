"""One seed gives one run, however slow the machine: bytes that the system hands on late cost no device time."""

from __future__ import annotations

import select
import time

import pytest

from rodtrue.link.port import Port
from rodtrue.run.manual_time import manual_client
from rodtrue.virtual import fixture as virtual_fixture
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.line import PtyLine
from virtual.bench import RulePlant

LATE_S = 0.4


class LateLine(PtyLine):
    """Hands on what the host says only after a while, as a busy machine does."""

    def __init__(self) -> None:
        super().__init__()
        self._since: float | None = None

    def read(self) -> bytes:
        if not self._something_waits():
            return b""
        if self._since is None:
            self._since = time.monotonic()
        if time.monotonic() - self._since < LATE_S:
            return b""
        self._since = None
        return super().read()

    def _something_waits(self) -> bool:
        return bool(select.select([self._fd], [], [], 0)[0])


def _times_us() -> tuple[list[int], float]:
    """Return when the samples of half a second were taken after a start, a stop and another start."""
    taken: list[int] = []
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Port(fixture.port) as port:
        client = manual_client(fixture, port)
        client.hello()
        for _ in range(2):
            client.start(500)
            until_s = client.clock() + 0.5
            while client.clock() < until_s:
                taken += [event.time_us for event in client.poll(0.04) if hasattr(event, "time_us")]
            client.stop()
            client.self_test()
        return taken, client.clock()


def test_what_the_line_hands_on_late_costs_no_device_time(monkeypatch: pytest.MonkeyPatch) -> None:
    prompt = _times_us()
    monkeypatch.setattr(virtual_fixture, "PtyLine", LateLine)
    assert _times_us() == prompt
    assert len(prompt[0]) > 20
