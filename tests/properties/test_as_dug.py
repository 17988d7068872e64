"""Holes that came out otherwise than planned: the new stacks add up, keep the limits, and none cost less."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.foundations.piers.as_dug import AS_READ, SHIM_LIMIT, TRIM, AsRead, Redesign, redesign
from gradework.foundations.piers.plan import Pier, Piers
from gradework.foundations.piers.units import UNITS_ON_HAND, BlockUnit
from gradework.project.job.read import read_job
from gradework.project.plan import plan
from tests.oracle.pier_oracles import every_stack, exact

DEMO = Path(__file__).parents[2] / "data" / "orchard-studio"
INCH = 0.0254
SMALL = 2e-9  # the nanometres that bottoms are rounded by


@cache
def planned() -> Piers:
    job = read_job((DEMO / "job.toml").read_bytes())
    piers = plan(job, (DEMO / "yard.csv").read_bytes()).foundations.piers
    assert piers is not None
    return piers


@st.composite
def holes(draw: st.DrawFn, most: int = 3) -> dict[str, AsRead]:
    """One to three holes, up to 8 in off, some of them on rock."""
    names = draw(
        st.lists(st.sampled_from([p.name for p in planned().piers]), min_size=1, max_size=most, unique=True)
    )
    own = {pier.name: pier for pier in planned().piers}
    return {
        name: AsRead(own[name].bottom + draw(st.integers(-64, 48)) / 8 * INCH, stuck=draw(st.booleans()))
        for name in names
    }


def stock(piers: Piers, spare: int) -> dict[str, int]:
    return {name: count + spare for name, count in piers.units_by_kind().items()}


def keeps_the_limits(done: Redesign, piers: Piers) -> None:
    spec = piers.spec
    assert done.top is not None
    for one in done.piers:
        one.check()
        assert one.top == done.top
        assert one.height == pytest.approx(sum(p.unit.thickness * p.count for p in one.stack), abs=1e-8)
        assert [unit.name for unit in one.laid].count(one.stack[0].unit.name) == one.stack[0].count
        assert spec.bed_least - SMALL <= one.bed <= spec.bed_most + SMALL
        assert 0.0 <= one.shim <= SHIM_LIMIT + SMALL
        assert one.shim == 0.0 or one.bed == pytest.approx(spec.bed_most)  # gravel before shims
        assert -SMALL <= one.deeper <= (0.0 if one.read.stuck else spec.deeper) + SMALL
        assert one.height <= spec.stack_limit + SMALL
        assert one.laid[-1].may_cap or not any(unit.hollow for unit in one.laid)


@settings(max_examples=60, deadline=None)
@given(read=holes(), spare=st.integers(0, 2))
def test_new_stacks_add_up_and_keep_the_limits(read: dict[str, AsRead], spare: int) -> None:
    piers = planned()
    done = redesign(piers, read, stock(piers, spare))
    if done.top is None:
        return
    keeps_the_limits(done, piers)
    assert done.moved is bool(done.blocked)
    if not done.moved:
        # what was not read, and what still fits, stays as planned
        assert all(one.kept for one in done.piers if one.pier.name not in read)
    laid: dict[str, int] = {}
    for part in (part for one in done.piers for part in one.stack):
        laid[part.unit.name] = laid.get(part.unit.name, 0) + part.pieces
    have = stock(piers, spare)
    assert {unit.name: count for unit, count in done.buy} == {
        name: count - have.get(name, 0) for name, count in laid.items() if count > have.get(name, 0)
    }


def options(piers: Piers, pier: Pier, read: AsRead, deeper: float) -> list[tuple[Fraction, tuple[int, ...]]]:
    """Every stack of this pier under the top: money for gravel and digging, and its courses. Naive, exact."""
    spec, prices, found = piers.spec, piers.prices, []
    assert piers.top is not None
    area = Fraction(pier.hole_size[0] * pier.hole_size[1])
    bottom = exact(read.bottom)
    for laid in itertools.product(range(5), range(10), range(23)):
        height = sum((n * exact(u.thickness) for n, u in zip(laid, spec.units, strict=True)), Fraction(0))
        gap = exact(piers.top) - bottom - height
        dig = max(Fraction(0), exact(spec.bed_least) - gap)
        if dig > exact(deeper) + Fraction(2, 10**9) or gap > exact(spec.bed_most) + exact(SHIM_LIMIT):
            continue
        if laid[0] and not laid[1]:
            continue  # open cells are capped by the 4 in solid block only
        if not any(laid) or height > exact(spec.stack_limit):
            continue
        bed = min(gap + dig, exact(spec.bed_most))
        found.append((area * (Fraction(prices.gravel) * bed + Fraction(prices.digging) * dig), laid))
    return found


@settings(max_examples=25, deadline=None)
@given(read=holes(most=2), spare=st.integers(0, 2))
def test_no_other_stacks_cost_less(read: dict[str, AsRead], spare: int) -> None:
    """With nothing on hand every stack is bought; with blocks on hand only what is missing is.

    One best stack for each height is looked at, so with blocks on hand a dearer stack of the same height,
    made of blocks that are there anyway, may be missed: the search is held to the best of each height there.
    """
    piers = planned()
    assert piers.spec.units == UNITS_ON_HAND["US"]
    for have in ({}, stock(piers, spare)):
        done = redesign(piers, read, have)
        if done.top is None or done.moved:
            continue
        changed = [one for one in done.piers if not one.kept]
        if not changed:
            continue
        left = dict(have)
        for one in done.piers:
            if one.kept:
                for part in one.stack:
                    left[part.unit.name] = left.get(part.unit.name, 0) - part.pieces
        every = [tried(piers, one.pier, one.read) for one in changed]
        units = piers.spec.units
        best = min(money(units, ways, left) for ways in itertools.product(*every))
        courses = tuple(
            tuple(next((p.count for p in one.stack if p.unit == u), 0) for u in units) for one in changed
        )
        own = money(
            units,
            tuple(
                next(way for way in ways if way[1] == laid) for ways, laid in zip(every, courses, strict=True)
            ),
            left,
        )
        assert float(own - best) < 1e-4  # of the money; prices count in millionths


def money(
    units: Sequence[BlockUnit], ways: Sequence[tuple[Fraction, tuple[int, ...]]], left: dict[str, int]
) -> Fraction:
    """What the ways of several piers cost together: blocks beyond those that are left, gravel, digging."""
    need = [sum(laid[k] for _, laid in ways) for k in range(len(units))]
    lack = [max(0, n - max(0, left.get(u.name, 0))) for n, u in zip(need, units, strict=True)]
    bought = sum((n * Fraction(str(u.price)) for n, u in zip(lack, units, strict=True)), Fraction(0))
    return bought + sum((way[0] for way in ways), Fraction(0))


def tried(piers: Piers, pier: Pier, read: AsRead) -> list[tuple[Fraction, tuple[int, ...]]]:
    """The ways at the first depth that leaves any; of each height the stack that is cheapest to buy."""
    for deeper in (0.0,) if read.stuck else (TRIM, piers.spec.deeper):
        found = options(piers, pier, read, deeper)
        if found:
            best: dict[Fraction, tuple[Fraction, tuple[int, ...]]] = {}
            price = {}
            for height, cost, pieces, _ in every_stack(piers.spec.units, piers.spec.stack_limit):
                price.setdefault(height, []).append((cost, pieces))
            for way in found:
                units = piers.spec.units
                height = sum(
                    (n * exact(u.thickness) for n, u in zip(way[1], units, strict=True)), Fraction(0)
                )
                cost = sum(
                    (n * Fraction(str(u.price)) for n, u in zip(way[1], units, strict=True)), Fraction(0)
                )
                if (cost, sum(way[1])) == min(price[height]):
                    best[height] = way
            return list(best.values())
    return []


@settings(max_examples=60, deadline=None)
@given(
    off=st.lists(st.integers(-24, 16), min_size=8, max_size=8),
    deep=st.lists(st.integers(-8, 8), min_size=8, max_size=8),
)
def test_beds_that_are_laid_get_gravel_or_shims(off: list[int], deep: list[int]) -> None:
    """Every pier read twice: its hole as dug, and its bed up to 1 1/2 in low or 1 in high."""
    piers = planned()
    assert piers.top is not None
    read = {}
    for pier, low, more in zip(piers.piers, off, deep, strict=True):
        bottom = pier.bottom + more / 16 * INCH
        read[pier.name] = AsRead(bottom, pier.bottom + pier.bed + low / 16 * INCH)
    done = redesign(piers, read, stock(piers, 2))
    assert done.top is not None
    for one in done.piers:
        one.check()
        assert one.deeper == 0.0
        assert 0.0 <= one.shim <= SHIM_LIMIT + SMALL
        assert one.read.bed_top is not None
        slack = AS_READ + SMALL
        assert piers.spec.bed_least - slack <= one.bed <= piers.spec.bed_most + slack
        short = piers.top - one.pier.height - one.read.bed_top
        fits = piers.spec.bed_least <= one.read.bed_top - one.read.bottom <= piers.spec.bed_most
        if fits and one.kept and 0.0 <= short <= SHIM_LIMIT:
            assert (one.gravel, one.shim) == (0.0, pytest.approx(short, abs=SMALL))


def test_a_hole_on_rock_that_nothing_fits_moves_the_top_to_the_nearest_level_that_does() -> None:
    piers = planned()
    assert piers.top is not None
    high = next(pier for pier in piers.piers if pier.name == "1-1")
    read = {high.name: AsRead(piers.top - 4.5 * INCH, stuck=True)}
    done = redesign(piers, read, stock(piers, 2))
    assert done.blocked == ("1-1",)
    assert done.moved
    assert done.top is not None
    assert done.top > piers.top
    assert next(one for one in done.piers if one.pier.name == "1-1").bottom == read["1-1"].bottom
    keeps_the_limits(done, piers)
    # no level between the planned and the new one suits all holes
    for share in range(1, 10):
        between = piers.top + (done.top - piers.top) * share / 10
        assert redesign(replace(piers, top=between), read, {}).blocked


def test_nothing_read_changes_nothing() -> None:
    piers = planned()
    done = redesign(piers, {}, piers.units_by_kind())
    assert not done.moved
    assert not done.buy
    assert done.proved
    for one in done.piers:
        assert (one.kept, one.deeper, one.shim) == (True, 0.0, 0.0)
        assert one.bed == pytest.approx(one.pier.bed, abs=SMALL)
