"""Treated lumber by size and length, as lines of the order: what is cut from which stock lengths."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from gradework.foundations.timber.wood import Section
from gradework.sitework.cutting import Board, CuttingPlan, cut_stock
from gradework.sitework.order import OrderLine, whole_line
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.units.display import Display

# True inches by nominal ones of what is sold, the thickness first (PS 20, partly from memory).
_NOMINAL = re.compile(r"(?:[1-4]-)?(\d{1,2})x(\d{1,2})")
_MOST_NOMINAL = 25

FRESH = 760.0
"""[kg/m³] Of fresh treated softwood: 45 to 55 lb/ft³, the middle taken wet (common practice)."""


class Stick(NamedTuple):
    """One piece to cut: its section, its length [m], what it is."""

    section: Section
    length: float
    use: str


def sold_volume(section: Section, length: float, *, us: bool) -> float:
    """Give the volume [m³] by which lumber is paid: a board foot is of nominal inches, millimetres are true.

    ``us``: whether it is sold in inches.

    >>> from gradework.foundations.timber.wood import section_of
    >>> round(sold_volume(section_of("2x6"), 3.6576, us=True) / 0.0254**3 / 144, 6)  # 12 ft: 12 board feet
    12.0
    """
    match = _NOMINAL.fullmatch(section.name)
    if match is None or not us or max(map(int, match.groups())) > _MOST_NOMINAL:
        return section.area * length
    wide, deep = (int(side) * M_PER_IN for side in match.groups())
    return wide * deep * section.plies * length


def in_pieces(length: float, most: float) -> list[float]:
    """Part a length [m] into the fewest equal pieces that are no longer than ``most``.

    >>> in_pieces(6.0, 4.0), in_pieces(4.0, 4.0)
    ([3.0, 3.0], [4.0])
    """
    count = max(1, math.ceil(length / most - 1e-9))
    return [length / count] * count


def lumber_lines(
    sticks: Sequence[Stick], board: Board, show: Display, *, place: str, wood: str = "treated lumber"
) -> Iterator[OrderLine]:
    """Give a line for each section and stock length to buy, longest first; ``board`` has the lengths sold.

    Plies are bought one by one. What is longer than the longest length is joined of equal pieces.
    """
    longest = max(board.lengths)
    for section in dict.fromkeys(stick.section for stick in sticks):
        own = [stick for stick in sticks if stick.section == section]
        pieces = [part for stick in own for part in in_pieces(stick.length, longest)] * section.plies
        plan = cut_stock(pieces, board.lengths, kerf=board.kerf)
        uses = Counter(stick.use for stick in own)
        told = ", ".join(f"{count} {use}" for use, count in uses.items())
        yield from _lines(plan, replace(section, plies=1, name=_one(section)), told, show, place, wood)


def _one(section: Section) -> str:
    """Name one ply."""
    return section.name.partition("-")[2] if section.plies > 1 else section.name


def _lines(
    plan: CuttingPlan, section: Section, told: str, show: Display, place: str, wood: str
) -> Iterator[OrderLine]:
    for stock, count in plan.count().items():
        cuts = [bar.pieces for bar in plan.bars if bar.stock == stock]
        shown = Counter(" + ".join(show.length(piece) for piece in one) for one in cuts)
        cut = "; ".join(f"{many} times {text}" if many > 1 else text for text, many in shown.items())
        line = whole_line(
            f"{section.said(us=show.us)} {wood}, {show.length(stock)}", count, "pieces",
            computed=sum(map(sum, cuts)) / stock, mass=count * section.area * stock * FRESH,
            allowance="whole pieces", reason="cut with the least waste from what is sold",
            note=f"for {told}: cut {cut}" + ("" if plan.proved else "; good, but not proved least"),
        ).paid_by("lumber", sold_volume(section, count * stock, us=show.us))  # fmt: skip
        yield replace(line, longest=stock, place=place)
