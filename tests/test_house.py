"""The house stays readable: whole files, short bodies, few hidden imports, nothing for tests only."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import gradework

ROOT = Path(__file__).parents[1]
HOUSE = ROOT / "gradework"
FILES = sorted(HOUSE.rglob("*.py"))
TREES = {file: ast.parse(file.read_text("utf-8")) for file in FILES}
NAMES = {
    ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): file for file in FILES
}

ROOMS = sorted(folder.name for folder in HOUSE.iterdir() if (folder / "__init__.py").exists())

LONGEST_FILE, SHORTEST_FILE, LONGEST_BODY = 450, 40, 55
MOST_HIDDEN, LONGEST_CHAIN = 38, 20

ABOVE = ("command/", "library/")
"""A command or the front door loads late what only some runs need: what draws, what tells a bad end."""

LIGHT = {
    "fieldnotes/workbook/door.py": "text loads no zip and no XML",
    "project/airborne.py": "only a file of airborne ground loads the projections",
    "earthwork/clip.py": "an outline well inside the survey needs no polygon library",
    "project/stations/notes.py": "plain spots load no way of levelling",
    "project/stations/placing.py": "only coordinates of a system load the projections",
}
"""Rooms that load another room late all the same, and why."""

OFFERED = {
    "BASE_PAD": "a pad to list under [[piers.units]]; no default list holds it",
    "BOUNDS": "every bound of a job in one table, which docs/job-file.md must list",
}
"""Names that no other source uses, and why they are there."""


@pytest.mark.parametrize("file", FILES, ids=lambda f: str(f.relative_to(HOUSE)))
def test_a_file_can_be_read_in_one_sitting(file: Path) -> None:
    lines = len(file.read_text("utf-8").splitlines())
    assert lines <= LONGEST_FILE
    assert lines >= SHORTEST_FILE or file.name in ("__init__.py", "__main__.py")
    for node in ast.walk(TREES[file]):
        if isinstance(node, ast.FunctionDef) and node.body:
            has_doc = ast.get_docstring(node) is not None
            body = node.body[1:] if has_doc else node.body
            if body:
                assert (body[-1].end_lineno or 0) - body[0].lineno < LONGEST_BODY, f"{node.name} in {file}"


def hidden(tree: ast.Module) -> Iterator[ast.Import | ast.ImportFrom]:
    """Every import inside a function, once."""
    seen = set()
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
            for node in ast.walk(function):
                if isinstance(node, ast.Import | ast.ImportFrom) and id(node) not in seen:
                    seen.add(id(node))
                    yield node


def modules_of(node: ast.Import | ast.ImportFrom) -> list[str]:
    """The modules that an import statement names."""
    return [node.module or ""] if isinstance(node, ast.ImportFrom) else [name.name for name in node.names]


def test_imports_inside_functions_are_few_and_of_libraries() -> None:
    places = {file.relative_to(HOUSE).as_posix(): list(hidden(tree)) for file, tree in TREES.items()}
    rooms = {file: nodes for file, nodes in places.items() if not file.startswith(ABOVE)}
    ours = {
        file
        for file, nodes in rooms.items()
        for node in nodes
        if any(name.partition(".")[0] == "gradework" for name in modules_of(node))
    }
    assert ours == set(LIGHT)
    assert sum(map(len, places.values())) <= MOST_HIDDEN


def test_no_chain_of_imports_is_long() -> None:
    """From the highest file to the errors, imports for types aside; what functions import counts as well."""
    sys.setrecursionlimit(10_000)
    arrows = {name: set(imported(TREES[file])) & NAMES.keys() - {name} for name, file in NAMES.items()}

    @cache
    def chain(name: str) -> tuple[str, ...]:
        return (name, *max((chain(below) for below in arrows[name]), key=len, default=()))

    longest = max((chain(name) for name in NAMES), key=len)
    assert len(longest) <= LONGEST_CHAIN, " > ".join(longest)


def imported(tree: ast.Module) -> Iterator[str]:
    """The modules that a file loads, at its top or in a function; not those that only types need."""
    for_types = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and id(node) not in for_types and node.module:
            for name in node.names:
                whole = f"{node.module}.{name.name}"
                yield whole if whole in NAMES else node.module


def test_nothing_is_there_for_tests_only() -> None:
    """Each name at the top of a file is used by the source, or offered at the front door."""
    used = {
        node.id if isinstance(node, ast.Name) else node.attr
        for tree in TREES.values()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) or (isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load))
    }
    commands = {path.stem for path in (HOUSE / "command").glob("*.py")}  # named by the table of commands
    idle = [
        (file.relative_to(HOUSE).as_posix(), name)
        for file, tree in TREES.items()
        for name in top_names(tree)
        if name not in used | commands | set(gradework.__all__) | OFFERED.keys() and not name.startswith("__")
    ]
    assert idle == []


FIELDS = {"foundations.chosen"}
"""Attributes of a plan that are called as a room is."""

NAMED = re.compile(r"`{1,2}((?:" + "|".join(ROOMS) + r")(?:[./]\w+)+(?:\.py)?)`{1,2}")


@pytest.mark.parametrize("page", [*FILES, ROOT / "DEVELOPERS.md"], ids=lambda f: f.name)
def test_what_words_point_at_is_there(page: Path) -> None:
    """Files, modules and names in them that docstrings, comments or DEVELOPERS.md name in backticks."""
    wrong = [name for name in NAMED.findall(page.read_text("utf-8")) if not is_there(name)]
    assert wrong == []


def is_there(name: str) -> bool:
    """Whether ``survey.levelling.reduce.reduce_levels`` or ``ground/cocircular.py`` stands in the house."""
    if "/" in name or name.endswith(".py"):
        return (HOUSE / name).exists() or (HOUSE / f"{name}.py").exists()
    module, last = f"gradework.{name}", ""
    if name.split(".")[1] not in {path.stem for path in (HOUSE / name.split(".", maxsplit=1)[0]).iterdir()}:
        return name in FIELDS  # not a file of that room: an attribute that is called as the room is
    while module not in NAMES and "." in module:
        module, _, last = module.rpartition(".")
    return module in NAMES and (
        not last or module == "gradework" or last in set(top_names(TREES[NAMES[module]]))
    )


def top_names(tree: ast.Module) -> Iterator[str]:
    """What a file defines: functions, classes, constants."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.Assign):
            yield from (target.id for target in node.targets if isinstance(target, ast.Name))
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            yield node.target.id
