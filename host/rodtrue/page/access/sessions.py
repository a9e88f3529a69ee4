"""Sessions of those who gave the code: a random name in a cookie, known here only by its digest."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

NAME_BYTES = 32
LIFE_S = 12 * 3600.0
IDLE_S = 3600.0
"""A working day at most, and an hour without a sign of the browser."""

MOST_SESSIONS = 64


@dataclass
class _Session:
    since_s: float
    seen_s: float


class Sessions:
    """Who has been let in. clock: seconds that never go back. random: the system's own, except in a test."""

    def __init__(self, clock: Callable[[], float], random: Random) -> None:
        self._clock = clock
        self._random = random
        self._open: dict[bytes, _Session] = {}

    def __len__(self) -> int:
        """How many are open."""
        self._forget_expired()
        return len(self._open)

    def begin(self) -> str:
        """Return the name of a new session, for the cookie. The longest unseen of too many is ended."""
        self._forget_expired()
        if len(self._open) >= MOST_SESSIONS:
            del self._open[min(self._open, key=lambda key: self._open[key].seen_s)]
        name = self._random.randbytes(NAME_BYTES).hex()
        now_s = self._clock()
        self._open[_key(name)] = _Session(now_s, now_s)
        return name

    def see(self, name: str) -> bool:
        """Whether this session is open; if so it has been seen now."""
        self._forget_expired()
        session = self._open.get(_key(name))
        if session is None:
            return False
        session.seen_s = self._clock()
        return True

    def is_open(self, name: str) -> bool:
        """Whether this session is open, without counting it as a sign of the browser."""
        self._forget_expired()
        return _key(name) in self._open

    def end(self, name: str) -> None:
        """End one session, if it is open."""
        self._open.pop(_key(name), None)

    def end_all(self) -> None:
        """End every session."""
        self._open.clear()

    def _forget_expired(self) -> None:
        now_s = self._clock()
        self._open = {
            key: session
            for key, session in self._open.items()
            if now_s - session.since_s < LIFE_S and now_s - session.seen_s < IDLE_S
        }


def _key(name: str) -> bytes:
    # Looked up by digest, a name cannot be found out letter by letter from the time a look-up takes.
    return hashlib.sha256(name.encode("utf-8", "surrogatepass")).digest()
