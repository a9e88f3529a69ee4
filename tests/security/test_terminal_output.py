"""What the commands print of names and files steers no terminal and is no markup."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ESCAPES = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202e[red]bold[/red]"


def said(*arguments, folder, environment=None):
    """Run a command. Returns its exit code and all it printed."""
    done = subprocess.run(
        [sys.executable, "-m", "rodtrue", *arguments],
        capture_output=True,
        cwd=folder,
        env=os.environ | {"RODTRUE_DATA": str(folder / "data"), "FORCE_COLOR": "1"} | (environment or {}),
        timeout=300,
    )
    return done.returncode, (done.stdout + done.stderr).decode()


def assert_plain(text):
    assert not {"\x1b", "\x07", "\x9b", "\u202e"} & set(text)


@pytest.mark.slow
def test_a_heading_a_cell_and_a_file_name_are_spelt_out(tmp_path):
    bad = tmp_path / f"run{ESCAPES.replace('/', '')}.csv"
    bad.write_text(f"time_s,{ESCAPES},step\n0,0,zero\n")
    code, text = said("judge", bad.name, folder=tmp_path)
    assert code == 2
    assert_plain(text)
    assert "\\x1b]0;owned" in text
    assert "[red]bold" in text
    bad.write_text(f"time_s,travel_mm,pressure_kpa,step\n0,0,0,{ESCAPES}\n")
    code, text = said("judge", bad.name, "--json", folder=tmp_path)
    assert code == 2
    assert_plain(text)
    (refusal,) = [json.loads(line) for line in text.splitlines() if line.startswith("{")]
    assert (refusal["schema"], refusal["file"]) == ("rodtrue.error/1", bad.name)


# All that steers a terminal or turns the direction of writing round: ECMA-48's C0 and C1, Unicode Standard Annex 9.
_RANGES = ((0x00, 0x1F), (0x7F, 0x9F), (0x2028, 0x202E), (0x2066, 0x2069))
STEERING = "".join(chr(code) for low, high in _RANGES for code in range(low, high + 1))


def test_json_on_a_terminal_steers_nothing_and_means_the_same(capfdbinary):
    import typer

    from rodtrue.cli.plain_streams import plain_streams
    from rodtrue.judging import encode

    said = {"unit": f"truck {STEERING} \u00e4\u4e2d\U0001f527 \\u009b", "operator": None}
    with plain_streams():
        typer.echo(encode(said))
    printed = capfdbinary.readouterr().out
    assert not set(STEERING) & set(printed.decode().removesuffix("\n"))
    assert json.loads(printed) == said


@pytest.mark.slow
def test_a_kept_unit_and_operator_are_spelt_out(tmp_path):
    from records.made_up_jobs import job
    from rodtrue.records import open_records

    database = tmp_path / "records.sqlite"
    with open_records(str(database)) as records:
        number = records.save(job(1, unit=ESCAPES, operator=ESCAPES, customer=ESCAPES + "\nFORGED")).job
    for command in (("list",), ("show", str(number)), ("compare", str(number))):
        code, text = said("records", *command, "--records", str(database), folder=tmp_path)
        assert code == 0, text
        assert_plain(text)
        assert not [line for line in text.splitlines() if line.startswith("FORGED")]


@pytest.mark.slow
def test_a_profile_of_control_characters_is_shown_spelt_out(tmp_path):
    from rodtrue.profiles import new_profile_text

    path = Path(tmp_path / "mine.toml")
    escaped = json.dumps(ESCAPES)  # what JSON escapes, TOML does in the same way
    path.write_text(new_profile_text("mine").replace('title = "mine"', f"title = {escaped}"))
    for command in ("show", "check"):
        code, text = said("profile", command, "mine.toml", folder=tmp_path)
        assert code in (0, 2)
        assert_plain(text)


def test_streams_made_plain_leave_bytes_and_markup_libraries_alone(capsys):
    import typer
    from rich.console import Console

    from rodtrue.cli.plain_streams import plain_streams

    with plain_streams():
        typer.echo(f"name {ESCAPES}")
        Console(force_terminal=True, color_system="standard", width=80).print("[red]ours[/red]")
    printed = capsys.readouterr().out
    assert "name \\x1b]0;owned\\x07\\x9b31m\\u202e[red]bold[/red]" in printed
    assert "\x1b[31mours" in printed
