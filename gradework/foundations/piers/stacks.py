"""Every height a dry stack of the units on hand can have, and the best stack for each height and hole.

Heights are whole nanometres: 1/64 in is 396 875 nm, so no sum of block sizes is ever rounded, and two stacks
are equally high or they are not. The count of a unit is its count of courses; a double pier lays two units
side by side in each course. A hole takes the widest and the longest course of the stack in it, and what it
bears hangs on its base pad and on its narrowest course, so stacks are kept apart by these.

What makes a stack sound is a rule here, not a warning after it: open cells stand on a base pad or a thick
solid block and end in a cap, and no stack is taller than its width allows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, NamedTuple

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

# What a stack holds, as bits: open cells; a unit that may cap them; a base-only unit; a cap-only unit; one
# that may stand below open cells; two of those that may cap or stand below.
_HOLLOW, _CAPPED, _BASE, _TOP, _SOLID, _TWO = 1, 2, 4, 8, 16, 32
_STATES = 64

SOLID_BELOW = 3.5 * M_PER_IN
"""A solid unit at least this thick may stand below open cells [m]: 4 in nominal (24 CFR 3285.312(a))."""

HOLLOW_SLENDERNESS = 4.0
"""Unfilled hollow piers: height over least side [-] (IRC R606.7, was R606.6; mortared piers; quoted)."""

SOLID_SLENDERNESS = 10.0
"""Solid or filled piers: height over least side [-] (the same clause; quoted)."""

DOUBLE_WIDTH = 14.9 * M_PER_IN
"""A unit at least this wide lies once in a course of a double pier [m]: it is as wide as two common blocks
(7 5/8 in, 190 mm) side by side (judgement)."""

_MOST_FORMS = 1000


def nanometres(metres: float) -> int:
    """Round a length [m] to whole nanometres."""
    return round(metres * NANOMETRES)


@dataclass(frozen=True)
class StackTable:
    """The best sound stack for each height among those on one base and of one plan, lowest first.

    ``plan`` [m] is that of the hole they ask for: the widest and the longest course, along the beams and
    across. ``base`` is the pad they stand on, or None. Of the courses above it ``widest`` is the plan of all,
    ``foot`` the narrowest and shortest (the base's own where nothing stands on it), ``density`` [kg/m³] that
    of the heaviest unit. ``heights``
    (m,) [nm], strictly rising; ``courses`` (m, k) of each of the k ``units``; ``pieces`` (m,) is how many
    units are laid, ``price`` (m,) in millionths, ``mass`` (m,) [kg]. ``across`` units make a course.
    """

    plan: tuple[float, float]
    base: BlockUnit | None
    widest: tuple[float, float]
    foot: tuple[float, float]
    density: float
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
    """Find, for each base and plan and each height up to ``tallest`` [m], the stack that is best to lay.

    Best is cheapest and then fewest units, or the other way round (``first``). A stack holds at least one
    unit; one with open cells holds a unit that may cap, and another below; cap-only and base-only units come
    once; none is more slender than the limits. There is a table for each base, plan and narrowest course that
    some units together have, the smallest hole first; one that no stack reaches is left out. The tables are
    the same for any order of ``units``. Raises ``InputError`` for no units, two of one name, or far too many
    heights.

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
    forms = _forms(ordered, across)
    rows = _nothing_laid(len(ordered))
    limit = nanometres(tallest)
    for kind, unit in enumerate(ordered):
        rows = _add_unit(rows, kind, unit, across, forms, limit=limit, first=first)
    place = rows.state // _STATES
    tables = []
    for number, form in enumerate(forms):
        own = _sound(_taken(rows, place == number), form, ordered, across)
        if len(own.heights):
            tables.append(_table(own, form, ordered, units, across, first))
    return tuple(sorted(tables, key=lambda table: table.plan[0] * table.plan[1]))


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


class _Form(NamedTuple):
    """What keeps stacks apart: plan of the widest and narrowest course, along and across [nm], the densest
    unit [g/m³], and which of the units is the base, -1 for none. Nothing but a base is all zero."""

    wide: int
    long: int
    narrow: int
    short: int
    dense: int
    base: int

    def with_(self, other: _Form) -> _Form:
        """Give the form of both together; of two bases, which no stack has, the first."""
        base = self.base if self.base >= 0 else other.base
        if not (self.wide and other.wide):
            return (self if self.wide else other)._replace(base=base)
        return _Form(
            max(self.wide, other.wide),
            max(self.long, other.long),
            min(self.narrow, other.narrow),
            min(self.short, other.short),
            max(self.dense, other.dense),
            base,
        )


def _form_of(kind: int, unit: BlockUnit, across: int) -> _Form:
    if unit.only_base:
        return _Form(0, 0, 0, 0, 0, kind)
    wide, long = (nanometres(side) for side in course_plan(unit, across))
    return _Form(wide, long, wide, long, math.ceil(1000.0 * unit.density), -1)


def _forms(units: Sequence[BlockUnit], across: int) -> list[_Form]:
    """Give every form that some of the units together have, in a fixed order."""
    own = {_form_of(kind, unit, across) for kind, unit in enumerate(units)}
    found = set(own)
    new = own
    while new:
        new = {one.with_(other) for one in new for other in own} - found
        found |= new
        if len(found) > _MOST_FORMS:
            Faults().halt("block-stacks-too-many", variant="plans", count=len({form[:2] for form in own}))
    return sorted(found)


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
    forms: Sequence[_Form],
    *,
    limit: int,
    first: Literal["money", "units"],
) -> _Rows:
    """Allow 0, 1, 2 ... courses of one more unit: blocks of 1, 2, 4 ... reach every number in few steps."""
    thickness, pieces = nanometres(unit.thickness), pieces_in_course(unit, across)
    widened = _widened(_form_of(kind, unit, across), forms)
    left = unit.most_in_stack if unit.most_in_stack is not None else math.inf
    left = min(left, limit // thickness)
    once = (_BASE if unit.only_base else 0) | (_TOP if not unit.may_carry else 0)
    caps, below = _may_cap(unit), may_stand_below(unit)
    bits = once | (_HOLLOW * unit.hollow) | (_CAPPED * caps) | (_SOLID * below)
    block = 1
    while left > 0:
        laid = int(min(block, left))
        fits = (rows.heights + laid * thickness <= limit) & (rows.state & once == 0)
        courses = rows.courses[fits].copy()
        courses[:, kind] += laid
        had = rows.state[fits] % _STATES
        two = (caps or below) & ((laid > 1) | (had & (_CAPPED | _SOLID) != 0))
        added = _Rows(
            rows.heights[fits] + laid * thickness,
            widened[rows.state[fits] // _STATES] * _STATES + (had | bits | two * _TWO),
            courses,
            rows.price[fits] + laid * pieces * round(unit.price * MONEY_STEPS),
            rows.pieces[fits] + laid * pieces,
        )
        rows = _best(_joined(rows, added), first)
        left -= laid
        block *= 2
    return rows


def _may_cap(unit: BlockUnit) -> bool:
    return unit.may_cap and not unit.only_base


def may_stand_below(unit: BlockUnit) -> bool:
    """Say whether a unit may stand on the gravel below open cells: solid, thick, and no pad."""
    return not unit.hollow and unit.may_carry and not unit.only_base and unit.thickness > SOLID_BELOW - 1e-9


def _widened(own: _Form, forms: Sequence[_Form]) -> Ints:
    """Give for each form, and last for no stack at all, the place of the form with ``own`` added."""
    places = {form: number for number, form in enumerate(forms)}
    return np.array([*(places[form.with_(own)] for form in forms), places[own]], np.int64)


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
    place = rows.heights * _STATES * (_MOST_FORMS + 1) + rows.state
    keys = (rows.pieces, rows.price) if first == "money" else (rows.price, rows.pieces)
    order = np.lexsort((*keys, place))
    keep = order[np.concatenate([[True], np.diff(place[order]) > 0])]
    if len(keep) > MOST_ROWS:
        Faults().halt("block-stacks-too-many", variant="heights", most=f"{MOST_ROWS:,}")
    return _taken(rows, keep)


def _sound(rows: _Rows, form: _Form, ordered: Sequence[BlockUnit], across: int) -> _Rows:
    """Keep stacks whose open cells are capped and stand on something solid, and that are wide enough."""
    state = rows.state % _STATES
    below = (state & _BASE != 0) | (state & (_SOLID | _TWO) == _SOLID | _TWO)
    held = (state & _HOLLOW == 0) | ((state & _CAPPED != 0) & below)
    side = min(form.narrow, form.short)
    if form.wide == 0:  # a pad alone is a flat stone
        return _taken(rows, held)
    body = rows.heights - (nanometres(ordered[form.base].thickness) if form.base >= 0 else 0)
    most = np.where(state & _HOLLOW != 0, HOLLOW_SLENDERNESS, SOLID_SLENDERNESS) * side
    return _taken(rows, held & (body <= most + 1) & _fits_on(form, ordered, across))


def is_sound(units: Sequence[BlockUnit], courses: Sequence[int], across: int) -> bool:
    """Say whether so many ``courses`` of each unit make a stack as it may be built; the same rules, for one.

    >>> from gradework.foundations.piers.units import UNITS_ON_HAND
    >>> [is_sound(UNITS_ON_HAND["US"], courses, 1) for courses in ([1, 1, 0], [1, 2, 0], [4, 2, 0])]
    [False, True, False]
    """
    laid = [unit for unit, count in zip(units, courses, strict=True) for _ in range(count)]
    if not laid:
        return False
    hollow = any(unit.hollow for unit in laid)
    caps, solids = [u for u in laid if _may_cap(u)], [u for u in laid if may_stand_below(u)]
    based = any(unit.only_base for unit in laid)
    below = based or (bool(solids) and sum(_may_cap(u) or may_stand_below(u) for u in laid) > 1)
    body = [unit for unit in laid if not unit.only_base]
    sides = [min(course_plan(unit, across)) for unit in body]
    limit = HOLLOW_SLENDERNESS if hollow else SOLID_SLENDERNESS
    slim = bool(body) and sum(unit.thickness for unit in body) > limit * min(sides) + 1e-9
    return not slim and (not hollow or (bool(caps) and below))


def _fits_on(form: _Form, ordered: Sequence[BlockUnit], across: int) -> bool:
    """Say whether the courses stand on their base with their whole plan."""
    if form.base < 0:
        return True
    wide, long = (nanometres(side) for side in course_plan(ordered[form.base], across))
    return form.wide <= wide and form.long <= long


def _table(
    rows: _Rows,
    form: _Form,
    ordered: Sequence[BlockUnit],
    units: Sequence[BlockUnit],
    across: int,
    first: Literal["money", "units"],
) -> StackTable:
    rows = _best(replace(rows, state=np.zeros_like(rows.state)), first)
    as_given = [ordered.index(unit) for unit in units]
    courses = rows.courses[:, as_given]
    each = np.array([unit.mass * pieces_in_course(unit, across) for unit in units])
    base = ordered[form.base] if form.base >= 0 else None
    pad = (0.0, 0.0) if base is None else course_plan(base, across)
    wide, long, narrow, short = (side / NANOMETRES for side in form[:4])
    widest, foot = ((wide, long), (narrow, short)) if form.wide else (pad, pad)
    table = StackTable(
        (max(widest[0], pad[0]), max(widest[1], pad[1])),
        base,
        widest,
        foot,
        form.dense / 1000.0,
        tuple(units),
        across,
        rows.heights,
        courses,
        rows.pieces,
        rows.price,
        courses @ each,
    )
    for array in (table.heights, table.courses, table.pieces, table.price, table.mass):
        array.setflags(write=False)
    return table


def laid_order(units: Sequence[BlockUnit], courses: Sequence[int]) -> tuple[int, ...]:
    """Give the kinds of a stack from the bottom up: base, open cells, thick before thin solids, the cap.

    Open cells without a base pad stand on a solid block.

    ``courses`` holds the count for each of ``units``; the result repeats each kind that often.

    >>> from gradework.foundations.piers.units import UNITS_ON_HAND
    >>> laid_order(UNITS_ON_HAND["US"], [2, 2, 1])
    (1, 0, 0, 2, 1)
    """
    kinds = [kind for kind, count in enumerate(courses) for _ in range(int(count))]
    caps = sorted(
        (k for k in kinds if _may_cap(units[k])), key=lambda k: (units[k].may_carry, -units[k].thickness)
    )
    open_on_gravel = any(units[k].hollow for k in kinds) and not any(units[k].only_base for k in kinds)
    below = -1
    if open_on_gravel:
        # the cap is one that leaves a solid block to stand below the open cells
        caps = [k for k in caps if _left_below(units, kinds, k)] or caps
        below = next(iter(_left_below(units, kinds, caps[0])), -1) if caps else -1
    rest = sorted(kinds, key=lambda k: (not units[k].only_base, not units[k].hollow, -units[k].thickness))
    if below >= 0:
        rest.remove(below)
        rest.insert(0, below)
    if caps:
        # from behind: where the block below and the cap are of one kind, the first one stays where it is
        del rest[len(rest) - 1 - rest[::-1].index(caps[0])]
        rest.append(caps[0])
    return tuple(rest)


def _left_below(units: Sequence[BlockUnit], kinds: Sequence[int], cap: int) -> list[int]:
    """Give the kinds that may stand below open cells once one of ``cap`` is kept for the top, best first."""
    left = list(kinds)
    left.remove(cap)
    return sorted({k for k in left if may_stand_below(units[k])}, key=lambda k: (-units[k].thickness, k))
