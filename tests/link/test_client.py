"""The client: replies matched by sequence, retries where harmless, refusals that say what to do."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import rodtrue_protocol as wire
from link.lines import Answer, FakeTime, ScriptedLine, ack, identity, reject
from rodtrue.link.client import Client
from rodtrue.model.errors import FixtureError

BLOCK = wire.encode(wire.SampleBlock.of(0, 0, 2000, np.array([[1, 2]], np.uint16)), 5)


def _client(answer: Answer) -> tuple[Client, ScriptedLine, FakeTime]:
    time, line = FakeTime(), ScriptedLine(answer)
    return Client(line, clock=time.clock, wait=time.wait), line, time


def test_hello_returns_the_identity_and_agrees_on_the_table() -> None:
    client, line, _ = _client(lambda request: identity(request.sequence))
    assert client.hello().firmware_version == "9.8.7"
    assert line.requests == [wire.Hello(wire.TABLE.digest, sequence=0)]


def test_hello_asks_four_times_a_second_until_it_is_answered() -> None:
    asked_at: list[float] = []
    time = FakeTime()

    def answer(request: wire.WireMessage) -> bytes:
        asked_at.append(time.now_s)
        return identity(request.sequence) if len(asked_at) == 5 else b""

    client = Client(ScriptedLine(answer), clock=time.clock, wait=time.wait)
    client.hello()
    assert np.diff(asked_at) == pytest.approx([0.25] * 4, abs=0.02)


def test_an_identity_for_somebody_elses_hello_is_no_answer() -> None:
    client, _, _ = _client(lambda request: identity(request.sequence ^ 0x80))
    with pytest.raises(FixtureError, match="no fixture answered within 5 s"):
        client.hello()


def test_a_port_that_is_no_fixture_is_refused_with_what_it_said() -> None:
    client, line, time = _client(lambda request: b"")
    line.say(b'Traceback (most recent call last):\n  File "main.py", line 3\nImportError: no module\n')
    with pytest.raises(FixtureError) as refused:
        client.hello()
    assert time.now_s - 100.0 == pytest.approx(5.0, abs=0.05)
    assert "scripted: no fixture answered" in refused.value.message
    assert "the fixture said" in refused.value.message
    assert "ImportError: no module" in refused.value.message
    assert refused.value.exit_code == 3


def test_another_message_table_is_refused_naming_both_sides() -> None:
    client, _, _ = _client(lambda request: identity(request.sequence, digest=0xDEADBEEF))
    with pytest.raises(FixtureError) as refused:
        client.hello()
    assert "deadbeef" in refused.value.message
    assert "9.8.7" in refused.value.message
    assert wire.digest_text(wire.TABLE.digest) in refused.value.message
    assert "one release" in refused.value.next_step


def test_a_reply_to_an_earlier_request_is_ignored() -> None:
    client, line, _ = _client(lambda request: ack(request, request.sequence ^ 1) + BLOCK + ack(request))
    client.stop()
    assert len(line.requests) == 1
    kept = [event for event in client.poll() if not isinstance(event, wire.SequenceGap)]
    assert [type(event) for event in kept] == [wire.Ack, wire.SampleBlock]


def test_what_comes_between_request_and_reply_is_kept_in_order() -> None:
    client, _, _ = _client(lambda request: BLOCK + ack(request) + BLOCK)
    client.stop()
    blocks = client.poll() + client.poll() + client.poll() + client.poll()
    assert [type(event).__name__ for event in blocks if not isinstance(event, wire.SequenceGap)] == [
        "SampleBlock",
        "SampleBlock",
    ]


@pytest.mark.parametrize(
    ("call", "asked"),
    [
        (Client.stop, 3),
        (Client.status, 3),
        (Client.self_test, 3),
        (Client.read_calibration, 3),
        (lambda client: client.start(500), 1),
        (Client.enter_maintenance, 1),
    ],
    ids=["stop", "status", "self-test", "read calibration", "start", "maintenance"],
)
def test_only_harmless_requests_are_repeated_and_silence_is_an_error(
    call: Callable[[Client], object], asked: int
) -> None:
    client, line, time = _client(lambda request: b"")
    with pytest.raises(FixtureError, match="no answer to") as refused:
        call(client)
    assert len(line.requests) == asked
    assert len({request.sequence for request in line.requests}) == asked
    assert time.now_s - 100.0 == pytest.approx(asked * 1.0, abs=0.1)
    assert refused.value.next_step


def test_a_repeated_request_may_succeed() -> None:
    tries: list[int] = []

    def answer(request: wire.WireMessage) -> bytes:
        tries.append(request.sequence)
        return ack(request) if len(tries) == 3 else b""

    client, _, _ = _client(answer)
    client.stop()
    assert tries == [0, 1, 2]


def test_a_fixture_without_calibration_has_none() -> None:
    client, _, _ = _client(lambda request: reject(request, wire.RejectCode.NOT_CALIBRATED))
    assert client.read_calibration() is None


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (wire.RejectCode.BUSY_STREAMING, "busy streaming"),
        (wire.RejectCode.SEALED, "sealed"),
        (wire.RejectCode.TABLE_MISMATCH, "table mismatch"),
        (99, "unknown (99)"),
    ],
)
def test_a_refusal_names_its_reason_and_the_next_step(code: int, words: str) -> None:
    client, _, _ = _client(lambda request: reject(request, code))
    with pytest.raises(FixtureError) as refused:
        client.self_test()
    assert f"refused self_test: {words}" in refused.value.message
    assert refused.value.next_step


def test_samples_that_come_behind_a_refusal_are_kept() -> None:
    time = FakeTime()
    line = ScriptedLine(lambda request: reject(request, wire.RejectCode.BUSY_STREAMING) + BLOCK, piece=4096)
    client = Client(line, clock=time.clock, wait=time.wait)
    with pytest.raises(FixtureError, match="busy streaming"):
        client.self_test()
    assert [event for event in client.poll() if isinstance(event, wire.SampleBlock)] != []


def test_a_refused_field_is_named() -> None:
    client, _, _ = _client(lambda request: reject(request, wire.RejectCode.OUT_OF_RANGE, field=0))
    with pytest.raises(FixtureError, match=r"out of range \(rate_hz\)"):
        client.start(500)


def test_sequence_numbers_run_over_at_256() -> None:
    client, line, _ = _client(ack)
    for _ in range(258):
        client.stop()
    assert [request.sequence for request in line.requests[-4:]] == [254, 255, 0, 1]


def _status(request: int, flags: int, uptime_s: int) -> bytes:
    names = [field.name for field in wire.TABLE.messages["status"].fields if field.type != "reserved"]
    values = {**dict.fromkeys(names, 0), "request": request, "flags": flags, "uptime_s": uptime_s}
    values["marks"] = [{"counter": 0, "source": 0, "sample_index": 0}] * 4
    return wire.encode("status", 0, **values)


def test_a_status_sent_unasked_is_no_answer() -> None:
    client, _, _ = _client(lambda request: _status(0, 0, 1) + _status(request.sequence, 1, 2))
    assert client.status().uptime_s == 2
