"""The stand-in board is no kinder than a board: each of its rules is shown to bite."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import rodtrue_protocol as wire
from rodtrue.model.errors import FixtureError
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import Host, RulePlant, during, firmware_with, ramp_codes

LOOP = "    while True:\n        app.step()\n        board.idle()\n"


def stopped(firmware: Path) -> str:
    """Return why a board with this firmware stopped within a second."""
    with (
        pytest.raises(FixtureError) as caught,
        VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture,
    ):
        fixture.run_for(1.0)
    assert caught.value.exit_code == 3
    return caught.value.message


@pytest.mark.parametrize(("phase", "polarity"), [(1, 0), (0, 1)])
def test_wrong_spi_mode_ends_the_child_with_a_sentence(tmp_path: Path, phase: int, polarity: int) -> None:
    if phase:
        firmware = firmware_with(tmp_path, "pins.py", "SPI_PHASE = const(0)", "SPI_PHASE = const(1)")
    else:
        firmware = firmware_with(tmp_path, "pins.py", "SPI_POLARITY = const(0)", "SPI_POLARITY = const(1)")
    assert f"SPI polarity {polarity}, phase {phase}" in stopped(firmware)


def test_spi_mode_3_serves_as_well(tmp_path: Path) -> None:
    firmware = firmware_with(tmp_path, "pins.py", "SPI_PHASE = const(0)", "SPI_PHASE = const(1)")
    pins = firmware / "pins.py"
    pins.write_text(pins.read_text("utf-8").replace("SPI_POLARITY = const(0)", "SPI_POLARITY = const(1)"), "utf-8")
    with VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(0.5)
        host.ask("stop")
        np.testing.assert_array_equal(host.codes()[:, 0], ramp_codes(250))


def test_too_fast_an_spi_clock_ends_the_child(tmp_path: Path) -> None:
    firmware = firmware_with(tmp_path, "pins.py", "SPI_CLOCK_HZ = const(1000000)", "SPI_CLOCK_HZ = const(4000000)")
    assert "2 MHz at most" in stopped(firmware)


TRAVEL_READING = """        select_pin(0)
        exchange(self._travel_command, answer)
        select_pin(1)
"""


@pytest.mark.parametrize(
    ("faulty", "sentence"),
    [
        (TRAVEL_READING.replace("        select_pin(0)\n", ""), "while its chip select was high"),
        (TRAVEL_READING.replace("        select_pin(1)\n", ""), "without raising the converter's chip select"),
    ],
    ids=["never selected", "never released"],
)
def test_wrong_order_of_the_chip_select_ends_the_child(tmp_path: Path, faulty: str, sentence: str) -> None:
    assert sentence in stopped(firmware_with(tmp_path, "board.py", TRAVEL_READING, faulty))


def test_a_wrong_pin_ends_the_child(tmp_path: Path) -> None:
    firmware = firmware_with(tmp_path, "pins.py", "PIN_LAMP = const(12)", "PIN_LAMP = const(22)")
    assert "Pin(22): nothing is wired to it" in stopped(firmware)


def test_a_program_that_hangs_is_bitten_by_the_watchdog_and_says_so_after_the_reset(tmp_path: Path) -> None:
    hanging = LOOP.replace("app.step()", "app.step() if app.uptime_s < 3 else None")
    firmware = firmware_with(tmp_path, "app.py", LOOP, hanging)
    with VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture, Host(fixture.port) as host:
        assert host.greet().reset_cause == wire.ResetCause.POWER_ON
        fixture.run_for(10.0)
        assert fixture.resets == 0
        fixture.run_for(2.0)
        assert fixture.resets == 1
        identity = host.greet()
        assert identity.reset_cause == wire.ResetCause.WATCHDOG
        assert host.status().uptime_s < 2


def test_a_healthy_program_is_never_bitten() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.stream(100)
        fixture.run_for(60.0)
        assert host.status().uptime_s == 60
        assert fixture.resets == 0


def test_an_allocation_in_the_interrupt_is_an_error_there_and_ends_in_a_reset(tmp_path: Path) -> None:
    firmware = firmware_with(
        tmp_path, "sampler.py", "        codes = self._codes\n", "        codes = bytearray(self._codes)\n"
    )
    with VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture, Host(fixture.port) as host:
        fixture.run_for(0.5)
        host.greet()
        assert host.status().travel_code == 65535, "nothing was sampled"
        fixture.run_for(8.0)
        assert fixture.resets == 1, "a dead sampler is not fed"


def test_a_failing_program_shows_its_traceback_as_text_and_is_reset(tmp_path: Path) -> None:
    firmware = firmware_with(
        tmp_path, "commands.py", "selftest.run(", "selftest.run_it("
    )
    with VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture, Host(fixture.port) as host:
        host.greet()
        host.send("self_test")
        fixture.run_for(9.0)
        assert host.greet().reset_cause == wire.ResetCause.WATCHDOG
        said = "".join(str(text) for text in host.of(wire.Text))
    assert "Traceback" in said and "run_it" in said


def test_a_stall_of_the_host_loses_no_sample_and_tears_no_frame() -> None:
    """700 ms: writes wait their 500 ms and come back short."""
    with (
        VirtualFixture(RulePlant(), pace="manual", stalls_s=[(1.0, 0.7), (3.0, 0.5)]) as fixture,
        Host(fixture.port) as host,
    ):
        host.stream()
        fixture.run_for(5.0)
        status = host.status()
        host.ask("stop")
    assert (status.dropped_blocks, status.lost_samples) == (0, 0)
    np.testing.assert_array_equal(host.codes()[:, 0], ramp_codes(2500))
    assert host.counters.skipped_bytes == host.counters.crc_errors == host.counters.sequence_gaps == 0


def test_a_long_stall_drops_the_oldest_blocks_and_tells_how_many() -> None:
    with VirtualFixture(RulePlant(), pace="manual", stalls_s=[(1.0, 12.0)]) as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(20.0)
        status = host.status()
        host.ask("stop")
        assert fixture.resets == 0, "no write outlasts the watchdog"
    blocks = host.of(wire.SampleBlock)
    missing = sum((later.index - earlier.index) // 20 - 1 for earlier, later in pairwise(blocks))
    assert 200 < missing == status.dropped_blocks
    assert status.lost_samples == 0
    assert host.counters.skipped_bytes == 0
    for block in blocks:
        np.testing.assert_array_equal(
            block.codes[:, 0], ramp_codes(10_000)[block.index : block.index + len(block.codes)]
        )


def test_marks_and_replies_come_through_a_full_queue() -> None:
    plant = RulePlant(button=during((3.0, 3.2), (4.0, 4.2), (5.0, 5.2)))
    with VirtualFixture(plant, pace="manual", stalls_s=[(1.0, 12.0)]) as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(14.0)
        status = host.status()
    assert status.dropped_blocks > 0 and status.dropped_replies == 0
    assert [mark.sample_index for mark in host.of(wire.Mark)] == [1500, 2000, 2500]


def test_what_is_said_to_nobody_is_gone_and_the_board_goes_on() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture:
        with Host(fixture.port) as host:
            host.stream()
            fixture.run_for(1.0)
            host.status()
        fixture.run_for(10.0)
        with Host(fixture.port) as host:
            host.greet()
            status = host.status()
            assert not host.of(wire.SampleBlock), "nothing of the old stream is kept"
            assert host.counters.skipped_bytes == 0
    assert status.uptime_s == 11
    assert fixture.resets == 0


def test_a_byte_that_interrupts_a_prompt_does_not_stop_the_program() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.write(b"\x03\x03\x00")
        host.greet()
        assert host.status().refused_frames == 1


def test_a_program_that_leaves_the_keyboard_interrupt_on_is_stopped_by_it(tmp_path: Path) -> None:
    firmware = firmware_with(tmp_path, "board.py", "        micropython.kbd_intr(-1)\n", "")
    with VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture, Host(fixture.port) as host:
        host.greet()
        host.write(b"\x03")
        fixture.run_for(9.0)
        assert host.status().reset_cause == wire.ResetCause.WATCHDOG
        assert "KeyboardInterrupt" in "".join(str(text) for text in host.of(wire.Text))
