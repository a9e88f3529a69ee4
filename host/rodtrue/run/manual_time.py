"""A virtual fixture whose device time passes only while its client waits: one seed, one run, on any machine."""

from __future__ import annotations

import time
from functools import partial
from typing import TYPE_CHECKING, Any

from rodtrue.link.client import Client
from rodtrue.link.port import Port

if TYPE_CHECKING:
    from rodtrue.virtual.fixture import VirtualFixture

_COMES_WITHIN_S = 0.5


def manual_client(fixture: VirtualFixture[Any], port: Port) -> Client:
    """Return a client of a fixture at manual pace, by whose device time it measures its time-outs."""
    return Client(port, clock=lambda: fixture.device_time_s, wait=partial(_pass_time, fixture, port))


def _pass_time(fixture: VirtualFixture[Any], port: Port, seconds: float) -> None:
    """Let the fixture do what it was asked with its time standing still; where it said nothing, let time pass.

    However slow the machine: what was asked is done before time passes, what was said is there when it has passed.
    """
    fixture.settle(port.sent_bytes)
    _let_arrive(fixture, port)
    if not port.unread_bytes:
        fixture.run_for(seconds)
        _let_arrive(fixture, port)


def _let_arrive(fixture: VirtualFixture[Any], port: Port) -> None:
    """Wait until all that was said has come through the pseudo-terminal: the kernel hands it on a moment later."""
    deadline = time.monotonic() + _COMES_WITHIN_S
    while port.arrived_bytes < fixture.carried_bytes and time.monotonic() < deadline:
        time.sleep(0)
