"""The two lines a virtual fixture can be opened by, and the words that steer it."""

from __future__ import annotations

import socket
from typing import Any

import numpy as np
import pytest

import rodtrue_protocol as wire
from rodtrue.model.errors import InputError
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import load_scenario
from rodtrue.virtual.steering import steer
from virtual.bench import Host, RulePlant, ramp_codes


def test_a_socket_serves_like_the_pseudo_terminal() -> None:
    with VirtualFixture(RulePlant(), pace="manual", tcp_port=0) as fixture:
        assert fixture.port.startswith("socket://127.0.0.1:")
        with Host(fixture.port) as host:
            host.stream()
            fixture.run_for(2.0)
            host.ask("stop")
            np.testing.assert_array_equal(host.codes()[:, 0], ramp_codes(1000))
        with Host(fixture.port) as host:
            assert host.greet().kind == wire.Kind.VIRTUAL


def test_a_socket_that_is_taken_is_refused_in_words() -> None:
    from rodtrue.model.errors import FixtureError

    with socket.create_server(("127.0.0.1", 0)) as taken:
        number = taken.getsockname()[1]
        with pytest.raises(FixtureError, match=f"port {number}"):
            VirtualFixture(RulePlant(), tcp_port=number)


def test_run_for_is_refused_in_real_pace() -> None:
    with VirtualFixture(RulePlant()) as fixture, pytest.raises(ValueError, match="manual pace"):
        fixture.run_for(1.0)


def test_words_steer_the_handle() -> None:
    plant = Plant(load_scenario(), 1)
    steer(plant.handle, '{"throttle_mm": 12.5, "rod_hooked": false, "holding_spring": true, "rod_turns": -2}')
    steer(plant.handle, '{"fault": "binding", "button": true}')
    plant.conversions(np.arange(0, 1_000_000, 500))
    handle = plant.handle
    assert handle.throttle_mm == pytest.approx(12.5, abs=0.5)
    assert (handle.rod_hooked, handle.holding_spring, handle.rod_turns) == (False, True, -2)
    assert (handle.fault, handle.button, handle.foot_switch) == ("binding", True, False)
    steer(handle, '{"fault": null}')
    assert handle.fault is None


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("throttle 5", "not JSON"),
        ("[1, 2]", "not an object"),
        ('{"thrott1e_mm": 5}', "'thrott1e_mm' is not known"),
        ('{"throttle_mm": "five"}', "must be a number"),
        ('{"throttle_mm": NaN}', "must be a number"),
        ('{"rod_turns": true}', "must be a number"),
        ('{"rod_hooked": 0}', "must be true or false"),
        ('{"fault": "gremlins"}', "gremlins"),
    ],
)
def test_a_line_with_anything_wrong_is_refused_in_words_and_changes_nothing(line: str, said: str) -> None:
    plant = Plant(load_scenario(), 1)
    before = _state(plant.handle)
    with pytest.raises(InputError, match=said) as caught:
        steer(plant.handle, line.replace("{", '{"holding_spring": true, ') if line.startswith("{") else line)
    assert caught.value.next_step
    assert _state(plant.handle) == before


def _state(handle: Any) -> tuple[object, ...]:
    return handle.rod_hooked, handle.holding_spring, handle.rod_turns, handle.fault, handle.button
