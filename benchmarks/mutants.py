"""Small wrong changes to a module, one at a time: what a test that is worth its place notices.

Left alone: docstrings, annotations, ``__all__``, and text with a space in it, which is wording
for people. Everything else that has a like is changed to it: comparisons, sums and products,
``and`` and ``or``, numbers, names in quotes, branches, raised errors, calls made for their effect.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

_LIKES: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.BitXor: ast.BitAnd,
    ast.Break: ast.Continue, ast.Continue: ast.Break,
}


@dataclass(frozen=True)
class Mutant:
    """One changed module: where, the line that stood there, what changed in it, the source."""

    module: str
    line: int
    before: str
    change: str
    source: str

    @property
    def name(self) -> str:
        """Return what tells this mutant from others, wherever its line has moved to."""
        return f"{self.module}: `{self.before}` with {self.change}"


def count_of(source: str) -> int:
    """Return how many mutants a module has."""
    return len(_spots(ast.parse(source)))


def mutant_of(module: str, source: str, number: int) -> Mutant:
    """Return one mutant of a module; they are numbered from 0 in the order of its tree."""
    tree = ast.parse(source)
    holder, field, index, node = _spots(tree)[number]
    changed = _changed(node)
    assert changed is not None
    line = getattr(node, "lineno", getattr(holder, "lineno", 1))
    change = f"`{_shown(node)}` made `{_shown(changed)}`"
    if index is None:
        setattr(holder, field, changed)
    else:
        getattr(holder, field)[index] = changed
    text = ast.unparse(ast.fix_missing_locations(tree))
    return Mutant(module, line, source.splitlines()[line - 1].strip(), change, text)


_Spot = tuple[ast.AST, str, "int | None", ast.AST]


def _spots(tree: ast.Module) -> list[_Spot]:
    return [spot for spot in _walk(tree) if _changed(spot[3]) is not None]


def _walk(holder: ast.AST) -> Iterator[_Spot]:
    for field, value in ast.iter_fields(holder):
        if field in ("annotation", "returns", "decorator_list", "bases", "type_params"):
            continue
        nodes = list(enumerate(value)) if isinstance(value, list) else [(None, value)]
        for index, node in nodes:
            if isinstance(node, ast.AST) and not _left_alone(node):
                yield holder, field, index, node
                yield from _walk(node)


def _left_alone(node: ast.AST) -> bool:
    if isinstance(node, ast.Import | ast.ImportFrom | ast.JoinedStr):
        return True
    if isinstance(node, ast.Assign):
        return ast.unparse(node.targets[0]) == "__all__" or "Literal[" in ast.unparse(node.value)
    if isinstance(node, ast.If):
        return "TYPE_CHECKING" in ast.unparse(node.test)
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _changed(node: ast.AST) -> ast.AST | None:
    if type(node) in _LIKES:
        return _LIKES[type(node)]()
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub | ast.Invert):
        return node.operand
    if isinstance(node, ast.Constant):
        return _other_constant(node.value)
    if isinstance(node, ast.If | ast.While | ast.IfExp):
        changed = copy.deepcopy(node)
        changed.test = ast.UnaryOp(ast.Not(), changed.test)
        return changed
    if isinstance(node, ast.Raise | ast.AugAssign) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
    ):
        return ast.copy_location(ast.Pass(), node)
    return None


def _other_constant(value: object) -> ast.Constant | None:
    if isinstance(value, bool):
        return ast.Constant(not value)
    if isinstance(value, int):
        return ast.Constant(value + 1)
    if isinstance(value, float):
        return ast.Constant(value * 1.1 if value else 1.0)
    if isinstance(value, str) and value and " " not in value:
        return ast.Constant(value + "_x")
    return None


def _shown(node: ast.AST) -> str:
    if isinstance(node, ast.If | ast.While):
        return ast.unparse(ast.fix_missing_locations(node.test))
    if isinstance(node, ast.operator | ast.boolop | ast.cmpop):
        return type(node).__name__
    return " ".join(ast.unparse(ast.fix_missing_locations(copy.deepcopy(node))).split())[:80]
