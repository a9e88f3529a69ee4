"""A copy of the firmware's sampling path in which every integer is checked as it is made and stored.

A 64-bit MicroPython holds integers that a 32-bit board would have to allocate, so running the firmware
here cannot show one that is too long. The copy can: each right-hand side, each result of arithmetic and
each returned value passes through `checked`, which notes the largest and refuses what passes 2^30 - 1.
"""

from __future__ import annotations

import ast
import shutil
from pathlib import Path

from rodtrue.resources import room_path

SAMPLING_PATH = ("sampler.py", "blocks.py", "contacts.py", "alarm.py", "marks.py")

CHECKER = '''"""Checks integers of the instrumented copy."""

MOST = (1 << 30) - 1
seen = {"checks": 0, "largest": 0, "smallest": 0}


def checked(value):
    if isinstance(value, int):
        seen["checks"] += 1
        if value > seen["largest"]:
            seen["largest"] = value
        if value < seen["smallest"]:
            seen["smallest"] = value
        if not -MOST - 1 <= value <= MOST:
            raise OverflowError("integer %d does not fit in 31 bits" % value)
    return value
'''


class _Checking(ast.NodeTransformer):
    """Wraps values in `checked(...)`; leaves compiled (viper) functions and module constants alone."""

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        if node.decorator_list:
            return node
        self.generic_visit(node)
        return node

    def visit_Module(self, node: ast.Module) -> ast.AST:
        node.body = [
            self.visit(item) if isinstance(item, ast.FunctionDef | ast.ClassDef) else item for item in node.body
        ]
        return node

    def visit_Assign(self, node: ast.Assign) -> ast.AST:
        self.generic_visit(node)
        node.value = _checked(node.value)
        return node

    def visit_AugAssign(self, node: ast.AugAssign) -> ast.AST:
        self.generic_visit(node)
        value = ast.BinOp(_loaded(node.target), node.op, node.value)
        return ast.Assign([node.target], _checked(value))

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        return _checked(node)

    def visit_Return(self, node: ast.Return) -> ast.AST:
        self.generic_visit(node)
        if node.value is not None:
            node.value = _checked(node.value)
        return node


def instrument(folder: Path, spoil: tuple[str, str, str] | None = None) -> Path:
    """Write the instrumented copy of the firmware into a folder of its own there; return it.

    spoil: file, text that stands there once, and what to put in its place first.
    """
    copy = folder / "instrumented"
    shutil.copytree(room_path("firmware"), copy, ignore=shutil.ignore_patterns("__pycache__"))
    (copy / "checker.py").write_text(CHECKER, "utf-8")
    for name in SAMPLING_PATH:
        text = (copy / name).read_text("utf-8")
        if spoil and spoil[0] == name:
            assert text.count(spoil[1]) == 1
            text = text.replace(spoil[1], spoil[2])
        tree = ast.fix_missing_locations(_Checking().visit(ast.parse(text)))
        (copy / name).write_text("from checker import checked\n" + ast.unparse(tree) + "\n", "utf-8")
    return copy


def _checked(value: ast.expr) -> ast.expr:
    return ast.Call(ast.Name("checked", ast.Load()), [value], [])


def _loaded(target: ast.expr) -> ast.expr:
    loaded = ast.parse(ast.unparse(target), mode="eval").body
    assert isinstance(loaded, ast.Name | ast.Attribute | ast.Subscript)
    return loaded
