"""Stack tables against a naive enumeration, and the rules on what may stand where."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.foundations.piers import stacks
from gradework.foundations.piers.stacks import StackTable, laid_order, nanometres, stack_tables
from gradework.foundations.piers.units import BASE_PAD, UNITS_ON_HAND, BlockUnit
from gradework.units.amounts import M_PER_IN as INCH

US = UNITS_ON_HAND["US"]


def _unit(
    name: str, thickness: float, price: float, plan: tuple[float, float] = (0.4, 0.2), **places: object
) -> BlockUnit:
    return BlockUnit(name, thickness, *plan, 10.0, price, **places)  # type: ignore[arg-type]


def only_table(units: Sequence[BlockUnit], **how: object) -> StackTable:
    """Give the one table that has stacks."""
    (table,) = stack_tables(units, **how)  # type: ignore[arg-type]
    return table


def form_of(laid: Sequence[BlockUnit]) -> tuple[object, ...]:
    """What keeps stacks apart: base, plan of the widest and of the narrowest course of the rest, density."""
    base = [u.name for u in laid if u.only_base]
    rest = [u for u in laid if not u.only_base] or list(laid)
    short, long = [min(u.length, u.width) for u in rest], [max(u.length, u.width) for u in rest]
    dense = max((round(u.density) for u in laid if not u.only_base), default=0)
    return tuple(base), (max(short), max(long)), (min(short), min(long)), dense


def sound(laid: Sequence[BlockUnit]) -> bool:
    """Open cells have a cap above and a pad or another solid block below; no stack is too slender."""
    pads, blocks = [u for u in laid if u.only_base], [u for u in laid if not u.only_base]
    hollow = any(u.hollow for u in blocks)
    caps = [k for k, u in enumerate(blocks) if u.may_cap]
    solids = [
        k for k, u in enumerate(blocks) if not u.hollow and u.may_carry and u.thickness > 3.499999 * INCH
    ]
    if hollow and not (caps and (pads or any(cap != solid for cap in caps for solid in solids))):
        return False
    if not blocks:
        return True
    for pad in pads:
        size = pad.least_side, max(pad.length, pad.width)
        if any(u.least_side > size[0] or max(u.length, u.width) > size[1] for u in blocks):
            return False
    body = sum(u.thickness for u in blocks)
    return body <= (4 if hollow else 10) * min(u.least_side for u in blocks) + 1e-9


def naive_stacks(units: Sequence[BlockUnit], tallest: float) -> dict[tuple[object, ...], tuple[float, int]]:
    """Try every combination of counts by brute force: form, height [nm] -> (price, units) of the best one."""
    best: dict[tuple[object, ...], tuple[float, int]] = {}
    ranges = []
    for unit in units:
        most = int(nanometres(tallest) // nanometres(unit.thickness))
        ranges.append(range(min(most, unit.most_in_stack or most) + 1))
    for counts in itertools.product(*ranges):
        height = sum(c * nanometres(u.thickness) for c, u in zip(counts, units, strict=True))
        laid = [u for c, u in zip(counts, units, strict=True) for _ in range(c)]
        if not laid or height > nanometres(tallest):
            continue
        if sum(not u.may_carry for u in laid) > 1 or sum(u.only_base for u in laid) > 1 or not sound(laid):
            continue
        cost = (round(sum(u.price for u in laid), 6), len(laid))
        key = (*form_of(laid), height)
        best[key] = min(cost, best.get(key, (1e9, 0)))
    return best


@st.composite
def some_units(draw: st.DrawFn) -> tuple[BlockUnit, ...]:
    units = []
    for number in range(draw(st.integers(1, 4))):
        place = draw(st.sampled_from(["hollow", "solid", "cap", "base", "thin", "few"]))
        places: dict[str, object] = {
            "hollow": {"hollow": True, "may_cap": False},
            "solid": {},
            "cap": {"may_carry": False},
            "base": {"only_base": True},
            "thin": {"may_cap": False},
            "few": {"most": 2},
        }[place]
        thickness = draw(st.integers(6, 64)) / 8 * INCH
        plan = draw(st.sampled_from([(0.4, 0.2), (0.2, 0.4), (0.3, 0.3), (0.45, 0.3), (0.45, 0.45)]))
        units.append(_unit(f"u{number}", thickness, draw(st.integers(0, 60)) / 10, plan, **places))
    return tuple(units)


@settings(max_examples=60, deadline=None)
@given(some_units(), st.integers(2, 16))
def test_table_equals_every_combination_tried(units: tuple[BlockUnit, ...], inches: int) -> None:
    tables = stack_tables(units, tallest=inches * INCH)
    found = {
        (
            () if table.base is None else (table.base.name,),
            table.widest,
            table.foot,
            round(table.density),
            int(h),
        ): (round(int(p) / 1e6, 6), int(n))
        for table in tables
        for h, p, n in zip(table.heights, table.price, table.pieces, strict=True)
    }
    assert found == naive_stacks(units, inches * INCH)
    for table in tables:
        assert (table.courses @ np.array([nanometres(u.thickness) for u in units]) == table.heights).all()
        assert (np.diff(table.heights) > 0).all()


@settings(max_examples=25, deadline=None)
@given(some_units(), st.randoms(use_true_random=False))
def test_order_of_the_unit_list_changes_nothing(units: tuple[BlockUnit, ...], random: object) -> None:
    turned = units[::-1]
    pairs = zip(stack_tables(units, tallest=0.4), stack_tables(turned, tallest=0.4), strict=True)
    for one, two in pairs:
        assert one.plan == two.plan
        assert (one.heights == two.heights).all()
        assert (one.courses == two.courses[:, ::-1]).all()


def test_a_hollow_stack_needs_a_cap() -> None:
    assert stack_tables(US[:1], tallest=1.0) == ()
    hollow_and_thin = only_table((US[0], US[2]), tallest=0.5)
    assert (hollow_and_thin.courses[:, 0] == 0).all()


def blocks_and_pad(tallest: float) -> tuple[StackTable, StackTable]:
    """Give the stacks of blocks alone, and of blocks on a pad; a pad by itself is a third table."""
    tables = stack_tables((*US[:2], BASE_PAD), tallest=tallest)
    (blocks,) = [table for table in tables if table.base is None]
    (on_pad,) = [table for table in tables if table.base is not None and len(table.heights) > 1]
    return blocks, on_pad


def test_a_hollow_stack_stands_on_a_solid_block_or_a_pad() -> None:
    blocks, on_pad = blocks_and_pad(tallest=0.4)
    assert [1, 1, 0] not in blocks.courses.tolist()
    assert [1, 2, 0] in blocks.courses.tolist()
    assert [1, 1, 1] in on_pad.courses.tolist()
    thin = _unit("thin solid", 3.4 * INCH, 1.0, may_cap=False)
    for table in stack_tables((US[0], thin, US[1]), tallest=0.35):
        assert (table.courses[:, 0] == 0).all()  # a hollow block, a cap and the thin one are 0.37 m


def test_no_stack_is_more_slender_than_its_limit() -> None:
    """Unfilled open cells to 4 times the least side, 30 1/2 in of 7 5/8 in; solid ones to 10 times."""
    table = only_table(US, tallest=1.5)
    hollow = table.courses[:, 0] > 0
    assert table.heights[hollow].max() <= nanometres(30.5 * INCH)
    assert table.heights.max() > nanometres(30.5 * INCH)
    brick = _unit("brick", 0.06, 1.0, (0.2, 0.05))
    assert only_table((brick,), tallest=1.5).heights.max() <= nanometres(0.5)
    _, on_pad = blocks_and_pad(tallest=1.5)
    assert on_pad.heights[on_pad.courses[:, 0] > 0].max() > nanometres(30.5 * INCH)  # the pad does not count


def test_a_base_pad_does_not_cap_open_cells() -> None:
    assert only_table((US[0], BASE_PAD), tallest=1.0).courses.tolist() == [[0, 1]]


def test_cheapest_or_fewest() -> None:
    thick, thin = replace(_unit("thick", 0.1, 9.0), mass=20.0), _unit("thin", 0.05, 1.0)
    by_money = only_table((thick, thin), tallest=0.1)
    by_units = only_table((thick, thin), tallest=0.1, first="units")
    assert by_money.courses.tolist() == [[0, 1], [0, 2]]
    assert by_units.courses.tolist() == [[0, 1], [1, 0]]


def test_a_double_pier_lays_two_in_each_course_but_one_wide_pad() -> None:
    pad = BlockUnit("pad", 0.05, 0.4, 0.4, 18.0, 11.0, only_base=True)
    blocks, alone, table = sorted(
        stack_tables((*US[:2], pad), tallest=0.4, across=2),
        key=lambda t: (t.base is not None, len(t.heights)),
    )
    assert alone.courses.tolist() == [[0, 0, 1]]
    assert blocks.plan == pytest.approx((15.25 * INCH, 15.625 * INCH))
    assert table.plan == pytest.approx((0.4, 0.4))
    assert (blocks.courses[:, 2] == 0).all()
    (row,) = (i for i, c in enumerate(table.courses.tolist()) if c == [1, 1, 1])
    assert table.pieces[row] == 5
    assert table.mass[row] == pytest.approx(2 * US[0].mass + 2 * US[1].mass + pad.mass)
    assert table.price[row] == round(1e6 * (2 * US[0].price + 2 * US[1].price + pad.price))


def test_a_thin_brick_on_the_list_does_not_make_the_blocks_of_a_double_pier_single() -> None:
    brick = BlockUnit("brick", 2.25 * INCH, 0.194, 0.092, 2.0, 0.8)
    for units in (US[:2], (*US[:2], brick)):
        assert stack_tables(units, tallest=0.3, across=2)[-1].pieces.min() == 2


def test_stack_is_laid_base_first_and_cap_last() -> None:
    units = (*US, BASE_PAD)
    assert laid_order(units, [2, 2, 1, 1]) == (3, 0, 0, 1, 2, 1)
    assert laid_order(units, [2, 2, 1, 0]) == (1, 0, 0, 2, 1)
    cap_only = _unit("cap", 0.05, 1.0, may_carry=False)
    assert laid_order((cap_only, *US), [1, 1, 1, 0]) == (2, 1, 0)
    assert laid_order(US, [0, 0, 2]) == (2, 2)
    assert laid_order(units, [0, 0, 0, 1]) == (3,)


def test_no_units_and_doubled_names_are_refused() -> None:
    with pytest.raises(InputError, match="block-units-missing"):
        only_table((), tallest=1.0)
    with pytest.raises(InputError, match="block-unit-twice"):
        only_table((US[1], US[1]), tallest=1.0)


def test_too_many_heights_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stacks, "MOST_ROWS", 20)
    with pytest.raises(InputError, match="block-stacks-too-many"):
        only_table(US, tallest=2.0)
