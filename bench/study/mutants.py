"""One small wrong change at a time: the mutants of a Python source.

Comparisons (`<` to `<=`, `==` to `!=`), arithmetic, `and` against `or`, a condition turned round, a number
changed (whole ones by one, others doubled), min against max, a returned value lost, a statement left out.
Strings, annotations, decorators and errors' wording are left alone.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass

_COMPARED = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_COMPUTED = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
_BARE = (ast.Name, ast.Attribute, ast.Call)
"""Conditions that hold no sign of their own to change."""
_SWAPPED = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Mutant:
    """One change: the line it stands on, what it does in words, and the whole changed source."""

    line: int
    what: str
    source: str


def mutants(source: str) -> list[Mutant]:
    """Return every mutant of a source, in the order in which the source is walked; each compiles."""
    found = []
    for place in range(sum(1 for _ in _changes(ast.parse(source)))):
        tree = ast.parse(source)
        node, change = next(pair for number, pair in enumerate(_changes(tree)) if number == place)
        before = ast.unparse(node)
        after = change() or node
        ast.fix_missing_locations(tree)
        found.append(Mutant(node.lineno, f"{_short(before)}  ->  {_short(ast.unparse(after))}", ast.unparse(tree)))
    return found


def _short(code: str) -> str:
    line = " ".join(code.split())
    return line if len(line) < 90 else line[:87] + "..."


def _changes(tree: ast.Module) -> Iterator[tuple[ast.expr | ast.stmt, Callable[[], ast.expr | None]]]:
    """Give each change as the smallest telling node that holds it and what makes the change in place.

    What makes it returns the node now in the other's place, None where that is the same one.
    """
    for node in _walk(tree):
        if isinstance(node, ast.Compare):
            for i, sign in enumerate(node.ops):
                yield node, lambda n=node, i=i, s=sign: n.ops.__setitem__(i, _COMPARED[type(s)]())
        elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in _COMPUTED:
            yield node, lambda n=node: setattr(n, "op", _COMPUTED[type(n.op)]())
        elif isinstance(node, ast.BoolOp):
            other = ast.Or if isinstance(node.op, ast.And) else ast.And
            yield node, lambda n=node, o=other: setattr(n, "op", o())
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not | ast.Invert):
            yield node, lambda n=node: setattr(n, "operand", ast.UnaryOp(n.op, n.operand))
        elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            yield node, lambda n=node: setattr(n, "value", _other(n.value))
        elif isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Load):
            field = "id" if isinstance(node, ast.Name) else "attr"
            if getattr(node, field) in _SWAPPED:
                yield node, lambda n=node, f=field: setattr(n, f, _SWAPPED[getattr(n, f)])
        if isinstance(node, ast.If | ast.While | ast.IfExp) and isinstance(node.test, _BARE):
            yield node.test, lambda n=node: _turn_round(n)
        elif _can_be_lost(node):
            yield node, lambda n=node: setattr(n, "value", ast.Constant(None))


def _turn_round(node: ast.If | ast.While | ast.IfExp) -> ast.expr:
    node.test = ast.UnaryOp(ast.Not(), node.test)
    return node.test


def _other(value: int | float) -> int | float:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    return 2 * value if value else 1.0


def _can_be_lost(node: ast.AST) -> bool:
    """Whether it is a returned value other than None, or a call made for what it does."""
    if isinstance(node, ast.Return):
        return node.value is not None and not (isinstance(node.value, ast.Constant) and node.value.value is None)
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)


def _walk(node: ast.AST) -> Iterator[ast.AST]:
    """Give all nodes below `node` in source order, without annotations, decorators, raises and format strings."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.Raise | ast.JoinedStr | ast.Assert):
                yield child
                yield from _walk(child)
