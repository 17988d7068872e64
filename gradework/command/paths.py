"""Names of files and folders on the command line: an empty one is wrong use, not the folder one stands in."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import click

from gradework.errors import LONGEST_PATH, visible


class InputName(click.Path):
    """The name of a file to read, as text (``-`` may mean standard input) or as a path."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Refuse a name without a letter."""
        if not os.fspath(value).strip():
            self.fail("an empty name; give the name of a file.", param, ctx)
        return super().convert(value, param, ctx)


class OutputName(click.Path):
    """A folder or a file to write; ``.`` is the folder that the user stands in."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Refuse a name without a letter, or with a line break or another character that does not print."""
        text = os.fspath(value)
        if not text.strip():
            self.fail("an empty name; '.' is the folder you stand in.", param, ctx)
        # letters of a name that is not UTF-8 come in as surrogates, which do not print but may well be meant
        if any(not letter.isprintable() and not "\ud800" <= letter <= "\udfff" for letter in text):
            self.fail(f"{visible(text, 100)!r} holds a letter that cannot be printed.", param, ctx)
        return super().convert(value, param, ctx)


def shown_path(path: str | os.PathLike[str]) -> str:
    """A path as it is safe to print: whole, on one line, control characters as escapes."""
    return visible(os.fspath(path), LONGEST_PATH)


def refuse_folder(path: Path | None, option: str) -> None:
    """Raise a usage error where the file to write is a folder."""
    if path is not None and (path.name in ("", "..") or path.is_dir()):
        raise click.BadParameter(
            f"{shown_path(path)} is a folder; give the name of a file in it", param_hint=option
        )
