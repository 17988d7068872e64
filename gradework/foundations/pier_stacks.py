"""Every height a dry stack of the units on hand can have, and the best stack for each height.

Heights are whole nanometres: 1/64 in is 396 875 nm, so no sum of block sizes is ever rounded, and two stacks
are equally high or they are not. The count of a unit is its count of courses; a double pier lays two units
side by side in each course.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults
from gradework.foundations.units_on_hand import BlockUnit

Ints = NDArray[np.int64]

NANOMETRES = 1_000_000_000
"""Nanometres in a metre."""

MONEY_STEPS = 1_000_000
"""Prices are compared in millionths of the user's money."""

MOST_ROWS = 400_000
"""More different heights than this mean too many odd sizes for the height asked for."""

# What a stack holds, as bits: open cells; a unit that may cap them; a base-only unit; a cap-only unit.
_HOLLOW, _CAPPED, _BASE, _TOP = 1, 2, 4, 8
_STATES = 16


def nanometres(metres: float) -> int:
    """Round a length [m] to whole nanometres."""
    return round(metres * NANOMETRES)


@dataclass(frozen=True)
class StackTable:
    """The best buildable stack for each height, lowest first.

    ``heights`` (m,) [nm], strictly rising; ``courses`` (m, k) of each of the k ``units``; ``pieces`` (m,) is
    how many units are laid, ``price`` (m,) in millionths, ``mass`` (m,) [kg]. ``across`` units make a course.
    """

    units: tuple[BlockUnit, ...]
    across: int
    heights: Ints
    courses: Ints
    pieces: Ints
    price: Ints
    mass: NDArray[np.float64]


@dataclass(frozen=True)
class _Rows:
    heights: Ints
    state: Ints
    courses: Ints
    price: Ints
    pieces: Ints


def stack_table(
    units: Sequence[BlockUnit],
    *,
    tallest: float,
    across: int = 1,
    first: Literal["money", "units"] = "money",
) -> StackTable:
    """Find, for each reachable height up to ``tallest`` [m], the stack that is best to lay.

    Best is cheapest and then fewest units, or the other way round (``first``). A stack holds at least one
    unit; one with open cells holds a unit that may cap; cap-only and base-only units come once. The table is
    the same for any order of ``units``. Heights that no stack reaches are absent; when none is reached,
    the table has no rows. Raises ``InputError`` for no units, two of one name, or far too many heights.

    >>> from gradework.foundations.units_on_hand import UNITS_ON_HAND
    >>> table = stack_table(UNITS_ON_HAND["US"], tallest=9 * 0.0254)
    >>> (table.heights / 25_400_000).tolist()  # in inches
    [1.625, 3.25, 3.625, 4.875, 5.25, 6.5, 6.875, 7.25, 8.125, 8.5, 8.875]
    """
    _check_units(units)
    ordered = sorted(units, key=lambda unit: (-unit.thickness, unit.name))
    rows = _nothing_laid(len(ordered))
    limit = nanometres(tallest)
    for kind, unit in enumerate(ordered):
        pieces = pieces_in_course(unit, units, across)
        rows = _add_unit(rows, kind, unit, pieces=pieces, limit=limit, first=first)
    return _buildable(rows, ordered, units, across, first)


def pieces_in_course(unit: BlockUnit, units: Sequence[BlockUnit], across: int) -> int:
    """Say how many of a unit make one course of a pier that is ``across`` of the narrowest units wide."""
    narrowest = min(other.least_side for other in units)
    return 1 if unit.least_side >= across * narrowest else across


def _check_units(units: Sequence[BlockUnit]) -> None:
    faults = Faults()
    if not units:
        faults.add(
            "block-units-missing", "no block units", "at least one kind of unit", "list the units you can buy"
        )
    names = [unit.name for unit in units]
    for name in sorted({name for name in names if names.count(name) > 1}):
        faults.add("block-unit-twice", f"two units called {name!r}", "one", "rename one of them")
    faults.raise_if_any()


def _nothing_laid(kinds: int) -> _Rows:
    none = np.zeros(1, np.int64)
    return _Rows(none, none, np.zeros((1, kinds), np.int64), none, none)


def _add_unit(
    rows: _Rows, kind: int, unit: BlockUnit, *, pieces: int, limit: int, first: Literal["money", "units"]
) -> _Rows:
    """Allow 0, 1, 2 ... courses of one more unit: blocks of 1, 2, 4 ... reach every number in few steps."""
    thickness = nanometres(unit.thickness)
    left = unit.most_in_stack if unit.most_in_stack is not None else math.inf
    left = min(left, limit // thickness)
    once = (_BASE if unit.only_base else 0) | (_TOP if not unit.may_carry else 0)
    bits = once | (_HOLLOW if unit.hollow else 0) | (_CAPPED if unit.may_cap and not unit.only_base else 0)
    block = 1
    while left > 0:
        laid = int(min(block, left))
        fits = (rows.heights + laid * thickness <= limit) & (rows.state & once == 0)
        courses = rows.courses[fits].copy()
        courses[:, kind] += laid
        added = _Rows(
            rows.heights[fits] + laid * thickness,
            rows.state[fits] | bits,
            courses,
            rows.price[fits] + laid * pieces * round(unit.price * MONEY_STEPS),
            rows.pieces[fits] + laid * pieces,
        )
        rows = _best(_joined(rows, added), first)
        left -= laid
        block *= 2
    return rows


def _joined(one: _Rows, two: _Rows) -> _Rows:
    return _Rows(
        np.concatenate([one.heights, two.heights]),
        np.concatenate([one.state, two.state]),
        np.concatenate([one.courses, two.courses]),
        np.concatenate([one.price, two.price]),
        np.concatenate([one.pieces, two.pieces]),
    )


def _best(rows: _Rows, first: Literal["money", "units"]) -> _Rows:
    """Keep the best row of each height and state; equal rows keep the one laid from thicker units."""
    place = rows.heights * _STATES + rows.state
    keys = (rows.pieces, rows.price) if first == "money" else (rows.price, rows.pieces)
    order = np.lexsort((*keys, place))
    keep = order[np.concatenate([[True], np.diff(place[order]) > 0])]
    if len(keep) > MOST_ROWS:
        faults = Faults()
        faults.stop(
            "block-stacks-too-many",
            f"more than {MOST_ROWS} different stack heights",
            "fewer kinds of units, or a lower stack",
            "leave out units that differ little from another, or lower the tallest stack",
        )
    return _Rows(
        rows.heights[keep], rows.state[keep], rows.courses[keep], rows.price[keep], rows.pieces[keep]
    )


def _buildable(
    rows: _Rows,
    ordered: Sequence[BlockUnit],
    units: Sequence[BlockUnit],
    across: int,
    first: Literal["money", "units"],
) -> StackTable:
    whole = (rows.pieces > 0) & (rows.state & (_HOLLOW | _CAPPED) != _HOLLOW)
    rows = _Rows(
        rows.heights[whole],
        np.zeros(int(whole.sum()), np.int64),
        rows.courses[whole],
        rows.price[whole],
        rows.pieces[whole],
    )
    if len(rows.heights):
        rows = _best(rows, first)
    as_given = [ordered.index(unit) for unit in units]
    courses = rows.courses[:, as_given]
    each = np.array([unit.mass * pieces_in_course(unit, units, across) for unit in units])
    table = StackTable(tuple(units), across, rows.heights, courses, rows.pieces, rows.price, courses @ each)
    for array in (table.heights, table.courses, table.pieces, table.price, table.mass):
        array.setflags(write=False)
    return table


def laid_order(units: Sequence[BlockUnit], courses: Sequence[int]) -> tuple[int, ...]:
    """Give the kinds of a stack from the bottom up: base, open cells, thick before thin solids, the cap.

    ``courses`` holds the count for each of ``units``; the result repeats each kind that often.

    >>> from gradework.foundations.units_on_hand import UNITS_ON_HAND
    >>> laid_order(UNITS_ON_HAND["US"], [2, 1, 1])
    (0, 0, 2, 1)
    """
    kinds = [kind for kind, count in enumerate(courses) for _ in range(int(count))]
    caps = [k for k in kinds if units[k].may_cap and not units[k].only_base]
    only_tops = [k for k in caps if not units[k].may_carry]
    top = only_tops[0] if only_tops else min(caps, key=lambda k: -units[k].thickness, default=-1)

    def place(kind: int) -> tuple[bool, bool, float]:
        unit = units[kind]
        return (not unit.only_base, not unit.hollow, -unit.thickness)

    rest = sorted(kinds, key=place)
    if top >= 0:
        rest.remove(top)
        rest.append(top)
    return tuple(rest)
