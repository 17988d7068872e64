"""Stack tables against a naive enumeration, and the rules on what may stand where."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.foundations import pier_stacks
from gradework.foundations.pier_stacks import laid_order, nanometres, stack_table
from gradework.foundations.units_on_hand import BASE_PAD, UNITS_ON_HAND, BlockUnit
from gradework.units.bulk import M_PER_IN as INCH

US = UNITS_ON_HAND["US"]


def _unit(name: str, thickness: float, price: float, **places: object) -> BlockUnit:
    return BlockUnit(name, thickness, 0.4, 0.2, 10.0, price, **places)  # type: ignore[arg-type]


def naive_stacks(units: Sequence[BlockUnit], tallest: float) -> dict[int, tuple[float, int]]:
    """Try every combination of counts by brute force: height [nm] -> (price, units) of the best one."""
    best: dict[int, tuple[float, int]] = {}
    ranges = []
    for unit in units:
        most = int(nanometres(tallest) // nanometres(unit.thickness))
        ranges.append(range(min(most, unit.most_in_stack or most) + 1))
    for counts in itertools.product(*ranges):
        height = sum(c * nanometres(u.thickness) for c, u in zip(counts, units, strict=True))
        laid = [u for c, u in zip(counts, units, strict=True) for _ in range(c)]
        if not laid or height > nanometres(tallest):
            continue
        if sum(not u.may_carry for u in laid) > 1 or sum(u.only_base for u in laid) > 1:
            continue
        if any(u.hollow for u in laid) and not any(u.may_cap and not u.only_base for u in laid):
            continue
        cost = (round(sum(u.price for u in laid), 6), len(laid))
        best[height] = min(cost, best.get(height, (1e9, 0)))
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
        units.append(_unit(f"u{number}", thickness, draw(st.integers(0, 60)) / 10, **places))
    return tuple(units)


@settings(max_examples=60, deadline=None)
@given(some_units(), st.integers(2, 16))
def test_table_equals_every_combination_tried(units: tuple[BlockUnit, ...], inches: int) -> None:
    table = stack_table(units, tallest=inches * INCH)
    found = {
        int(h): (round(int(p) / 1e6, 6), int(n))
        for h, p, n in zip(table.heights, table.price, table.pieces, strict=True)
    }
    assert found == naive_stacks(units, inches * INCH)
    assert (table.courses @ np.array([nanometres(u.thickness) for u in units]) == table.heights).all()
    assert (np.diff(table.heights) > 0).all()


@settings(max_examples=25, deadline=None)
@given(some_units(), st.randoms(use_true_random=False))
def test_order_of_the_unit_list_changes_nothing(units: tuple[BlockUnit, ...], random: object) -> None:
    turned = units[::-1]
    one, two = stack_table(units, tallest=0.4), stack_table(turned, tallest=0.4)
    assert (one.heights == two.heights).all()
    assert (one.courses == two.courses[:, ::-1]).all()


def test_a_hollow_stack_needs_a_cap() -> None:
    only_hollow = stack_table(US[:1], tallest=1.0)
    assert len(only_hollow.heights) == 0
    hollow_and_thin = stack_table((US[0], US[2]), tallest=0.5)
    assert (hollow_and_thin.courses[:, 0] == 0).all()
    with_cap = stack_table(US[:2], tallest=0.3)
    assert [1, 1] in with_cap.courses.tolist()


def test_a_base_pad_does_not_cap_open_cells() -> None:
    table = stack_table((US[0], BASE_PAD), tallest=1.0)
    assert table.courses.tolist() == [[0, 1]]


def test_cheapest_or_fewest() -> None:
    thick, thin = _unit("thick", 0.1, 9.0), _unit("thin", 0.05, 1.0)
    by_money = stack_table((thick, thin), tallest=0.1)
    by_units = stack_table((thick, thin), tallest=0.1, first="units")
    assert by_money.courses.tolist() == [[0, 1], [0, 2]]
    assert by_units.courses.tolist() == [[0, 1], [1, 0]]


def test_a_double_pier_lays_two_in_each_course_but_one_wide_pad() -> None:
    pad = BlockUnit("pad", 0.05, 0.4, 0.4, 18.0, 11.0, only_base=True)
    table = stack_table((*US[:2], pad), tallest=0.4, across=2)
    (row,) = (i for i, c in enumerate(table.courses.tolist()) if c == [1, 1, 1])
    assert table.pieces[row] == 5
    assert table.mass[row] == pytest.approx(2 * US[0].mass + 2 * US[1].mass + pad.mass)
    assert table.price[row] == round(1e6 * (2 * US[0].price + 2 * US[1].price + pad.price))


def test_stack_is_laid_base_first_and_cap_last() -> None:
    units = (*US, BASE_PAD)
    assert laid_order(units, [2, 2, 1, 1]) == (3, 0, 0, 1, 2, 1)
    cap_only = _unit("cap", 0.05, 1.0, may_carry=False)
    assert laid_order((cap_only, *US), [1, 1, 1, 0]) == (1, 2, 0)
    assert laid_order(US, [0, 0, 2]) == (2, 2)
    assert laid_order(units, [0, 0, 0, 1]) == (3,)


def test_no_units_and_doubled_names_are_refused() -> None:
    with pytest.raises(InputError, match="block-units-missing"):
        stack_table((), tallest=1.0)
    with pytest.raises(InputError, match="block-unit-twice"):
        stack_table((US[1], US[1]), tallest=1.0)


def test_too_many_heights_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pier_stacks, "MOST_ROWS", 20)
    with pytest.raises(InputError, match="block-stacks-too-many"):
        stack_table(US, tallest=2.0)
