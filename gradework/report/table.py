"""Tables for the terminal: first column to the left, figures to the right, a remark behind them."""

from __future__ import annotations

from collections.abc import Sequence

from gradework.report.lines import WIDTH, filled


def text_table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Set a table; the last column is a remark, broken under itself where it is too long.

    >>> text_table(["pier", "bed", ""], [["1-1", "4 in", "dig"], ["1-10", "5 1/2 in", ""]])
    ['pier       bed', '1-1       4 in  dig', '1-10  5 1/2 in']
    """
    widths = [max(map(len, column)) for column in zip(header, *rows, strict=True)]
    told = []
    for row in (header, *rows):
        cells = [f"{cell:>{width}}" for cell, width in zip(row[1:-1], widths[1:-1], strict=True)]
        told += _hung("  ".join([f"{row[0]:<{widths[0]}}", *cells]), row[-1])
    return told


def _hung(lead: str, remark: str) -> list[str]:
    room = max(20, WIDTH - 2 - len(lead) - 2)
    first, *rest = filled(remark, width=room) or [""]
    return [f"{lead}  {first}".rstrip(), *(" " * (len(lead) + 2) + line for line in rest)]
