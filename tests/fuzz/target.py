"""What a fuzzing target is: how its inputs are made, and what may come of them."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from random import Random

from rodtrue.model.errors import FixtureError, InputError

JUDGED_SHARE = 0.1
"""Share of the files that are read well which are judged too: judging takes a hundred times as long."""

Tell = Callable[[bytes], str]


@dataclass(frozen=True)
class Target:
    """make: an input from a generator of random numbers. tell: a context in which inputs are handed over."""

    name: str
    make: Callable[[Random], bytes]
    open: Callable[[Path], contextlib.AbstractContextManager[Tell]]


def outcome(tell: Tell, data: bytes) -> str:
    """Return what came of an input. Raises: whatever is not documented."""
    try:
        return tell(data)
    except (InputError, FixtureError) as error:
        assert error.message and error.next_step, "an error that says nothing"
        return "refused"


def chosen(data: bytes, share: float) -> bool:
    """Say whether this input is among the share that is looked at more closely; the same input always is."""
    return int.from_bytes(sha256(data).digest()[:4], "big") < share * 2**32
