"""The two ways work can fail: what was handed in is wrong, or the fixture is in trouble.

Each carries one sentence on what happened and where, and one on what to do next, so that every
front end (terminal, JSON, page) can show both.
"""

from rodtrue.plain_text import on_one_line

LONGEST = 2000
"""Characters of a sentence: a file may hold a name of any length."""


class RodtrueError(Exception):
    """What happened and where (`message`), and what to do next (`next_step`): one line each, safe to be shown."""

    exit_code = 1

    def __init__(self, message: str, next_step: str) -> None:
        self.message, self.next_step = _sentence(message), _sentence(next_step)
        super().__init__(self.message)

    def __reduce__(self) -> tuple[type, tuple[str, str]]:
        # Both sentences cross to a parent process; the inherited way would lose the second.
        return type(self), (self.message, self.next_step)

    def __str__(self) -> str:
        return f"{self.message}\n{self.next_step}"


def _sentence(text: str) -> str:
    plain = on_one_line(text)
    return plain if len(plain) <= LONGEST else f"{plain[: LONGEST // 2]} [...] {plain[-LONGEST // 2 :]}"


class InputError(RodtrueError):
    """Bad input or usage: a file, a column, a profile field, an option. Exit code 2."""

    exit_code = 2


class FixtureError(RodtrueError):
    """Fixture trouble: no port, busy port, no answer, unplugged, wrong message table. Exit code 3."""

    exit_code = 3
