"""How much memory an object holds on to, beside what the program shares."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterable
from functools import cache
from types import BuiltinFunctionType, FunctionType, ModuleType

import rodtrue_protocol as wire

_SHARED_KINDS = (type, ModuleType, FunctionType, BuiltinFunctionType)


def held_bytes(root: object, *, but: Iterable[object] = ()) -> int:
    """Return the size of all that is reached from `root`, without `but`, classes, functions and the wire's table."""
    return sum(map(sys.getsizeof, _reached([root], {*_table(), *map(id, but)})))


@cache
def _table() -> frozenset[int]:
    return frozenset(map(id, _reached([wire.TABLE], set())))


def _reached(roots: list[object], seen: set[int]) -> list[object]:
    found: list[object] = []
    while roots:
        item = roots.pop()
        if id(item) in seen or isinstance(item, _SHARED_KINDS):
            continue
        seen.add(id(item))
        found.append(item)
        roots += gc.get_referents(item)
    return found
