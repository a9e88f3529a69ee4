"""Requests and refusals, over the wire, answered by the firmware."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import rodtrue_protocol as wire
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import Host, RulePlant, during, firmware_with

RECORD = wire.CalibrationRecord(
    layout=1,
    over_pressure_code=20_000,
    fixture_id=b"VIRTUAL\x01",
    done_year=2026,
    done_month=3,
    done_day=14,
    due_year=2027,
    due_month=3,
    due_day=14,
    references="invented gauge, invented blocks",
    channels=(
        wire.ChannelCalibration(1, 0.5, 50.0, 125.0, 0.0, 0.001, 0.02, 0.01, 21.0),
        wire.ChannelCalibration(1, 0.5, 1034.0, 2585.0, 0.0, 0.002, 1.0, 0.5, 21.0),
    ),
)
DATA = wire.encode_calibration(RECORD)


def refused(reply: object, code: wire.RejectCode, field: int = 255) -> bool:
    return isinstance(reply, wire.Reject) and (reply.code, reply.field) == (code, field)


def test_another_message_table_is_still_told_who_this_is_but_cannot_start() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        assert refused(host.ask("start", rate_hz=500), wire.RejectCode.TABLE_MISMATCH)
        identity = host.ask("hello", table_digest=wire.TABLE.digest ^ 1)
        assert identity.table_digest == wire.TABLE.digest
        for name in ("stop", "self_test", "read_calibration"):
            assert refused(host.ask(name), wire.RejectCode.TABLE_MISMATCH)
        assert not host.status().flags & wire.StatusFlags.TABLE_AGREED
        host.greet()
        assert isinstance(host.ask("start", rate_hz=500), wire.Ack)


def test_while_streaming_only_what_does_not_disturb_is_answered() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        for reply in (
            host.ask("start", rate_hz=500),
            host.ask("self_test"),
            host.ask("read_calibration"),
            host.ask("write_calibration", generation=1, data=DATA),
        ):
            assert refused(reply, wire.RejectCode.BUSY_STREAMING)
        assert host.status().flags & wire.StatusFlags.STREAMING
        assert isinstance(host.ask("stop"), wire.Ack)
        assert isinstance(host.ask("stop"), wire.Ack)


@pytest.mark.parametrize("rate_hz", [0, 99, 1001, 65535])
def test_a_rate_out_of_range_is_refused_by_field(rate_hz: int) -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        payload = rate_hz.to_bytes(2, "little")
        host.write(wire.frame(wire.TABLE.messages["start"].type, 77, payload))
        reply = host.wait_for(lambda event: getattr(event, "request", None) == 77)
        assert refused(reply, wire.RejectCode.OUT_OF_RANGE, 0)


def test_unknown_requests_and_wrong_lengths_are_refused_by_code() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.write(wire.frame(0x55, 9, b""))
        assert refused(host.wait_for(lambda e: getattr(e, "request", None) == 9), wire.RejectCode.UNKNOWN_TYPE)
        host.write(wire.frame(wire.TABLE.messages["stop"].type, 10, b"\1"))
        assert refused(host.wait_for(lambda e: getattr(e, "request", None) == 10), wire.RejectCode.BAD_LENGTH)


def test_damaged_requests_are_counted_and_not_answered() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        frame = bytearray(wire.encode("read_status", 3))
        frame[2] ^= 0x40
        host.write(b"\x00" + bytes(frame) + b"\x05\x05\x00" + b"\x77" * 400 + b"\x00")
        status = host.status()
        assert status.refused_frames == 3
        assert host.counters.frames == 1


def test_hello_ends_streaming_and_forgets_what_was_queued() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(0.51)
        host.greet()
        blocks = len(host.of(wire.SampleBlock))
        fixture.run_for(1.0)
        assert not host.status().flags & wire.StatusFlags.STREAMING
        assert len(host.of(wire.SampleBlock)) == blocks


def test_self_test_passes_on_a_sound_fixture_and_shows_lamp_and_sounder() -> None:
    plant = RulePlant()
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(0.5)
        report = host.ask("self_test")
        flags = wire.SelfTestFlags
        assert report.tests_run == ~flags(0)
        assert report.tests_passed == report.tests_run & ~(flags.SLOT_A | flags.SLOT_B)
        assert fixture.sounder
        fixture.run_for(0.5)
        assert not fixture.sounder
        assert not fixture.lamp


def test_self_test_finds_a_silent_pressure_sensor() -> None:
    plant = RulePlant(pressure=lambda times: 0 * times)
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(0.5)
        report = host.ask("self_test")
        assert not report.tests_passed & wire.SelfTestFlags.PRESSURE
        assert report.tests_passed & wire.SelfTestFlags.SUPPLY


def test_the_lamp_is_lit_while_streaming() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(0.1)
        assert fixture.lamp
        host.ask("stop")
        fixture.run_for(0.1)
        assert not fixture.lamp


def test_calibration_is_sealed_until_the_button_is_held_two_seconds_and_let_go() -> None:
    plant = RulePlant(button=during((1.0, 2.5), (4.0, 6.2)))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        assert refused(host.ask("read_calibration"), wire.RejectCode.NOT_CALIBRATED)

        def write(generation: int = 1, data: bytes = DATA) -> object:
            return host.ask("write_calibration", generation=generation, data=data)

        assert refused(write(), wire.RejectCode.SEALED)
        fixture.run_for(3.0)
        assert refused(write(), wire.RejectCode.SEALED), "held for 1.5 s only"
        fixture.run_for(3.1)
        assert refused(write(), wire.RejectCode.SEALED), "not let go yet"
        fixture.run_for(0.4)
        assert host.status().flags & wire.StatusFlags.SEAL_OPEN
        assert refused(write(generation=2), wire.RejectCode.OUT_OF_RANGE, 0)
        assert refused(write(data=DATA[:-1]), wire.RejectCode.OUT_OF_RANGE, 1)
        assert isinstance(write(), wire.Ack)
        stored = host.ask("read_calibration")
        assert (stored.generation, stored.data) == (1, DATA)
        fixture.run_for(10.0)
        assert refused(write(generation=2), wire.RejectCode.SEALED), "ten seconds have passed"


def test_a_button_held_longer_than_ten_seconds_is_stuck_and_opens_no_seal() -> None:
    plant = RulePlant(button=during((1.0, 12.0)))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(10.9)
        assert host.status().button == wire.Contact.CLOSED
        fixture.run_for(0.2)
        assert host.status().button == wire.Contact.STUCK
        fixture.run_for(1.5)
        assert host.status().button == wire.Contact.OPEN
        reply = host.ask("write_calibration", generation=1, data=DATA)
        assert refused(reply, wire.RejectCode.SEALED)


def test_calibration_outlives_power_and_the_newest_of_two_counts(tmp_path: Path) -> None:
    plant = RulePlant(button=during((1.0, 3.5)))
    newer = wire.encode_calibration(replace(RECORD, done_day=15))
    with VirtualFixture(plant, pace="manual", state_dir=tmp_path) as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(4.0)
        assert isinstance(host.ask("write_calibration", generation=1, data=DATA), wire.Ack)
        assert isinstance(host.ask("write_calibration", generation=2, data=newer), wire.Ack)
    with VirtualFixture(RulePlant(), pace="manual", state_dir=tmp_path) as fixture, Host(fixture.port) as host:
        assert host.greet().calibration_generation == 2
        assert host.ask("read_calibration").data == newer
        assert host.status().flags & wire.StatusFlags.CALIBRATED


def test_a_slot_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    for slot in ("calibration_a.bin", "calibration_b.bin"):
        (tmp_path / slot).mkdir()
    plant = RulePlant(button=during((1.0, 3.5)))
    with VirtualFixture(plant, pace="manual", state_dir=tmp_path) as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(4.0)
        reply = host.ask("write_calibration", generation=1, data=DATA)
        assert refused(reply, wire.RejectCode.STORAGE_FAILED)
        assert refused(host.ask("read_calibration"), wire.RejectCode.NOT_CALIBRATED)


def test_timing_tells_the_schedule_and_what_was_measured_against_it() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream(rate_hz=1000)
        fixture.run_for(2.0)
        timing = host.ask("read_timing")
        status = host.status()
    assert timing.interval_us == 250
    assert timing.early_us + timing.late_us < 250 and status.lost_samples == 0
    assert 0 < timing.interrupt_us < 250, "the stand-in lets conversions take their time"


def channel_codes(**codes: int) -> RulePlant:
    """Return a plant whose named channels read one 12-bit code."""
    plant = RulePlant()
    steady = plant.conversions
    columns = {"travel": 0, "pressure": 1, "thermistor": 2, "supply": 3}

    def conversions(times):  # type: ignore[no-untyped-def]
        rows = steady(times)
        rows[:, 0] = 2000
        for name, code in codes.items():
            rows[:, columns[name]] = code
        return rows

    plant.conversions = conversions  # type: ignore[method-assign]
    return plant


FLAGS = wire.SelfTestFlags


@pytest.mark.parametrize(
    ("codes", "fails"),
    [
        ({"travel": 0}, FLAGS.TRAVEL),
        ({"travel": 4095}, FLAGS.TRAVEL),
        ({"pressure": 0}, FLAGS.PRESSURE),
        ({"pressure": 4095}, FLAGS.PRESSURE),
        ({"thermistor": 0}, FLAGS.THERMISTOR),
        ({"thermistor": 4095}, FLAGS.THERMISTOR),
        ({"supply": 2800}, FLAGS.SUPPLY),
        ({"supply": 2300}, FLAGS.SUPPLY),
        ({"supply": 0}, FLAGS.SUPPLY | FLAGS.REFERENCE),
        ({"supply": 4095}, FLAGS.SUPPLY | FLAGS.REFERENCE),
    ],
    ids=lambda value: ",".join(f"{k}={v}" for k, v in value.items()) if isinstance(value, dict) else "",
)
def test_self_test_finds_what_is_open_shorted_or_out_of_its_limits(codes: dict[str, int], fails: FLAGS) -> None:
    with VirtualFixture(channel_codes(**codes), pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(0.2)
        report = host.ask("self_test")
        assert report.tests_run & ~report.tests_passed == fails | FLAGS.SLOT_A | FLAGS.SLOT_B
        assert report.free_storage_bytes > 24_576 and report.free_heap_bytes > 16_384


def test_a_converter_that_does_not_answer_fails_alone(tmp_path: Path) -> None:
    """What it would have read is not tested; a high null bit is what an unconnected line gives."""
    firmware = firmware_with(tmp_path, "board.py", "if self._answer[1] & _NULL_BIT:", "if True:")
    with VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(0.2)
        report = host.ask("self_test")
    unread = FLAGS.TRAVEL | FLAGS.PRESSURE | FLAGS.THERMISTOR | FLAGS.SUPPLY | FLAGS.REFERENCE
    assert report.tests_run == ~FLAGS(0) & ~unread
    assert report.tests_run & ~report.tests_passed == FLAGS.CONVERTER | FLAGS.SLOT_A | FLAGS.SLOT_B
    assert report.travel_code == 65535


def test_sampling_keeps_its_time_after_a_calibration_was_written() -> None:
    plant = RulePlant(button=during((1.0, 3.5)))
    with VirtualFixture(plant, pace="manual") as fixture, Host(fixture.port) as host:
        host.greet()
        fixture.run_for(4.0)
        assert isinstance(host.ask("write_calibration", generation=1, data=DATA), wire.Ack)
        fixture.run_for(1.0)
        assert host.ask("self_test").tests_passed & FLAGS.TIMING
