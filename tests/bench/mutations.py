"""The small wrongs that a source file can be given: one sign, limit, rounding, number or condition at a time.

A mutation is a place in the tree of a file and what is put there. Left alone: docstrings, f-strings
(messages), annotations, what only types need, ``assert`` and ``raise``, indices, axes, names of things, and
numbers nearer to nothing than a tenth of a millimetre, which are what arithmetic may be off by.
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from typing import Any, NamedTuple

SWAPPED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
}
SHIFTED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_PAIRS = (
    ("min", "max"),
    ("minimum", "maximum"),
    ("fmin", "fmax"),
    ("nanmin", "nanmax"),
    ("argmin", "argmax"),
    ("floor", "ceil"),
    ("any", "all"),
)
NAMES = dict(_PAIRS) | {b: a for a, b in _PAIRS}
SIGNLESS = {"abs", "fabs"}
LEFT_ALONE = {
    "axis",
    "maxsize",
    "stacklevel",
    "strict",
    "frozen",
    "slots",
    "ndmin",
    "dtype",
    "keepdims",
    "copy",
}
LEAST = 1e-4

Path = tuple[tuple[str, int | None], ...]


class Mutation(NamedTuple):
    """One wrong: in which function (``Class.method``, "" outside all), on which lines, what it changes."""

    function: str
    change: str
    line: int
    lines: tuple[int, ...]  # any of these runs it
    statement: int  # first line of the statement
    path: Path
    put: ast.AST


def mutations(source: str) -> list[Mutation]:
    """Every mutation of a file, in its order; those of the same function and words are numbered."""
    seen: Counter[tuple[str, str]] = Counter()
    found = []
    for one in _within(ast.parse(source), (), _Where("", 0, "")):
        seen[one.function, one.change] += 1
        count = seen[one.function, one.change]
        found.append(one if count == 1 else one._replace(change=f"{one.change} #{count}"))
    return found


def mutated(source: str, mutation: Mutation) -> ast.Module:
    """The tree of a file with one mutation in it."""
    tree = ast.parse(source)
    *way, last = mutation.path
    at: Any = tree
    for step in way:
        at = _child(at, step)
    field, index = last
    if index is None:
        setattr(at, field, mutation.put)
    else:
        getattr(at, field)[index] = mutation.put
    return ast.fix_missing_locations(tree)


class _Where(NamedTuple):
    function: str
    statement: int
    around: str  # the words of the expression around


def _child(node: Any, step: tuple[str, int | None]) -> Any:
    return getattr(node, step[0]) if step[1] is None else getattr(node, step[0])[step[1]]


def _within(node: ast.AST, path: Path, where: _Where) -> Iterator[Mutation]:
    if _is_left_alone(node):
        return
    if isinstance(node, ast.stmt):
        where = where._replace(statement=node.lineno, around="")
    if isinstance(node, ast.If | ast.While):
        yield _negated(node, path, where)
    if isinstance(node, ast.expr):
        lines = tuple(range(node.lineno, (node.end_lineno or node.lineno) + 1))
        words = ast.unparse(node)
        short = isinstance(node, ast.Constant | ast.UnaryOp | ast.Name)
        for put in _others(node):
            new = ast.unparse(put)
            around = where.around if short and where.around else ""
            change = f"{words} -> {new}" + (f" in {_cut(around)}" if around else "")
            yield Mutation(where.function, _one_line(change), node.lineno, lines, where.statement, path, put)
        where = where._replace(around=words)
    for field, value in ast.iter_fields(node):
        if field in _unread(node):
            continue
        inner = _inside(node, field, where)
        if isinstance(value, ast.AST):
            yield from _within(value, (*path, (field, None)), inner)
        elif isinstance(value, list):
            for index, part in enumerate(value):
                if isinstance(part, ast.AST):
                    yield from _within(part, (*path, (field, index)), inner)


def _negated(node: ast.If | ast.While, path: Path, where: _Where) -> Mutation:
    """The other branch: the condition the other way round."""
    test = node.test
    put = ast.UnaryOp(ast.Not(), test)
    lines = tuple(range(test.lineno, (test.end_lineno or test.lineno) + 1))
    change = _one_line(f"if {_cut(ast.unparse(test))} -> if {_cut(ast.unparse(put))}")
    return Mutation(where.function, change, test.lineno, lines, node.lineno, (*path, ("test", None)), put)


def _inside(node: ast.AST, field: str, where: _Where) -> _Where:
    """The function that the parts of a node stand in: its body only, since heads are run where they stand."""
    if isinstance(node, ast.ClassDef) or (
        isinstance(node, ast.FunctionDef) and field == "body" and not _in_function(where.function)
    ):
        name = f"{where.function.strip('.')}.{node.name}".strip(".")
        return where._replace(function=name if isinstance(node, ast.FunctionDef) else f"{name}.")
    return where


def _in_function(name: str) -> bool:
    return name != "" and not name.endswith(".")


def _is_left_alone(node: ast.AST) -> bool:
    if isinstance(node, _ALONE):
        return True
    if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
        return True
    if isinstance(node, ast.keyword):
        return node.arg in LEFT_ALONE
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


_ALONE = (ast.JoinedStr, ast.Assert, ast.Raise, ast.Import, ast.ImportFrom)


def _unread(node: ast.AST) -> set[str]:
    """Fields of a node that hold types, or what only tells which part of a thing is meant."""
    if isinstance(node, ast.FunctionDef):
        return {"decorator_list", "returns"}
    if isinstance(node, ast.ClassDef):
        return {"decorator_list", "bases", "keywords"}
    if isinstance(node, ast.arg | ast.AnnAssign):
        return {"annotation"}
    if isinstance(node, ast.Subscript):
        return {"slice"} if _is_plain(node.slice) else set()
    return set()


def _is_plain(index: ast.expr) -> bool:
    return not any(isinstance(part, ast.BinOp | ast.Compare | ast.Call) for part in ast.walk(index))


def _others(node: ast.expr) -> Iterator[ast.expr]:
    """What may stand in place of an expression."""
    if isinstance(node, ast.BinOp) and type(node.op) in SWAPPED and not _joins(node):
        yield ast.BinOp(node.left, SWAPPED[type(node.op)](), node.right)
    elif isinstance(node, ast.Compare):
        for index, op in enumerate(node.ops):
            for other in SHIFTED[type(op)]:
                yield ast.Compare(
                    node.left, [*node.ops[:index], other(), *node.ops[index + 1 :]], node.comparators
                )
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.And() if isinstance(node.op, ast.Or) else ast.Or(), node.values)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not | ast.Invert):
        yield node.operand
    elif isinstance(node, ast.IfExp):
        yield node.body
        yield node.orelse
    elif isinstance(node, ast.Constant):
        yield from _numbers(node.value)
    elif isinstance(node, ast.Call):
        yield from _calls(node)


def _joins(node: ast.BinOp) -> bool:
    """Whether + joins texts or lists, where minus could only crash."""
    texts = (ast.JoinedStr, ast.List, ast.Tuple, ast.ListComp)
    return any(
        isinstance(side, texts) or (isinstance(side, ast.Constant) and isinstance(side.value, str))
        for side in (node.left, node.right)
    )


def _numbers(value: object) -> Iterator[ast.expr]:
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int):
        yield ast.Constant(value + 1)
    elif isinstance(value, float) and (value == 0 or abs(value) >= LEAST):
        yield ast.Constant(value * 1.1 if value else 1.0)


def _calls(node: ast.Call) -> Iterator[ast.expr]:
    called = node.func
    if isinstance(called, ast.Name):
        if called.id in NAMES:
            yield ast.Call(ast.Name(NAMES[called.id], ast.Load()), node.args, node.keywords)
        if called.id in SIGNLESS and len(node.args) == 1:
            yield node.args[0]
    elif isinstance(called, ast.Attribute):
        if called.attr in NAMES:
            other = ast.Attribute(called.value, NAMES[called.attr], ast.Load())
            yield ast.Call(other, node.args, node.keywords)
        if called.attr in SIGNLESS and len(node.args) == 1:
            yield node.args[0]


def _one_line(words: str) -> str:
    return " ".join(words.split())


def _cut(words: str, most: int = 70) -> str:
    words = _one_line(words)
    return words if len(words) <= most else words[: most - 3] + "..."
