"""The fixture's clock against this computer's: the only clock beside it that nothing in the fixture drives."""

from __future__ import annotations

from dataclasses import dataclass

from rodtrue.link.client import Client

APART_S = 2.0
ASKED = 6
TRIES = 3
LIMIT = 0.02
"""A crystal keeps to a few in 100,000; a clock set up wrongly is off by far more than this."""

_WRAP_US = 1 << 32


@dataclass(frozen=True)
class ClockCheck:
    """deviation: how much faster the fixture's clock runs, relative. uncertainty: its half-width, from the time
    that questions and answers took.
    """

    deviation: float
    uncertainty: float

    @property
    def passed(self) -> bool:
        """Whether the clock may be right, as well as that could be seen."""
        return abs(self.deviation) <= LIMIT + self.uncertainty


def check_clock(client: Client) -> ClockCheck:
    """Compare over `APART_S`; repeated where the clock looks wrong, for a busy computer looks the same, once.

    Raises: FixtureError where the fixture does not answer.
    """
    for _ in range(TRIES):
        check = _compare(client)
        if check.passed:
            break
    return check


def _compare(client: Client) -> ClockCheck:
    first = _look(client)
    until = client.clock() + APART_S
    while client.clock() < until:
        client.poll(until - client.clock())
    second = _look(client)
    host_s = second.at_s - first.at_s
    device_s = (second.time_us - first.time_us) % _WRAP_US * 1e-6
    return ClockCheck(device_s / host_s - 1.0, (first.half_width_s + second.half_width_s) / host_s)


@dataclass(frozen=True)
class _Look:
    at_s: float
    half_width_s: float
    time_us: int


def _look(client: Client) -> _Look:
    """Return the device time with the host's, from the answer that came quickest."""
    looks = []
    for _ in range(ASKED):
        asked_s = client.clock()
        status = client.status()
        half_s = (client.clock() - asked_s) / 2
        looks.append(_Look(asked_s + half_s, half_s, status.time_us))
    return min(looks, key=lambda look: look.half_width_s)
