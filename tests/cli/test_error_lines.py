"""What went wrong fits the terminal it is told on; where no terminal reads, each sentence stays one line."""

from __future__ import annotations

import os
import pty
import subprocess

from cli.commands import LONGEST_S, PROGRAM, rodtrue


def on_a_terminal(*arguments: str, columns: int) -> list[str]:
    """Return the lines a command writes to a terminal of this width beside its output."""
    far, near = pty.openpty()
    try:
        subprocess.run(
            [*PROGRAM, *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=near,
            timeout=LONGEST_S,
            env={**os.environ, "COLUMNS": str(columns)},
            check=False,
        )
        return os.read(far, 65_536).decode("utf-8").splitlines()
    finally:
        os.close(near)
        os.close(far)


def test_lines_of_an_error_are_no_wider_than_the_terminal_and_lose_nothing() -> None:
    wide = rodtrue("demo", "--rod-error", "40").err.splitlines()
    assert max(map(len, wide)) > 60
    narrow = on_a_terminal("demo", "--rod-error", "40", columns=60)
    assert max(map(len, narrow)) <= 60
    assert " ".join(narrow).split() == " ".join(wide).split()


def test_a_path_is_not_cut() -> None:
    path = "folder/" + 90 * "x" + ".csv"
    assert any(path in line for line in on_a_terminal("judge", path, columns=60))
