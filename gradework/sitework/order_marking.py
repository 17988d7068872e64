"""What a building is marked out with, as lines of the order: stakes, batter boards on theirs, and string.

A batter board is a short board across two stakes behind a corner; a string is tied to it, above the line of a
side. How they are built is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.foundations.buying.money import Paid
from gradework.foundations.timber.wood import Section
from gradework.sitework.lumber import Stick, lumber_lines
from gradework.sitework.order import OrderLine, to_buy, whole_line
from gradework.sitework.order_edge import SCREW_MASS
from gradework.units.amounts import M_PER_FT, M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.sitework.cutting import Board
    from gradework.sitework.setout import Stake
    from gradework.units.display import Display

SPARE_STAKES = 4
"""Stakes that split or are lost (common practice, no source)."""

STRING_ALLOWANCE = 0.10
"""String for knots and ties on top of what is stretched [-] (common practice, no source)."""

STRING_BEYOND = 4.0 * M_PER_FT
"""String runs on to the batter boards behind each corner [m] (common practice, no source)."""

BOARDS = "batter boards"
"""Where the boards and their screws go: the place of their lines."""

BATTER = {True: Section("1x4", 0.75 * M_PER_IN, 3.5 * M_PER_IN), False: Section("22x100", 0.022, 0.1)}
BATTER_LONG = {True: 30.0 * M_PER_IN, False: 0.75}
"""A batter board, and how long it is [m], in US and metric jobs: room for a string to be moved on it."""

STAKES_A_BOARD, SCREWS_A_BOARD = 2, 4
DRIVEN = {True: 12.0 * M_PER_IN, False: 0.3}
"""How deep the stakes of a batter board stand in the ground [m], in US and metric jobs."""

STAKE_LENGTHS = {True: tuple(n * M_PER_IN for n in (24.0, 36.0, 48.0)), False: (0.6, 0.9, 1.2)}
"""Stakes as they are sold [m], shortest first; those of batter boards reach from the ground to the string."""

_STAKE_MASS = 0.5 / (24.0 * M_PER_IN)  # [kg/m], of 1 x 2 in
_BOARD_STAKE_MASS = 2.0 * _STAKE_MASS
"""Stakes that a board is screwed to are twice as thick, so that a taut string does not bend them (common
practice, no source)."""


def marking_lines(
    building: Outline, stakes: Sequence[Stake], level: float, board: Board, show: Display
) -> tuple[OrderLine, ...]:
    """Give what a building is marked out with; ``stakes`` are those on the sheet for setting out.

    ``level`` [m] is that of the strings, ``board`` has the lengths that lumber is sold in. The string runs
    along each side and on to its batter boards, along each row, and from corner to corner both ways to check
    the square.
    """
    boards = [stake for stake in stakes if stake.kind == "batter board"]
    # without boards nothing is set out by level: stakes for rows are any
    lines = [stake for stake in stakes if stake.kind == "row string"] if boards else []
    plain = len(stakes) - len(boards) - len(lines)
    count = plain + SPARE_STAKES
    length = STAKE_LENGTHS[show.us][0]
    wood = whole_line(
        "stakes", count, "pieces", computed=plain, mass=_STAKE_MASS * length * count,
        allowance=f"{SPARE_STAKES} spare",
        reason="one for each stake on the setting-out sheet that bears no string; some split",
        note=f"{_section(show)}, {show.depth(length)} long; plus marking paint or flags",
    ).paid_by("setout_stakes", count)  # fmt: skip
    corners = building.rings[0]
    across = max(math.dist(a, b) for a in corners for b in corners)  # bounds would change with the turn
    run = building.perimeter + 2.0 * STRING_BEYOND * len(building.corners) + 2.0 * across
    run += sum(math.dist((a.x, a.y), (b.x, b.y)) for a, b in zip(lines[::2], lines[1::2], strict=False))
    hung = (*_string_stakes(boards, lines, level, show), *_boards(boards, board, show))
    return wood, *hung, _string(run, show, rows=bool(lines))


def _section(show: Display) -> str:
    return "1 x 2 in" if show.us else "25 x 50 mm"


def stake_length(high: float, *, us: bool) -> float:
    """Give the stakes [m] that stand in the ground and reach ``high`` [m] above it, at most the longest sold.

    >>> [round(stake_length(high, us=False), 1) for high in (-0.2, 0.29, 0.31, 2.0)]
    [0.6, 0.6, 0.9, 1.2]
    """
    sold = STAKE_LENGTHS[us]
    return next((length for length in sold if length >= high + DRIVEN[us] - 1e-9), sold[-1])


def _string_stakes(
    boards: Sequence[Stake], lines: Sequence[Stake], level: float, show: Display
) -> Iterator[OrderLine]:
    """Give the stakes that strings hang on, at a ``level`` [m]: two for each board, one for each end of a
    row; nothing where no board is set."""
    all_of_them = (*boards, *lines)
    if not boards:
        return
    known = [level - stake.ground for stake in all_of_them if stake.ground is not None]
    high = max(known, default=0.0)
    length, count = stake_length(high, us=show.us), STAKES_A_BOARD * len(boards) + len(lines)
    driven = DRIVEN[show.us]
    thick = "2 x 2 in" if show.us else "50 x 50 mm"
    note = f"{thick}, {show.depth(length)} long: {show.depth(driven)} in the ground"
    note += f", the string up to {show.depth(max(high, 0.0))} above it" if known else ""
    if high > length - driven + 1e-9:
        whole = "feet" if show.us else "half metres"
        note += f"; where that is not enough, hang the string lower by whole {whole}"
    if known and min(known) < 0.0:
        note += "; uphill the ground is higher: hang the string higher there"
    if len(known) < len(all_of_them):
        note += "; some stand beyond the survey: measure there before you buy"
    each = [f"{STAKES_A_BOARD} for each board", *(["one for each end of a row's string"] if lines else [])]
    yield whole_line(
        "stakes for batter boards", count, "pieces",
        mass=_BOARD_STAKE_MASS * length * count, allowance=", ".join(each),
        reason="a board is screwed across two, so that its string can be moved and stays where it is",
        note=note,
    ).paid_by("setout_stakes", count)  # fmt: skip


def _boards(boards: Sequence[Stake], board: Board, show: Display) -> Iterator[OrderLine]:
    """Give the boards and their screws; nothing where no board is set."""
    if not boards:
        return
    sticks = [Stick(BATTER[show.us], BATTER_LONG[show.us], BOARDS)] * len(boards)
    yield from lumber_lines(sticks, board, show, place=BOARDS, wood="lumber")
    screws = SCREWS_A_BOARD * len(boards)
    fixing = whole_line(
        f"{'1 1/4 in' if show.us else '30 mm'} screws for batter boards", screws, "pieces",
        mass=0.4 * SCREW_MASS * screws, allowance=f"{SCREWS_A_BOARD} for each board",
        reason="two at each stake",
    ).paid_by("screws", screws)  # fmt: skip
    yield replace(fixing, place=BOARDS)


def _string(length: float, show: Display, *, rows: bool) -> OrderLine:
    roll = 250.0 * M_PER_FT if show.us else 50.0
    computed, needed = length / roll, length * (1.0 + STRING_ALLOWANCE) / roll
    rolls = to_buy(needed, 1.0)
    return OrderLine(
        item=f"mason's string, roll of {show.distance(roll)}",
        quantity=rolls,
        unit="rolls",
        computed=computed,
        needed=needed,
        step=1.0,
        allowance=f"{STRING_ALLOWANCE * 100:.0f} % for knots, whole rolls",
        reason="string is tied at both ends, and knots are cut off",
        mass_kg=0.15 * rolls,
        note=f"{show.distance(length)}: along the sides and on beyond the corners, both diagonals"
        + (", the rows" if rows else ""),
        paid=(Paid("string", rolls),),
    )
