"""The way in for an installer, and how it closes again."""

from __future__ import annotations

from pathlib import Path

import rodtrue_protocol as wire
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import Host, RulePlant, during

FLAG = "maintenance.flag"


def greeting_harmless_to_a_prompt() -> bytes:
    """Return a hello whose bytes a prompt does not take for its soft reset."""
    frames = (wire.encode("hello", sequence, table_digest=wire.TABLE.digest) for sequence in range(200, 256))
    return next(frame for frame in frames if b"\x04" not in frame)


def test_maintenance_by_command_answers_then_boots_once_without_watchdog_or_program(tmp_path: Path) -> None:
    with VirtualFixture(RulePlant(), pace="manual", state_dir=tmp_path) as fixture, Host(fixture.port) as host:
        host.stream()
        fixture.run_for(0.5)
        assert isinstance(host.ask("enter_maintenance"), wire.Ack)
        fixture.run_for(0.5)
        assert fixture.resets == 1
        assert fixture.lamp, "the lamp says so"
        assert not (tmp_path / FLAG).exists(), "the flag has cleared itself"
        host.write(greeting_harmless_to_a_prompt())
        fixture.run_for(30.0)
        assert fixture.resets == 1, "no watchdog"
        greeted = len(host.of(wire.Identity))
        fixture.power_cycle()
        assert host.greet().reset_cause == wire.ResetCause.POWER_ON
        assert len(host.of(wire.Identity)) == greeted + 1, "no program answered in maintenance"


def test_maintenance_is_open_to_a_host_with_another_message_table() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.ask("hello", table_digest=wire.TABLE.digest ^ 1)
        assert isinstance(host.ask("enter_maintenance"), wire.Ack)


def test_the_prompt_leaves_maintenance_by_a_soft_reset() -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        host.ask("enter_maintenance")
        fixture.run_for(0.5)
        host.write(b"\r\x04")
        fixture.run_for(0.5)
        assert fixture.resets == 2
        host.greet()
        assert ">>>" in "".join(str(text) for text in host.of(wire.Text))


def test_the_button_held_at_power_up_opens_maintenance() -> None:
    with (
        VirtualFixture(RulePlant(button=during((1.0, 60.0))), pace="manual") as fixture,
        Host(fixture.port) as host,
    ):
        fixture.run_for(2.0)
        fixture.power_cycle()
        fixture.run_for(20.0)
        assert fixture.lamp
        host.write(greeting_harmless_to_a_prompt())
        fixture.run_for(50.0)
        fixture.power_cycle()
        assert fixture.resets == 2
        host.greet()
        assert len(host.of(wire.Identity)) == 1, "only the second power-up, with the button open, started it"


def test_a_button_let_go_within_the_moment_of_power_up_starts_the_program() -> None:
    with (
        VirtualFixture(RulePlant(button=during((1.0, 2.05))), pace="manual") as fixture,
        Host(fixture.port) as host,
    ):
        fixture.run_for(2.0)
        fixture.power_cycle()
        fixture.run_for(0.2)
        assert host.greet().reset_cause == wire.ResetCause.POWER_ON
