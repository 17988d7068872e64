"""What messages tell the user to write exists: an option that is named is an option of some command."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import click

import gradework
from gradework.command.main import _HOMES
from gradework.command.main import gradework as root

HOUSE = Path(gradework.__file__).parent
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")


def texts(path: Path) -> Iterator[str]:
    """The texts of a source file that may reach a user: all but docstrings, or a whole page of messages."""
    if path.suffix != ".py":
        yield path.read_text(encoding="utf-8")
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.value


def known() -> set[str]:
    """Every option of every command."""
    commands: list[click.Command] = [root]
    commands += [getattr(import_module(home[0]), home[1]) for home in _HOMES.values()]
    return {name for command in commands for parameter in command.params for name in parameter.opts} | {
        "--help"
    }


def test_every_option_that_is_named_exists() -> None:
    pages = [*HOUSE.rglob("*.py"), HOUSE / "messages.toml"]
    named = {(option, path.name) for path in pages for text in texts(path) for option in OPTION.findall(text)}
    assert len(named) > 10  # the search itself works
    assert {(option, file) for option, file in named if option not in known()} == set()
