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
DRIVEN = 12.0 * M_PER_IN
"""How deep the stakes of a batter board stand in the ground [m]."""

STAKE_LENGTHS = {True: tuple(n * M_PER_IN for n in (24.0, 36.0, 48.0)), False: (0.6, 0.9, 1.2)}
"""Stakes as they are sold [m], shortest first; those of batter boards reach from the ground to the string."""

_STAKE_MASS = 0.5 / (24.0 * M_PER_IN)  # [kg/m]


def marking_lines(
    building: Outline, stakes: Sequence[Stake], level: float, board: Board, show: Display
) -> tuple[OrderLine, ...]:
    """Give what a building is marked out with; ``stakes`` are those on the sheet for setting out.

    ``level`` [m] is that of the strings, ``board`` has the lengths that lumber is sold in. The string runs
    along each side and on to its batter boards, and once across from corner to corner both ways to check the
    square.
    """
    boards = [stake for stake in stakes if stake.kind == "batter board"]
    count = len(stakes) - len(boards) + SPARE_STAKES
    length = STAKE_LENGTHS[show.us][0]
    wood = whole_line(
        "stakes", count, "pieces", computed=len(stakes) - len(boards), mass=_STAKE_MASS * length * count,
        allowance=f"{SPARE_STAKES} spare",
        reason="one for each stake on the setting-out sheet but batter boards; some split",
        note=f"{_section(show)}, {show.depth(length)} long; plus marking paint or flags",
    ).paid_by("setout_stakes", count)  # fmt: skip
    corners = building.rings[0]
    across = max(math.dist(a, b) for a in corners for b in corners)  # bounds would change with the turn
    run = building.perimeter + 2.0 * STRING_BEYOND * len(building.corners) + 2.0 * across
    return wood, *_batter_boards(boards, level, board, show), _string(run, show)


def _section(show: Display) -> str:
    return "1 x 2 in" if show.us else "25 x 50 mm"


def stake_length(high: float, *, us: bool) -> float:
    """Give the stakes [m] that stand in the ground and reach ``high`` [m] above it, at most the longest sold.

    >>> [round(stake_length(high, us=False), 1) for high in (-0.2, 0.29, 0.31, 2.0)]
    [0.6, 0.6, 0.9, 1.2]
    """
    sold = STAKE_LENGTHS[us]
    return next((length for length in sold if length >= high + DRIVEN - 1e-9), sold[-1])


def _batter_boards(boards: Sequence[Stake], level: float, board: Board, show: Display) -> Iterator[OrderLine]:
    """Give the boards, their stakes and screws; nothing where no board is set."""
    if not boards:
        return
    high = max((level - stake.ground for stake in boards if stake.ground is not None), default=0.0)
    length, count = stake_length(high, us=show.us), STAKES_A_BOARD * len(boards)
    reach = length - DRIVEN
    low = f"; where that is not enough, hang the string lower by whole {'feet' if show.us else 'half metres'}"
    yield whole_line(
        "stakes for batter boards", count, "pieces", mass=_STAKE_MASS * length * count,
        allowance=f"{STAKES_A_BOARD} for each board",
        reason="a board is screwed across two, so that its string can be moved and stays where it is",
        note=f"{_section(show)}, {show.depth(length)} long: {show.depth(DRIVEN)} in the ground, the string"
        f" up to {show.depth(max(high, 0.0))} above it" + (low if high > reach + 1e-9 else ""),
    ).paid_by("setout_stakes", count)  # fmt: skip
    sticks = [Stick(BATTER[show.us], BATTER_LONG[show.us], BOARDS)] * len(boards)
    yield from lumber_lines(sticks, board, show, place=BOARDS)
    screws = SCREWS_A_BOARD * len(boards)
    fixing = whole_line(
        f"{'1 1/4 in' if show.us else '30 mm'} screws for batter boards", screws, "pieces",
        mass=0.4 * SCREW_MASS * screws, allowance=f"{SCREWS_A_BOARD} for each board",
        reason="two at each stake",
    ).paid_by("screws", screws)  # fmt: skip
    yield replace(fixing, place=BOARDS)


def _string(length: float, show: Display) -> OrderLine:
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
        note=f"{show.distance(length)}: along the sides to the batter boards, and both diagonals",
        paid=(Paid("string", rolls),),
    )
