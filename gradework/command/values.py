"""What stands behind an option, read: lengths, angles, a grid, a name with its value; else a usage error."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

import click

from gradework.errors import Fault, InputError

if TYPE_CHECKING:
    from gradework.fieldnotes import LetteredGrid
    from gradework.units import Unit


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
    from gradework.units import LengthError, counted, parse_length

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


def angle(text: str, option: str) -> float:
    """Read an angle [degrees]."""
    from gradework.units import QuantityError, parse_angle

    try:
        return parse_angle(text)
    except QuantityError as problem:
        raise click.BadParameter(str(problem), param_hint=option) from None


def grid_of(text: str | None, unit: Unit | None, corner: str | None = None) -> LetteredGrid | None:
    """Read the value of --grid, and of --grid-corner: where its A1 stands, and its turn."""
    from gradework.fieldnotes import LetteredGrid

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
