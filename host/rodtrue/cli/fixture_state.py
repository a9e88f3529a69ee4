"""`rodtrue fixture info` and `self-test`: how a fixture is, in words a technician can act on."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import typer

from rodtrue.cli.options import JsonOption, PortOption
from rodtrue.cli.wrapped import hanging
from rodtrue.model.counted import counted

if TYPE_CHECKING:
    import rodtrue_protocol as wire
    from rodtrue.link.client import Client
    from rodtrue.run.sensor_words import Diagnosis

_LABEL = 18
_READS_WITHIN_S = 1.0
_LOOK_S = 0.1
_MOST_ROOM_BYTES = 0xFFFFFFFF
_SIGNS = {"ok": "ok", "note": "NOTE", "fault": "FAULT", "not tested": "-"}

_STARTED = {
    "power_on": "by power-on",
    "watchdog": "by its watchdog: the program had hung. If it happens again, note what was done and install again",
    "command": "by a command, as after maintenance or an installation",
}


def info(port: PortOption = "auto", as_json: JsonOption = False) -> None:
    """Show what a fixture says of itself: who it is, its calibration, its readings, and what is wrong with it."""
    from rodtrue.capture.notes import identity_fields, status_fields, timing_fields
    from rodtrue.capture.scaling import scaling_of
    from rodtrue.run.recorder import read_calibration
    from rodtrue.run.sensor_words import Readings, diagnose_readings
    from rodtrue.run.session import default_plant, open_fixture

    with open_fixture(port, default_plant) as session:
        calibration = read_calibration(session.client)
        status = _status_with_readings(session.client)
        timing = timing_fields(session.client.timing())
        told: dict[str, Any] = {
            "port": session.port,
            "identity": identity_fields(session.identity),
            "calibration": calibration,
            "status": status_fields(status),
            "timing": timing,
        }
    found = diagnose_readings(Readings.of(status), scaling_of(calibration))
    if as_json:
        _print_json({**told, "diagnosis": [asdict(entry) for entry in found]})
        return
    _show_identity(told)
    _show_sampling(told["status"], timing)
    typer.echo("\nReadings")
    _show(found)
    if all(entry.state == "ok" for entry in found):
        typer.echo(f"\nNothing wrong in these. More: rodtrue fixture self-test --port {port}")


def self_test(port: PortOption = "auto", as_json: JsonOption = False) -> None:
    """Let a fixture test itself: lamp and sounder go on for a moment. Ends with 3 where a test failed."""
    from rodtrue.capture.notes import self_test_fields
    from rodtrue.capture.scaling import scaling_of
    from rodtrue.model.errors import FixtureError
    from rodtrue.run.clock_check import check_clock
    from rodtrue.run.diagnosis import diagnose_self_test
    from rodtrue.run.recorder import read_calibration
    from rodtrue.run.session import default_plant, open_fixture

    with open_fixture(port, default_plant) as session:
        # Before the test: some of the time the sampling is watched passes with it.
        calibration = read_calibration(session.client)
        clock = check_clock(session.client)
        report = session.client.self_test()
        kind = session.identity.kind
    generation = calibration["generation"] if calibration else 0
    found = diagnose_self_test(report, scaling_of(calibration), generation, clock)
    told = self_test_fields(report)
    told["tests"]["clock_rate"] = "passed" if clock.passed else "failed"
    if as_json:
        diagnosis = [asdict(entry) for entry in found]
        _print_json({"port": session.port, **told, "clock": asdict(clock), "diagnosis": diagnosis})
    else:
        typer.echo(f"Self-test of the fixture at {session.port}{_virtual_mark(kind)}")
        _show(found)
        figures = (_figure(name, value) for name, value in told.items() if name != "tests")
        typer.echo(_filled(", ".join(figures), "as read"))
        typer.echo(_filled("Did lamp and sounder go on for a moment? If not: their wires and transistors.", ""))
    failed = [name for name, outcome in told["tests"].items() if outcome == "failed"]
    if failed:
        faults = [entry for entry in found if entry.state == "fault"]
        raise FixtureError(
            f"port {session.port}: the self-test failed: {', '.join(name.replace('_', ' ') for name in failed)}",
            f"First look at: {faults[0].look_at}" if faults else "Test again.",
        )


def _figure(name: str, value: int) -> str:
    """Return one figure of a self-test; the largest room the wire can tell stands for that much or more."""
    return f"{name} {value}" + (" or more" if (name, value) == ("free_storage_bytes", _MOST_ROOM_BYTES) else "")


def _status_with_readings(client: Client) -> wire.Status:
    """Return a status that tells every channel, unless a fixture does not read them within a second."""
    from rodtrue.run.sensor_words import Readings

    status = client.status()
    until = client.clock() + _READS_WITHIN_S
    while not Readings.of(status).complete and client.clock() < until:
        client.poll(_LOOK_S)
        status = client.status()
    return status


def _show_identity(told: dict[str, Any]) -> None:
    from rodtrue.run.words import VIRTUAL_MARK

    identity, calibration = told["identity"], told["calibration"]
    what = VIRTUAL_MARK if identity["kind"] == "virtual" else "board with sensors"
    started = _STARTED.get(identity["reset_cause"], "for a reason that the board does not tell")
    rows = [
        ("Fixture", f"{told['port']}: {what}"),
        ("number", identity["unique_id"]),
        ("firmware", f"{identity['firmware_version']}, message table {identity['table_digest']}"),
        ("interpreter", f"{identity['interpreter']} {identity['micropython_version']}"),
        ("started", f"{_span(told['status']['uptime_s'])} ago, {started}"),
        ("calibration", _calibration_words(calibration)),
    ]
    for label, text in rows:
        typer.echo(_filled(text, label))


def _calibration_words(calibration: dict[str, Any] | None) -> str:
    if calibration is None:
        return (
            "none: nominal scaling and the parts' uncertainty are used. Calibrate travel and pressure before "
            "relying on the numbers"
        )
    due = f"due {calibration['due']}" if calibration["due"] else "no due date"
    return (
        f"generation {calibration['generation']}, done {calibration['done']}, {due}; references: "
        f"{calibration['references'] or 'none named'}"
    )


def _show_sampling(status: dict[str, Any], timing: dict[str, Any]) -> None:
    typer.echo("\nSampling")
    rate = 1e6 / (4 * timing["interval_us"])
    streaming = "streaming" if "streaming" in status["flags"] else "not streaming; alarm and contacts are watched"
    typer.echo(_filled(f"{rate:.0f} samples/s, {streaming}", "rate"))
    typer.echo(
        _filled(
            f"{timing['jitter_us']} us at most between early and late; longest interrupt {timing['interrupt_us']} us "
            f"of {timing['interval_us']} us",
            "jitter",
        )
    )
    lost = (
        counted(status["lost_samples"], "sample"),
        counted(status["dropped_blocks"], "block"),
        counted(status["dropped_replies"], "reply", "replies"),
    )
    overrun, refused = counted(status["overruns"], "interval"), counted(status["refused_frames"], "frame")
    typer.echo(_filled(f"{', '.join(lost)}; {overrun} overrun, {refused} refused", "lost"))
    typer.echo(_filled(f"button {status['button']}, foot switch {status['foot_switch']}", "contacts"))
    for flag, said in _FLAG_WORDS.items():
        if flag in status["flags"]:
            typer.echo(_filled(said, "state"))


_FLAG_WORDS = {
    "over_pressure": "PRESSURE IS OVER ITS LIMIT: relieve it, keep away from the hose",
    "over_pressure_seen": "pressure has been over its limit since the last start",
    "travel_limited": "a travel limit is set; the sounder beeps beyond it",
    "over_travel": "travel is beyond its limit now",
    "seal_open": "a calibration may be written now",
}


def _show(found: list[Diagnosis]) -> None:
    for entry in found:
        typer.echo(_filled(f"{_SIGNS[entry.state]}  {entry.says}", entry.part))
        if entry.look_at:
            typer.echo(_filled(f"{'Look at' if entry.state == 'fault' else 'Next'}: {entry.look_at}", ""))


def _filled(text: str, label: str) -> str:
    first = f"  {label:{_LABEL - 2}}" if label else " " * _LABEL
    return "\n".join(hanging(text, first, " " * _LABEL))


def _span(seconds: int) -> str:
    if seconds < 120:
        return f"{seconds} s"
    minutes = seconds // 60
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"


def _virtual_mark(kind: int) -> str:
    import rodtrue_protocol as wire
    from rodtrue.run.words import VIRTUAL_MARK

    return f": {VIRTUAL_MARK}" if kind == wire.Kind.VIRTUAL else ""


def _print_json(told: dict[str, Any]) -> None:
    import msgspec

    typer.echo(msgspec.json.encode(told))
