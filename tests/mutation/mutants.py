"""Small mistakes that somebody could make in a file: another comparison, sign, number, result."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt), ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
_OPERATIONS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
_LEFT_OUT = frozenset({
    "abs", "absolute", "clip", "flip", "float", "int", "max", "maximum", "min", "minimum", "round",
    "sorted", "sqrt", "square", "cumsum", "unique",
})  # fmt: skip
"""Functions that a mutant leaves out, keeping what they are given."""


@dataclass(frozen=True)
class Mutant:
    """One mistake.

    Attributes
    ----------
    file
        Path from the project's root.
    line, end_line, column, end_column
        Where it is, as `ast` counts.
    kind
        What is done.
    before, after
        The code there, and what stands in its place.
    """

    file: str
    line: int
    end_line: int
    column: int
    end_column: int
    kind: str
    before: str
    after: str

    def of(self, source: str) -> str:
        """Give the file's text with the mistake in it."""
        lines = source.splitlines(keepends=True)
        first, last = lines[self.line - 1].encode(), lines[self.end_line - 1].encode()
        mistaken = first[: self.column] + self.after.encode() + last[self.end_column :]
        return "".join([*lines[: self.line - 1], mistaken.decode(), *lines[self.end_line :]])

    def found_again(self, root: Path) -> Mutant | None:
        """Give the same mistake where its code stands by now; None if that is gone."""
        what = self.kind, self.before, self.after
        alike = [one for one in mutants_of(root, root / self.file)
                 if (one.kind, one.before, one.after) == what]  # fmt: skip
        return min(alike, key=lambda one: abs(one.line - self.line), default=None)


def mutants_of(root: Path, file: Path) -> list[Mutant]:
    """Give all the mistakes that are known for a file, in their order."""
    source = file.read_text(encoding="utf-8")
    name = file.relative_to(root).as_posix()
    return [
        Mutant(
            name, node.lineno, node.end_lineno, node.col_offset, node.end_col_offset,
            kind, ast.get_source_segment(source, node) or "", _text(new),
        )
        for node in _code(ast.parse(source))
        for kind, new in _mistakes(node)
    ]  # fmt: skip


def _text(new: ast.AST) -> str:
    text = ast.unparse(new)
    return f"({text})" if isinstance(new, ast.expr) and not isinstance(new, ast.Constant) else text


def _code(node: ast.AST) -> Iterator[ast.AST]:
    """Give what is computed: no annotation, decorator, import, docstring or message."""
    # Places within an f-string are not those of the file (before Python 3.12).
    if isinstance(node, ast.Import | ast.ImportFrom | ast.JoinedStr):
        return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    yield node
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _code(child)


def _mistakes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for other in _COMPARISONS.get(type(node.ops[0]), ()):
            yield "comparison", _changed(node, ops=[other()])
    elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in _OPERATIONS:
        yield "arithmetic", _changed(node, op=_OPERATIONS[type(node.op)]())
    elif isinstance(node, ast.BoolOp):
        other_op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "and, or", _changed(node, op=other_op)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not | ast.Invert):
        yield "sign", node.operand
    elif isinstance(node, ast.Constant):
        yield from _constants(node)
    elif isinstance(node, ast.Call):
        name = node.func.attr if isinstance(node.func, ast.Attribute) else None
        name = node.func.id if isinstance(node.func, ast.Name) else name
        if name in _LEFT_OUT and node.args and not isinstance(node.args[0], ast.Starred):
            yield "call left out", node.args[0]
    elif isinstance(node, ast.IfExp):
        yield "condition", _changed(node, test=ast.UnaryOp(ast.Not(), node.test))
    elif isinstance(node, ast.Raise):
        yield "no refusal", ast.Pass()
    elif isinstance(node, ast.Return) and not _is_none(node.value):
        yield "no result", ast.Return(ast.Constant(None))
    elif isinstance(node, ast.Break):
        yield "goes on", ast.Continue()
    elif isinstance(node, ast.Continue):
        yield "breaks off", ast.Break()


def _constants(node: ast.Constant) -> Iterator[tuple[str, ast.AST]]:
    value = node.value
    if isinstance(value, bool):
        yield "truth", ast.Constant(not value)
    elif isinstance(value, int):
        yield "number", ast.Constant(value + 1)
        if value:
            yield "number", ast.Constant(value - 1)
    elif isinstance(value, float):
        yield "number", ast.Constant(value * 1.1 if value else 1.0)


def _is_none(node: ast.expr | None) -> bool:
    return node is None or (isinstance(node, ast.Constant) and node.value is None)


def _changed(node: ast.AST, **fields: object) -> ast.AST:
    new = copy.copy(node)
    for name, value in fields.items():
        setattr(new, name, value)
    return new
