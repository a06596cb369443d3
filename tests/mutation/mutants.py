"""Small changes to a module's code, one at a time: a sign, a bound, an order, a dropped line."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

COMPARES: dict[type[ast.cmpop], type[ast.cmpop]] = {
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
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
METHODS = {"sin": "tan", "cos": "sin", "tan": "sin", "atan": "sin", "floor": "ceil", "ceil": "floor"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change.

    Attributes:
        file: of the module, from the project's folder.
        line: from 1.
        start, end: where the changed text begins and ends, in characters of the file.
        was, now: the text before and after.
        inside: the function or class around it, dotted.
    """

    file: str
    line: int
    start: int
    end: int
    was: str
    now: str
    inside: str

    @property
    def name(self) -> str:
        """What tells this change from all others, and outlives edits elsewhere in the file."""
        return f"{self.file}::{self.inside}: {' '.join(self.was.split())} -> {' '.join(self.now.split())}"

    def applied(self, source: str) -> str:
        """The module's source with the change."""
        return source[: self.start] + self.now + source[self.end :]


def mutants(root: Path, file: str) -> Iterator[Mutant]:
    """Every change of a module's code that this page knows, in the order of its text."""
    source = (root / file).read_text(encoding="utf-8")
    starts = [0]
    for text in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(text))

    def place(line: int, column: int) -> int:
        text = source[starts[line - 1] : starts[line]].encode()
        return starts[line - 1] + len(text[:column].decode())

    def walk(node: ast.AST, inside: tuple[str, ...]) -> Iterator[Mutant]:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            inside = (*inside, node.name)
        for changed in _changes(node):
            assert isinstance(node, ast.expr | ast.stmt)
            assert node.end_lineno is not None and node.end_col_offset is not None
            start, end = place(node.lineno, node.col_offset), place(node.end_lineno, node.end_col_offset)
            now = ast.unparse(changed)
            yield Mutant(
                file, node.lineno, start, end, source[start:end], f"({now})" if _bare(node) else now, ".".join(inside)
            )
        for child in _children(node):
            yield from walk(child, inside)

    yield from sorted(walk(ast.parse(source), ()), key=lambda one: (one.start, one.end, one.now))


def _bare(node: ast.AST) -> bool:
    return isinstance(node, ast.expr) and not isinstance(node, ast.Constant)


def _children(node: ast.AST) -> Iterator[ast.AST]:
    """The parts of a node that run when the program does: no docstring, annotation, assert, f-string or type check."""
    match node:
        case ast.Assert() | ast.Raise() | ast.JoinedStr() | ast.Import() | ast.ImportFrom():
            return
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            return
        case ast.Expr(value=ast.Constant()):
            return
        case ast.FunctionDef() | ast.AsyncFunctionDef():
            yield from (default for default in (*node.args.defaults, *node.args.kw_defaults) if default is not None)
            yield from node.body
        case ast.ClassDef():
            yield from node.body
        case ast.AnnAssign():
            if node.value is not None:
                yield node.value
        case _:
            yield from ast.iter_child_nodes(node)


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare():
            for index, operator in enumerate(node.ops):
                if type(operator) in COMPARES:
                    ops = [*node.ops]
                    ops[index] = COMPARES[type(operator)]()
                    yield _with(node, ops=ops)
        case ast.BinOp() if type(node.op) in OPERATORS and not _text(node):
            yield _with(node, op=OPERATORS[type(node.op)]())
        case ast.BoolOp():
            yield _with(node, op=ast.And() if isinstance(node.op, ast.Or) else ast.Or())
        case ast.UnaryOp(op=ast.USub() | ast.Not()):
            yield node.operand
        case ast.Constant(value=bool(truth)):
            yield ast.Constant(not truth)
        case ast.Constant(value=int(whole)):
            yield ast.Constant(whole + 1)
        case ast.Constant(value=float(number)):
            yield ast.Constant(number * 2 if number else 1.0)
        case ast.Call(func=ast.Name(id=name)) if name in CALLED:
            yield _with(node, func=ast.Name(CALLED[name]))
        case ast.Call(func=ast.Name(id="reversed"), args=[only]):
            yield only
        case ast.Call(func=ast.Attribute(attr=name)) if name in METHODS:
            yield _with(node, func=_with(node.func, attr=METHODS[name]))
        case ast.IfExp():
            yield _with(node, test=ast.UnaryOp(ast.Not(), node.test))
        case ast.Expr(value=ast.Call() | ast.Await()) | ast.AugAssign() | ast.Delete():
            yield ast.Pass()


def _text(node: ast.BinOp) -> bool:
    """Whether it puts texts together, which nobody has to test."""
    sides = (node.left, node.right)
    return any(isinstance(side, ast.JoinedStr) for side in sides) or any(
        isinstance(side, ast.Constant) and not isinstance(side.value, int | float) for side in sides
    )


def _with(node: ast.AST, **changes: object) -> ast.AST:
    made = copy.copy(node)
    for name, value in changes.items():
        setattr(made, name, value)
    return ast.fix_missing_locations(made)
