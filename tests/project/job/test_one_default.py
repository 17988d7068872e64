"""A default stands in one place: in what is asked of a thing, not in the table of the job as well."""

from __future__ import annotations

import ast
from dataclasses import MISSING, fields, is_dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

import gradework
from gradework.project.job.values import Table

HOUSE = Path(gradework.__file__).parent

ALIKE = {("BuildingTable", "LetteredGrid"): "both have a turn, and neither is made of the other"}


def tables() -> list[type[Table]]:
    """Every table of a job, those of tables included."""
    for file in (HOUSE / "project" / "job").glob("*.py"):
        import_module(f"gradework.project.job.{file.stem}")
    found, waiting = [], [Table]
    while waiting:
        found.append(waiting.pop())
        waiting += found[-1].__subclasses__()
    return sorted(found, key=lambda table: table.__name__)


def specs() -> dict[str, type[Any]]:
    """The dataclasses that a table hands its values to by name: ``table.given(Spec)``."""
    found = {}
    for file in (HOUSE / "project").rglob("*.py"):
        module = import_module(".".join(("gradework", *file.relative_to(HOUSE).with_suffix("").parts)))
        for call in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(call, ast.Call) and ast.unparse(call.func).endswith(".given"):
                for one in call.args:
                    if isinstance(one, ast.Name) and is_dataclass(spec := getattr(module, one.id, None)):
                        found[one.id] = spec
    return found


def test_values_are_handed_over_by_name() -> None:
    assert {"PadSpec", "PierSpec", "SlabSpec", "Supplier", "ReadingsForm", "LetteredGrid"} <= specs().keys()


@pytest.mark.parametrize("table", tables(), ids=lambda table: table.__name__)
def test_no_default_stands_in_two_places(table: type[Table]) -> None:
    twice = [
        (spec.__name__, one.name)
        for spec in specs().values()
        for one in fields(spec)
        if one.name in table.model_fields
        and one.default not in (MISSING, None)
        and table.model_fields[one.name].default == one.default
        and (table.__name__, spec.__name__) not in ALIKE
    ]
    assert twice == []
