"""Options that every command has, with one name and one meaning."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import click

from gradework.command.main import EVERYWHERE
from gradework.command.screen import Screen, columns
from gradework.errors import LONGEST_PATH, Fault, Finding, InputError, visible
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.workbook.door import notes_in
from gradework.files.read import read_bytes, read_standard_input
from gradework.units.amounts import parse_angle
from gradework.units.display import counted
from gradework.units.lengths import Unit, parse_length
from gradework.units.numbers import LengthError, QuantityError
from gradework.units.sizes import is_bare, split_size

Function = TypeVar("Function", bound=Callable[..., Any])

# Names of files and folders on the command line: an empty one is a usage error, not the folder one stands in.


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


# What stands behind an option, read: lengths, angles, a grid, a name with its value; else a usage error.


@contextmanager
def pointing_at_options(
    options_of: Callable[[Sequence[Fault]], Mapping[str, str]] = lambda _: {},
) -> Iterator[None]:
    """Let the faults raised inside that name no file name the option they are about.

    It is the one called like the key of a job that the fault is about, else what ``options_of`` gives for its
    code, else none.
    """
    try:
        yield
    except InputError as problem:
        placeless = [fault for fault in problem.faults if not fault.file]
        options = options_of(placeless)
        located = [
            fault
            if fault.file
            else replace(fault, file=f"--{fault.about[0]}" if fault.about else options.get(fault.code, ""))
            for fault in problem.faults
        ]
        raise InputError(located, problem.findings) from None


def named_value(text: str, option: str) -> tuple[str, str]:
    """Take NAME=VALUE apart at its last equals sign; the name may hold spaces."""
    name, equals, value = text.rpartition("=")
    if not equals or not name.strip():
        raise click.BadParameter(f"{text!r} has no name and value with = between them", param_hint=option)
    return name.strip(), value


def lengths(text: str, option: str, unit: Unit | None, counts: Sequence[int]) -> list[float]:
    """Read lengths with commas between them: bare numbers in ``unit``, or each with its own."""
    parts = text.split(",")
    if len(parts) not in counts:
        wanted = " or ".join(str(count) for count in counts)
        raise click.BadParameter(
            f"{text!r} has {counted(len(parts), 'values')} where {wanted} should be", param_hint=option
        )
    try:
        return [parse_length(part, unit) for part in parts]
    except LengthError as problem:
        raise click.BadParameter(str(problem), param_hint=option) from None


def size(text: str, option: str, unit: Unit | None) -> tuple[float, float]:
    """Read the sides of a rectangle [m]: 16,12 or 16x12, each with its own unit or both with one."""
    parts = split_size(text)
    if parts is None:
        raise click.BadParameter(
            f"{text!r} is not two sides: along and across, such as 16,12 or 16x12", param_hint=option
        )
    # no building is 16 1/2 in wide, so a fraction is of the unit itself, as in a job
    named = (f"{part} {unit or ''}".strip() if is_bare(part) else part for part in parts)
    along, across = (lengths(part, option, unit, (1,))[0] for part in named)
    return along, across


def length(text: str | None, option: str, unit: Unit | None) -> float | None:
    """Read one length; None where the option was not given."""
    return None if text is None else lengths(text, option, unit, (1,))[0]


def angle(text: str, option: str) -> float:
    """Read an angle [degrees]."""
    try:
        return parse_angle(text)
    except QuantityError as problem:
        raise click.BadParameter(str(problem), param_hint=option) from None


def grid_of(text: str | None, unit: Unit | None, corner: str | None = None) -> LetteredGrid | None:
    """Read the value of --grid, and of --grid-corner: where its A1 stands, and its turn."""
    if text is None:
        if corner is not None:
            raise click.UsageError("Give --grid, the spacing, with --grid-corner.")
        return None
    spacing = lengths(text, "--grid", unit, (1, 2))
    if min(spacing) <= 0:
        raise click.BadParameter("a spacing is a length above zero", param_hint="--grid")
    if corner is None:
        return LetteredGrid(spacing=(spacing[0], spacing[-1]))
    x, y, *turn = corner.split(",") if corner.count(",") in (1, 2) else ("", "")
    at = lengths(f"{x},{y}", "--grid-corner", unit, (2,))
    return LetteredGrid(
        (spacing[0], spacing[-1]), (at[0], at[1]), angle(turn[0], "--grid-corner") if turn else 0.0
    )


# The bytes of a file named on the command line, which may be standard input.


def read_input(
    path: str, sheet: str | None = None, key: str = "sheet", *, shown: str | None = None
) -> tuple[bytes, str]:
    """Read a table from a file, or from standard input for ``-``; return its text and the name for messages.

    Of a workbook it is the text of a sheet; ``sheet`` names it, given as the option or key ``key``.
    ``shown``: what messages call the file, if not by its path.
    """
    if path == "-":
        return notes_in(read_standard_input(), "standard input", sheet, key=key)
    return notes_in(read_bytes(path), path if shown is None else shown, sheet, key=key)


# The options themselves.


def show_option(function: Function) -> Function:
    """Add --show."""
    return click.option(
        "--show",
        type=click.Choice(("inches", "tenths", "m", "mm")),
        help="How lengths are said: feet and inches, decimals of feet, metres, millimetres [default: as the "
        "notes were written].",
    )(function)


def paper_option(function: Function) -> Function:
    """Add --paper."""
    return click.option(
        "--paper",
        type=click.Choice(("a4", "letter")),
        help="The paper to print on [default: letter with feet and inches, a4 with metres].",
    )(function)


def end_with(findings: Iterable[Finding]) -> None:
    """Leave with status 1 where a finding stops it: the answer is no."""
    if any(finding.severity == "stop" for finding in findings):
        click.get_current_context().exit(1)


def force_option(function: Function) -> Function:
    """Add ``--force`` to a command that writes a folder of results."""
    return click.option("-f", "--force", is_flag=True, help="Replace files that this program did not make.")(
        function
    )


def common_options(function: Function) -> Function:
    """Add --json, -q, --no-color and --debug; the command receives ``screen`` instead."""

    def wrapper(*, as_json: bool, quiet: bool, no_colour: bool, debug: bool, **rest: Any) -> Any:  # noqa: ARG001
        # --debug is read where errors end up, at the very rim, so that it works whatever goes wrong
        with nullcontext() if as_json else _as_wide_as_the_terminal():
            return function(screen=Screen(quiet=quiet, colour=not no_colour, as_json=as_json), **rest)

    wrapper.__doc__ = function.__doc__
    wrapper.__name__ = function.__name__
    wrapper.__click_params__ = list(getattr(function, "__click_params__", []))  # type: ignore[attr-defined]
    decorated: Any = wrapper
    for option in (
        click.option("--debug", is_flag=True, help="Show the traceback of an internal error."),
        click.option("--no-color", "no_colour", is_flag=True, help="No colour, even on a terminal."),
        click.option("-q", "--quiet", is_flag=True, help="Only the answer, what stops it, and errors."),
        click.option(
            "--json",
            "as_json",
            is_flag=True,
            help="One JSON document on standard output, always SI: metres, kilograms.",
        ),
    ):
        decorated = in_group(EVERYWHERE, option(decorated))
    return decorated  # type: ignore[no-any-return]


def _as_wide_as_the_terminal() -> AbstractContextManager[None]:
    from gradework.report.text import as_wide_as  # a run that ends in JSON needs no words

    return as_wide_as(columns())


def in_group(title: str, decorated: Any) -> Any:
    """Let the help show the option that was added last under a title."""
    decorated.__click_params__[-1].group = title
    return decorated
