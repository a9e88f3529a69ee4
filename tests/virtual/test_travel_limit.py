"""The travel limit in the fixture: set and cleared over the wire, heard without the host.

The plant's travel climbs one converter step each 500 us from device time 0 and falls to 0 every 2.048 s.
"""

from __future__ import annotations

import rodtrue_protocol as wire
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import Host, RulePlant, during
from virtual.test_commands import refused

LIMIT_CODE = 16 * 2000
OVER_AT_S = 1.0
BELOW_AT_S = 2.048
PERIOD_S = 0.002
NO_LIMIT = 65535


def test_passing_the_limit_beeps_within_a_sample_and_says_so() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        assert isinstance(host.ask("set_travel_limit", travel_code=LIMIT_CODE), wire.Ack), "while streaming"
        assert host.status().flags & wire.StatusFlags.TRAVEL_LIMITED
        fixture.run_for(0.99)
        assert not fixture.sounder
        fixture.run_for(0.06)
        status = host.status()
        assert status.flags & wire.StatusFlags.OVER_TRAVEL
        fixture.run_for(1.5)
        status = host.status()
        changes = fixture.sounder_changes
    assert OVER_AT_S <= changes[0].time_s <= OVER_AT_S + 2 * PERIOD_S
    assert [change.level for change in changes] == [True, False] * (len(changes) // 2)
    for k, change in enumerate(changes):
        assert abs(change.time_s - changes[0].time_s - 0.1 * k) <= 2 * PERIOD_S, "five beeps a second"
    assert BELOW_AT_S <= changes[-1].time_s + 0.1 <= BELOW_AT_S + 0.2
    assert [mark.source for mark in host.of(wire.Mark)] == [wire.MarkSource.OVER_TRAVEL]
    assert not status.flags & wire.StatusFlags.OVER_TRAVEL
    assert status.flags & wire.StatusFlags.OVER_TRAVEL_SEEN
    assert not status.flags & wire.StatusFlags.OVER_PRESSURE_SEEN


def test_it_beeps_while_the_host_takes_nothing() -> None:
    with VirtualFixture(RulePlant(), pace="manual", stalls_s=[(0.5, 2.0)]) as fixture, Host(fixture.port) as host:
        host.stream()
        host.ask("set_travel_limit", travel_code=LIMIT_CODE)
        fixture.run_for(1.5)
        assert fixture.sounder_changes[0].time_s <= OVER_AT_S + 2 * PERIOD_S


def test_clearing_it_or_a_new_session_ends_it() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        host.ask("set_travel_limit", travel_code=LIMIT_CODE)
        assert isinstance(host.ask("set_travel_limit", travel_code=NO_LIMIT), wire.Ack)
        host.ask("set_travel_limit", travel_code=LIMIT_CODE)
        host.greet()
        assert not host.status().flags & wire.StatusFlags.TRAVEL_LIMITED
        fixture.run_for(3.0)
        assert not fixture.sounder_changes


def test_a_code_that_no_sample_has_is_refused() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        host.write(wire.frame(wire.TABLE.messages["set_travel_limit"].type, 50, (65521).to_bytes(2, "little")))
        reply = host.wait_for(lambda event: getattr(event, "request", None) == 50)
        assert refused(reply, wire.RejectCode.OUT_OF_RANGE, 0)
        assert not host.status().flags & wire.StatusFlags.TRAVEL_LIMITED


def test_over_pressure_is_a_steady_tone_through_the_beeps() -> None:
    plant = RulePlant(pressure=lambda times: 500 + 3200 * during((1.25, 1.75))(times))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        host.ask("set_travel_limit", travel_code=LIMIT_CODE)
        fixture.run_for(1.9)
        changes = [(change.time_s, change.level) for change in fixture.sounder_changes]
    times_s, levels = zip(*changes, strict=True)
    assert levels == (True, False, True, False, True), "a beep, the second one held by the tone, and a beep again"
    assert times_s[2] < 1.25 and 1.75 <= times_s[3] <= 1.8, "steady for as long as the pressure is over, and 0.5 s"
