"""The access code that a person types, and the single-use tokens that a QR code carries.

Neither is ever written anywhere but where a person at the computer looks: no log, no address, no repr.
"""

from __future__ import annotations

import hmac
from collections.abc import Callable
from random import Random

ALPHABET = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
"""Capitals and digits that are not taken for one another: no I, L, O, 0, 1."""

CODE_LENGTH = 8
TOKEN_BYTES = 16
TOKEN_LIFE_S = 600.0
MOST_TOKENS = 16


class Codes:
    """The one code and the open tokens of a running program.

    clock: seconds that never go back. random: the system's own, except in a test.
    """

    def __init__(self, clock: Callable[[], float], random: Random) -> None:
        self._clock = clock
        self._random = random
        self._tokens: dict[str, float] = {}
        self._code = self._draw()

    @property
    def code(self) -> str:
        """The code as shown to a person: two groups of four."""
        half = CODE_LENGTH // 2
        return f"{self._code[:half]}-{self._code[half:]}"

    def renew(self) -> None:
        """Draw another code, and let no token of before be used."""
        self._code = self._draw()
        self._tokens.clear()

    def new_token(self) -> str:
        """Return a token that opens the page once, within ten minutes. The oldest of many gives way."""
        now_s = self._clock()
        self._tokens = {token: until_s for token, until_s in self._tokens.items() if until_s > now_s}
        while len(self._tokens) >= MOST_TOKENS:
            del self._tokens[next(iter(self._tokens))]
        token = self._random.randbytes(TOKEN_BYTES).hex()
        self._tokens[token] = now_s + TOKEN_LIFE_S
        return token

    def is_code(self, typed: str) -> bool:
        """Whether this is the code, however it was spaced and in small letters or capitals."""
        plain = "".join(typed.split()).replace("-", "").upper()
        return _same(plain, self._code)

    def use_token(self, token: str) -> bool:
        """Whether this is an open token; it is none any more afterwards."""
        found = None
        for known in self._tokens:  # all of them, whichever is right: the time taken tells nothing
            if _same(token, known):
                found = known
        return found is not None and self._tokens.pop(found) > self._clock()

    def _draw(self) -> str:
        return "".join(self._random.choice(ALPHABET) for _ in range(CODE_LENGTH))


def _same(given: str, secret: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "surrogatepass"), secret.encode())
