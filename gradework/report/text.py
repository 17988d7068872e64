"""Lines and tables for the terminal: its width, hanging indents, a figure never parted from its unit."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gradework.units.display import Display

WIDTH, NARROWEST, WIDEST = 80, 60, 100
"""Letters in a line: where nothing says how many there are, and between which it follows the terminal."""

_columns: ContextVar[int] = ContextVar(
    "columns", default=WIDTH
)  # asked for at every line: not handed through


def columns() -> int:
    """Letters in a line, as it is now."""
    return _columns.get()


@contextmanager
def as_wide_as(terminal: int) -> Iterator[None]:
    """Make lines as wide as a terminal, within what can be read.

    >>> with as_wide_as(220):
    ...     columns()
    100
    """
    before = _columns.set(min(max(terminal, NARROWEST), WIDEST))
    try:
        yield
    finally:
        _columns.reset(before)


_KEPT = "\N{NO-BREAK SPACE}"
# between the parts of one figure: 4 1/2, 16' 0", 12.9 yd³, 8.0 tons
_UNITS = "ft|in|m|mm|cm|yd³|m³|m²|sq|tons?|tonnes?|lb|kg|%"
_INSIDE_A_FIGURE = re.compile(
    rf"(?<=\d) (?=\d+/\d)|(?<=\d') (?=\d)|(?<=\d) (?=(?:{_UNITS})(?!\w))|(?<=sq) (?=ft\b)"
)


def filled(text: str, *, first: str = "", rest: str = "", width: int | None = None) -> list[str]:
    """Break a text into lines with an indent for the first and one for the others.

    Without ``width`` two letters are left for the indent of a section.

    >>> filled("thick 4 1/2 in", width=12)
    ['thick', '4 1/2 in']
    """
    lines = textwrap.wrap(
        _INSIDE_A_FIGURE.sub(_KEPT, text),
        columns() - 2 if width is None else width,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_KEPT, " ") for line in lines]


def bulleted(text: str) -> list[str]:
    """Break a text into lines behind a dash.

    >>> bulleted("one")
    ['- one']
    """
    return filled(text, first="- ", rest="  ")


def named(name: str, text: str, *, width: int = 13) -> list[str]:
    """Put a name before a text and hang the lines that follow under the text.

    >>> named("Fall", "1.8 ft", width=6)
    ['Fall  1.8 ft']
    """
    return filled(text, first=f"{name:<{width}}", rest=" " * width) or [name]


_ROOM_FOR_REMARKS = 16
"""Letters: a remark that is longer does not stand beside the figures in less, but below them."""


def text_table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Set a table; the last column is a remark, broken under itself where it is too long.

    Where the terminal leaves too little room beside the figures remarks stand below them, and where it does
    not even hold the figures each row is told in words.

    >>> text_table(["pier", "bed", ""], [["1-1", "4 in", "dig"], ["1-10", "5 1/2 in", ""]])
    ['pier       bed', '1-1       4 in  dig', '1-10  5 1/2 in']
    """
    widths = [max(map(len, column)) for column in zip(header, *rows, strict=True)]
    room = columns() - 2 - sum(width + 2 for width in widths[:-1])
    if room < -2:
        return [line for row in rows for line in _in_words(header, row)]
    told = []
    for row in (header, *rows):
        cells = [f"{cell:>{width}}" for cell, width in zip(row[1:-1], widths[1:-1], strict=True)]
        lead = "  ".join([f"{row[0]:<{widths[0]}}", *cells])
        if room < max(1, min(_ROOM_FOR_REMARKS, widths[-1])):
            told += [lead.rstrip(), *filled(row[-1], first="    ", rest="    ")]
            continue
        first, *rest = filled(row[-1], width=room) or [""]
        told += [f"{lead}  {first}".rstrip(), *(" " * (len(lead) + 2) + line for line in rest)]
    return told


def _in_words(header: Sequence[str], row: Sequence[str]) -> list[str]:
    *figures, remark = zip(header[1:], row[1:], strict=True)
    told = [f"{head} {cell}" for head, cell in figures if cell]
    told += [f"{remark[0]}: {remark[1]}".removeprefix(": ")] if remark[1] else []
    return filled(f"{row[0]}: {'; '.join(told)}", rest="  ")


def above_words(height: float, show: Display) -> str:
    """Say how far a level is above or below ground; what rounding alone can make is level with it."""
    if show.is_rounding(height):
        return "level with"
    return f"{show.depth(abs(height))} {'above' if height >= 0 else 'below'}"
