"""The manner of every command: loaded when it runs, helped at every level, never run by a guess."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Mapping
from typing import Any

import click

HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 80}


class _Context(click.Context):
    """Finds the width of the help itself: click asks shutil, which loads every kind of compression."""

    def make_formatter(self) -> click.HelpFormatter:
        """Write help as wide as the terminal, 50 to 78 letters in a line."""
        return click.HelpFormatter(width=max(min(_columns(), self.max_content_width or 80) - 2, 50))


def _columns() -> int:
    """The width of the terminal: COLUMNS if it is set, 80 where there is no terminal."""
    said = os.environ.get("COLUMNS", "")
    if said.isdecimal() and int(said) > 0:
        return int(said)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or 80  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):
        return 80


class _HelpFirst(click.Command):
    """``-h`` and ``--help`` answer even when other arguments are wrong."""

    context_class = _Context

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        given = args[: args.index("--")] if "--" in args else list(args)
        try:
            return super().parse_args(ctx, args)
        except click.UsageError:
            if "-h" in given or "--help" in given:
                click.echo(self.get_help(ctx), color=ctx.color)
                ctx.exit()
            raise

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the help with its examples as they stand, not flowed into a paragraph."""
        super().format_help(ctx, formatter)


class LeafCommand(_HelpFirst):
    """One command; ``examples`` lead its help."""

    def __init__(self, *args: Any, examples: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("context_settings", HELP)
        super().__init__(*args, **kwargs)
        self.examples = examples

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Put the examples first, then the text."""
        write_examples(formatter, self.examples)
        super().format_help_text(ctx, formatter)


class LazyGroup(_HelpFirst, click.Group):
    """A group that knows its commands by name and one line, and imports the module of the one that runs.

    ``homes`` maps a name to ``(module, attribute, one line of help)``.
    """

    def __init__(
        self, *args: Any, homes: Mapping[str, tuple[str, str, str]], examples: str = "", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.homes = homes
        self.examples = examples

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - the signature is click's
        """Name the commands in the order of work."""
        return list(self.homes)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import the command of that name, or give None."""
        if cmd_name not in self.homes:
            return None
        module, attribute, _ = self.homes[cmd_name]
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; an unknown name is answered with the nearest known one."""
        name = args[0]
        command = self.get_command(ctx, name)
        if command is not None:
            return name, command, args[1:]
        import difflib  # only to guess what was meant

        near = difflib.get_close_matches(name.lower(), self.homes, n=1, cutoff=0.5)
        guess = f" Did you mean {near[0]!r}?" if near else ""
        raise click.UsageError(f"No such command {name!r}.{guess}", ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands without importing them."""
        with formatter.section("Commands, in the order of work"):
            formatter.write_dl([(name, line) for name, (_, _, line) in self.homes.items()])

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Put the examples first, then the text."""
        write_examples(formatter, self.examples)
        super().format_help_text(ctx, formatter)


def write_examples(formatter: click.HelpFormatter, examples: str) -> None:
    """Write example lines as they stand."""
    if examples:
        with formatter.section("Examples"):
            for line in examples.strip().splitlines():
                formatter.write(f"{'':>{formatter.current_indent}}{line.strip()}\n")
