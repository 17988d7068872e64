"""Every code in the source is explained, every explanation is used, and the page is made from them."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from gradework.command.explain import messages_page

ROOT = Path(__file__).parents[1]
MESSAGES: dict[str, dict[str, str]] = tomllib.loads((ROOT / "gradework" / "messages.toml").read_text("utf-8"))
SOURCES = sorted((ROOT / "gradework").rglob("*.py"))
CODE = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")
MAKERS = {"Fault", "Finding", "add", "stop", "Clash", "refuse", "_add"}
UNITS = {"m", "m2", "m3", "-", "deg", "kg", "kPa", "kN"}


def strings(node: ast.AST) -> Iterator[str]:
    """Every text constant inside a node that looks like a code."""
    for inner in ast.walk(node):
        if isinstance(inner, ast.Constant) and isinstance(inner.value, str) and CODE.fullmatch(inner.value):
            yield inner.value


def chosen(node: ast.expr | None) -> Iterator[str]:
    """The constants an argument can be: itself, or either branch of a choice."""
    if isinstance(node, ast.IfExp):
        yield from chosen(node.body)
        yield from chosen(node.orelse)
    elif isinstance(node, ast.Constant):
        yield from strings(node)


def codes_made(tree: ast.AST) -> Iterator[str]:
    """The codes handed to a maker of faults or findings as ``code`` or in the place where makers take it."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in MAKERS and len(node.args) + len(node.keywords) >= 4:  # not the add of a set
            place = 2 if name == "_add" else 1 if name == "Clash" else 0
            yield from chosen(node.args[place] if place < len(node.args) else None)
        for keyword in node.keywords:
            if keyword.arg == "code":
                yield from chosen(keyword.value)


TREES = {path: ast.parse(path.read_text("utf-8")) for path in SOURCES}


def test_every_code_that_is_made_is_explained() -> None:
    made = {code: path.name for path, tree in TREES.items() for code in codes_made(tree)}
    assert len(made) > 10  # the search itself works
    assert {code: file for code, file in made.items() if code not in MESSAGES} == {}


def test_every_explanation_is_used() -> None:
    used = {text for tree in TREES.values() for text in strings(tree)}
    assert [code for code in MESSAGES if code not in used] == []


@pytest.mark.parametrize("code", MESSAGES)
def test_each_explanation_is_whole(code: str) -> None:
    entry = MESSAGES[code]
    assert CODE.fullmatch(code)
    assert set(entry) - {"unit"} == {"kind", "title", "why", "mend"}
    assert entry["kind"] in ("fault", "finding")
    assert not entry["title"].endswith(".")
    assert "\n" not in entry["title"]
    assert len(entry["title"]) <= 90
    assert entry["why"].rstrip().endswith((".", "?", ")"))
    assert entry["mend"].rstrip().endswith((".", "?", ")"))
    if "unit" in entry:
        assert entry["kind"] == "finding"
        assert entry["unit"] in UNITS


def test_the_page_is_made_from_the_list() -> None:
    """Renew it with: python -m gradework explain --page > docs/messages.md."""
    assert (ROOT / "docs" / "messages.md").read_text("utf-8") == messages_page(MESSAGES)
