"""Options that every command has, with one name and one meaning."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from gradework.command.screen import Screen

Function = TypeVar("Function", bound=Callable[..., Any])


def common_options(function: Function) -> Function:
    """Add --json, -q, --no-color and --debug; the command receives ``screen`` instead."""

    def wrapper(*, as_json: bool, quiet: bool, no_colour: bool, debug: bool, **rest: Any) -> Any:  # noqa: ARG001
        # --debug is read where errors end up, at the very rim, so that it works whatever goes wrong
        return function(screen=Screen(quiet=quiet, colour=not no_colour, as_json=as_json), **rest)

    wrapper.__doc__ = function.__doc__
    wrapper.__name__ = function.__name__
    wrapper.__click_params__ = list(getattr(function, "__click_params__", []))  # type: ignore[attr-defined]
    decorated: Any = wrapper
    for option in (
        click.option("--debug", is_flag=True, help="Show the traceback if the program itself fails."),
        click.option("--no-color", "no_colour", is_flag=True, help="No colour, even on a terminal."),
        click.option("-q", "--quiet", is_flag=True, help="No notes; warnings and errors still show."),
        click.option(
            "--json",
            "as_json",
            is_flag=True,
            help="One JSON document on standard output, always SI: metres, kilograms.",
        ),
    ):
        decorated = option(decorated)
    return decorated  # type: ignore[no-any-return]
