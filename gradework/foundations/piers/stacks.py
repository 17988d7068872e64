"""Every height a dry stack of the units on hand can have, and the best stack for each height and hole.

Heights are whole nanometres: 1/64 in is 396 875 nm, so no sum of block sizes is ever rounded, and two stacks
are equally high or they are not. The count of a unit is its count of courses; a double pier lays two units
side by side in each course. A hole takes the widest and the longest course of the stack in it, so stacks are
kept apart by the plan they ask for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults
from gradework.foundations.piers.units import BlockUnit
from gradework.units.amounts import M_PER_IN

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

DOUBLE_WIDTH = 14.9 * M_PER_IN
"""A unit at least this wide lies once in a course of a double pier [m]: it is as wide as two common blocks
(7 5/8 in, 190 mm) side by side (judgement)."""

_MOST_PLANS = 400


def nanometres(metres: float) -> int:
    """Round a length [m] to whole nanometres."""
    return round(metres * NANOMETRES)


@dataclass(frozen=True)
class StackTable:
    """The best buildable stack for each height among those that ask for a hole of one plan, lowest first.

    ``plan`` [m] is that of their widest and their longest course: along the beams, and across. ``heights``
    (m,) [nm], strictly rising; ``courses`` (m, k) of each of the k ``units``; ``pieces`` (m,) is how many
    units are laid, ``price`` (m,) in millionths, ``mass`` (m,) [kg]. ``across`` units make a course.
    """

    plan: tuple[float, float]
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


def stack_tables(
    units: Sequence[BlockUnit],
    *,
    tallest: float,
    across: int = 1,
    first: Literal["money", "units"] = "money",
) -> tuple[StackTable, ...]:
    """Find, for each plan of a hole and each height up to ``tallest`` [m], the stack that is best to lay.

    Best is cheapest and then fewest units, or the other way round (``first``). A stack holds at least one
    unit; one with open cells holds a unit that may cap; cap-only and base-only units come once. There is a
    table for each plan that some units together ask for, smallest first; one that no stack reaches has no
    rows. The tables are the same for any order of ``units``. Raises ``InputError`` for no units, two of one
    name, or far too many heights.

    >>> from gradework.foundations.piers.units import UNITS_ON_HAND
    >>> (table,) = stack_tables(UNITS_ON_HAND["US"], tallest=9 * 0.0254)
    >>> (table.heights / 25_400_000).tolist()  # in inches
    [1.625, 3.25, 3.625, 4.875, 5.25, 6.5, 6.875, 7.25, 8.125, 8.5, 8.875]
    """
    return _tables_of(tuple(units), tallest, across, first)


@lru_cache(maxsize=8)  # a plan asks for the same few tables over and over; they know nothing of the ground
def _tables_of(
    units: tuple[BlockUnit, ...], tallest: float, across: int, first: Literal["money", "units"]
) -> tuple[StackTable, ...]:
    _check_units(units)
    ordered = sorted(units, key=lambda unit: (-unit.thickness, unit.name))
    plans = _plans(ordered, across)
    rows = _nothing_laid(len(ordered))
    limit = nanometres(tallest)
    for kind, unit in enumerate(ordered):
        rows = _add_unit(rows, kind, unit, across, plans, limit=limit, first=first)
    place = rows.state // _STATES
    tables = []
    for number, plan in enumerate(plans):
        own = _taken(rows, place == number)
        tables.append(_buildable(own, plan, ordered, units, across, first))
    return tuple(tables)


def pieces_in_course(unit: BlockUnit, across: int) -> int:
    """Say how many of a unit make one course of a pier that is ``across`` common blocks wide."""
    return 1 if unit.least_side >= DOUBLE_WIDTH else across


def course_plan(unit: BlockUnit, across: int) -> tuple[float, float]:
    """Give the plan of one course of a unit [m], along and across the beams: its length lies across.

    >>> from gradework.foundations.piers.units import BASE_PAD, UNITS_ON_HAND
    >>> [round(side / 0.0254, 3) for side in course_plan(UNITS_ON_HAND["US"][0], 2)]
    [15.25, 15.625]
    >>> [round(side / 0.0254, 3) for side in course_plan(BASE_PAD, 2)]
    [15.625, 15.625]
    """
    return unit.least_side * pieces_in_course(unit, across), max(unit.length, unit.width)


def _plans(units: Sequence[BlockUnit], across: int) -> list[tuple[float, float]]:
    """Give every plan that some of the units together ask for, smallest first, told apart to 1 nm."""
    each = [course_plan(unit, across) for unit in units]
    wide, long = ({nanometres(plan[side]): plan[side] for plan in each} for side in (0, 1))
    own = {(nanometres(a), nanometres(b)) for a, b in each}
    joined = {(max(a, c), max(b, d)) for a, b in own for c, d in own}
    if len(joined) > _MOST_PLANS:
        Faults().halt("block-stacks-too-many", variant="plans", count=len(own))
    return [(wide[a], long[b]) for a, b in sorted(joined, key=lambda plan: (plan[0] * plan[1], plan))]


def _check_units(units: Sequence[BlockUnit]) -> None:
    faults = Faults()
    if not units:
        faults.note("block-units-missing")
    names = [unit.name for unit in units]
    for name in sorted({name for name in names if names.count(name) > 1}):
        faults.note("block-unit-twice", name=repr(name))
    faults.raise_if_any()


def _nothing_laid(kinds: int) -> _Rows:
    none = np.zeros(1, np.int64)
    return _Rows(none, none - _STATES, np.zeros((1, kinds), np.int64), none, none)  # in no plan yet


def _add_unit(
    rows: _Rows,
    kind: int,
    unit: BlockUnit,
    across: int,
    plans: Sequence[tuple[float, float]],
    *,
    limit: int,
    first: Literal["money", "units"],
) -> _Rows:
    """Allow 0, 1, 2 ... courses of one more unit: blocks of 1, 2, 4 ... reach every number in few steps."""
    thickness, pieces = nanometres(unit.thickness), pieces_in_course(unit, across)
    widened = _widened(course_plan(unit, across), plans)
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
            widened[rows.state[fits] // _STATES] * _STATES + (rows.state[fits] % _STATES | bits),
            courses,
            rows.price[fits] + laid * pieces * round(unit.price * MONEY_STEPS),
            rows.pieces[fits] + laid * pieces,
        )
        rows = _best(_joined(rows, added), first)
        left -= laid
        block *= 2
    return rows


def _widened(own: tuple[float, float], plans: Sequence[tuple[float, float]]) -> Ints:
    """Give for each plan, and last for no stack at all, the place of the plan with ``own`` added."""
    exact = {(nanometres(a), nanometres(b)): number for number, (a, b) in enumerate(plans)}
    a, b = (nanometres(side) for side in own)
    return np.array([*(exact[max(a, c), max(b, d)] for c, d in exact), exact[a, b]], np.int64)


def _taken(rows: _Rows, keep: NDArray[np.bool_] | Ints) -> _Rows:
    return _Rows(
        rows.heights[keep], rows.state[keep], rows.courses[keep], rows.price[keep], rows.pieces[keep]
    )


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
    place = rows.heights * _STATES * (_MOST_PLANS + 1) + rows.state
    keys = (rows.pieces, rows.price) if first == "money" else (rows.price, rows.pieces)
    order = np.lexsort((*keys, place))
    keep = order[np.concatenate([[True], np.diff(place[order]) > 0])]
    if len(keep) > MOST_ROWS:
        Faults().halt("block-stacks-too-many", variant="heights", most=f"{MOST_ROWS:,}")
    return _taken(rows, keep)


def _buildable(
    rows: _Rows,
    plan: tuple[float, float],
    ordered: Sequence[BlockUnit],
    units: Sequence[BlockUnit],
    across: int,
    first: Literal["money", "units"],
) -> StackTable:
    rows = _taken(rows, rows.state & (_HOLLOW | _CAPPED) != _HOLLOW)
    rows = replace(rows, state=np.zeros_like(rows.state))
    if len(rows.heights):
        rows = _best(rows, first)
    as_given = [ordered.index(unit) for unit in units]
    courses = rows.courses[:, as_given]
    each = np.array([unit.mass * pieces_in_course(unit, across) for unit in units])
    table = StackTable(
        plan, tuple(units), across, rows.heights, courses, rows.pieces, rows.price, courses @ each
    )
    for array in (table.heights, table.courses, table.pieces, table.price, table.mass):
        array.setflags(write=False)
    return table


def laid_order(units: Sequence[BlockUnit], courses: Sequence[int]) -> tuple[int, ...]:
    """Give the kinds of a stack from the bottom up: base, open cells, thick before thin solids, the cap.

    ``courses`` holds the count for each of ``units``; the result repeats each kind that often.

    >>> from gradework.foundations.piers.units import UNITS_ON_HAND
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
