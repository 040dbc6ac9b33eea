"""The small changes that the text of a module admits: operators, numbers, names."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
COMPARISONS: dict[type[ast.cmpop], tuple[str, ...]] = {
    ast.Lt: ("<=", ">"), ast.LtE: ("<", ">"), ast.Gt: (">=", "<"), ast.GtE: (">", "<"),
    ast.Eq: ("!=",), ast.NotEq: ("==",), ast.Is: ("is not",), ast.IsNot: ("is",),
    ast.In: ("not in",), ast.NotIn: ("in",),
}  # fmt: skip
OPERATORS: dict[type[ast.operator], str] = {
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.FloorDiv: "/", ast.Mod: "*",
    ast.Pow: "*", ast.BitAnd: "|", ast.BitOr: "&",
}  # fmt: skip
NAMES = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "nanmin": "nanmax",
    "nanmax": "nanmin", "argmin": "argmax", "argmax": "argmin", "sin": "cos", "cos": "sin",
    "floor": "ceil", "ceil": "floor", "any": "all", "all": "any", "sum": "mean", "mean": "sum",
    "isfinite": "isnan", "isnan": "isfinite", "cumsum": "cumprod", "nanmedian": "nanmin",
}  # fmt: skip


@dataclass(frozen=True)
class Change:
    """A span of a file's bytes, and what replaces it."""

    path: str
    start: int
    end: int
    line: int
    new: str
    kind: str  # where: "import" (it runs once), "function", "compiled"

    def made(self, before: bytes) -> bytes:
        """The text of the file with the change."""
        return before[: self.start] + self.new.encode() + before[self.end :]


class Module:
    """The changes that one file admits."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.bytes = path.read_bytes()
        self.begins = [0]
        for line in self.bytes.splitlines(keepends=True):
            self.begins.append(self.begins[-1] + len(line))

    def changes(self) -> Iterator[Change]:
        """Every change, in the order of the text."""
        yield from self._below(ast.parse(self.bytes), kind="import")

    def _below(self, node: ast.AST, *, kind: str) -> Iterator[Change]:
        parts = list(ast.iter_child_nodes(node))
        if isinstance(node, ast.Raise | ast.Import | ast.ImportFrom):
            return
        if isinstance(node, ast.AnnAssign):
            parts = [node.value] if node.value else []
        if isinstance(node, ast.FunctionDef):
            decorators = {d.id for d in node.decorator_list if isinstance(d, ast.Name)}
            for part in [*node.args.defaults, *filter(None, node.args.kw_defaults)]:
                yield from self._below(part, kind=kind)
            if kind != "compiled":
                kind = "function" if decorators.isdisjoint({"compiled", "inlined"}) else "compiled"
            parts = [*node.body]
        for start, end, new in self._of(node):
            line = getattr(node, "lineno", 1)
            yield Change(str(self.path.relative_to(ROOT)), start, end, line, new, kind)
        for part in parts:
            yield from self._below(part, kind=kind)

    def _of(self, node: ast.AST) -> Iterator[tuple[int, int, str]]:
        if isinstance(node, ast.Compare):
            operands = [node.left, *node.comparators]
            for operator, left, right in zip(node.ops, operands, node.comparators, strict=False):
                for new in COMPARISONS[type(operator)]:
                    yield *self._between(left, right), new
        elif isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
            if not isinstance(getattr(node.left, "value", None), str):
                yield *self._between(node.left, node.right), OPERATORS[type(node.op)]
        elif isinstance(node, ast.AugAssign) and type(node.op) in OPERATORS:
            yield *self._between(node.target, node.value), OPERATORS[type(node.op)] + "="
        elif isinstance(node, ast.BoolOp):
            new = "or" if isinstance(node.op, ast.And) else "and"
            yield *self._between(*node.values[:2]), new
        elif isinstance(node, ast.UnaryOp):
            start = self._start(node)
            yield start, start + (3 if isinstance(node.op, ast.Not) else 1), ""
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float):
            yield self._start(node), self._end(node), _other(node.value)
        elif isinstance(node, ast.Attribute | ast.Name) and isinstance(node.ctx, ast.Load):
            word = node.attr if isinstance(node, ast.Attribute) else node.id
            if word in NAMES:
                yield self._end(node) - len(word), self._end(node), NAMES[word]

    def _start(self, node: ast.expr) -> int:
        return self.begins[node.lineno - 1] + node.col_offset

    def _end(self, node: ast.expr) -> int:
        assert node.end_lineno is not None and node.end_col_offset is not None
        return self.begins[node.end_lineno - 1] + node.end_col_offset

    def _between(self, left: ast.expr, right: ast.expr) -> tuple[int, int]:
        """The operator between two operands, without blanks and brackets."""
        first = self._end(left)
        match = re.search(rb"(is not|not in|[^\s()\\]+)", self.bytes[first : self._start(right)])
        assert match is not None
        return first + match.start(), first + match.end()


def _other(value: bool | float) -> str:
    if isinstance(value, bool):
        return str(not value)
    return str(value + 1) if isinstance(value, int) else repr(value * 1.5 or 1.0)
