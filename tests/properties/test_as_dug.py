"""Holes that came out otherwise than planned: the new stacks add up, keep the limits, and none cost less."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pier_oracles import NM, Form, exact, form_of, is_stack, tallest_body

from gradework.errors import CheckError
from gradework.foundations.piers import as_dug
from gradework.foundations.piers.as_dug import (
    AS_READ,
    SHIM_LIMIT,
    TRIM,
    AsRead,
    Rebuilt,
    Redesign,
    redesign,
)
from gradework.foundations.piers.plan import Pier, Piers
from gradework.foundations.piers.units import BlockUnit
from gradework.project.job.read import read_job
from gradework.project.plan import plan

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


Way = tuple[Fraction, tuple[int, ...], Form]
"""Money for gravel and digging, courses of each unit, and the form of the stack."""


@cache
def may_be_built(index: int) -> tuple[tuple[tuple[int, ...], Fraction, Form], ...]:
    """Every stack that one pier may get in its hole, by trying all counts: courses, height, form."""
    piers = planned()
    pier, spec = piers.piers[index], piers.spec
    tallest, found = exact(spec.limit_of(pier.across)), []
    counts = [range(min(int(tallest / exact(u.thickness)), u.most_in_stack or 99) + 1) for u in spec.on_hand]
    for laid in itertools.product(*counts):
        height = sum((n * exact(u.thickness) for n, u in zip(laid, spec.on_hand, strict=True)), Fraction(0))
        if not any(laid) or height > tallest:
            continue
        each = [u for n, u in zip(laid, spec.on_hand, strict=True) for _ in range(n)]
        form = form_of(each, pier.across)
        if not is_stack(each, form):
            continue
        body = height - exact(form.base.thickness if form.base else 0.0)
        wide = (form.plan.along / NM + 2 * spec.margin, form.plan.across / NM + 2 * spec.margin)
        if body <= tallest_body(form, pier.load, pier.corner, spec.loads.bearing) and all(
            need <= has + 1e-6 for need, has in zip(wide, pier.hole_size, strict=True)
        ):
            found.append((laid, height, form))
    return tuple(found)


def options(piers: Piers, pier: Pier, read: AsRead, deeper: float) -> list[Way]:
    """Every way to build this pier under the top. Naive, exact."""
    spec, prices, found = piers.spec, piers.prices, []
    assert piers.top is not None
    area = Fraction(pier.hole_size[0] * pier.hole_size[1])
    for laid, height, form in may_be_built(piers.piers.index(pier)):
        gap = exact(piers.top) - exact(read.bottom) - height
        dig = max(Fraction(0), exact(spec.bed_least) - gap)
        if dig > exact(deeper) + Fraction(2, 10**9) or gap > exact(spec.bed_most) + exact(SHIM_LIMIT):
            continue
        bed = min(gap + dig, exact(spec.bed_most))
        found.append((area * (Fraction(prices.gravel) * bed + Fraction(prices.digging) * dig), laid, form))
    return found


@settings(max_examples=25, deadline=None)
@given(read=holes(most=2), spare=st.integers(0, 2))
def test_no_other_stacks_cost_less(read: dict[str, AsRead], spare: int) -> None:
    """With nothing on hand every stack is bought; with blocks on hand only what is missing is.

    One best stack for each height is looked at, so with blocks on hand a dearer stack of the same height,
    made of blocks that are there anyway, may be missed: the search is held to the best of each height there.
    """
    piers = planned()
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
        looked_at = every if not have else [cheapest_of_each_height(piers, ways) for ways in every]
        best = min(money(piers, changed, ways, left) for ways in itertools.product(*looked_at))
        courses = [
            tuple(next((p.count for p in one.stack if p.unit == u), 0) for u in piers.spec.on_hand)
            for one in changed
        ]
        own = [next(w for w in ways if w[1] == laid) for ways, laid in zip(every, courses, strict=True)]
        bought, rest = money(piers, changed, own, left)
        assert bought == best[0]
        # prices of gravel and digging count in millionths
        assert float(rest - best[1]) < 1e-4


def pieces(unit: BlockUnit, across: int) -> int:
    """How many lie in one course: a wide slab is one."""
    return 1 if min(unit.length, unit.width) >= 14.9 * INCH else across


def money(
    piers: Piers, changed: Sequence[Rebuilt], ways: Sequence[Way], left: dict[str, int]
) -> tuple[Fraction, Fraction]:
    """What several ways cost together: blocks beyond those that are left first, then gravel and digging."""
    bought = Fraction(0)
    for k, unit in enumerate(piers.spec.on_hand):
        need = sum(way[1][k] * pieces(unit, one.pier.across) for one, way in zip(changed, ways, strict=True))
        bought += max(0, need - max(0, left.get(unit.name, 0))) * Fraction(str(unit.price))
    return bought, sum((way[0] for way in ways), Fraction(0))


def tried(piers: Piers, pier: Pier, read: AsRead) -> list[Way]:
    """The ways at the first depth that leaves any."""
    for deeper in (0.0,) if read.stuck else (TRIM, piers.spec.deeper):
        found = options(piers, pier, read, deeper)
        if found:
            return found
    return []


def cheapest_of_each_height(piers: Piers, ways: Sequence[Way]) -> list[Way]:
    """Of each height and form the stack that is cheapest to buy, as the search keeps them."""
    units, best = piers.spec.on_hand, {}
    for way in ways:
        height = sum((n * exact(u.thickness) for n, u in zip(way[1], units, strict=True)), Fraction(0))
        across = way[2].across
        each = [n * pieces(u, across) for n, u in zip(way[1], units, strict=True)]
        price = sum((n * Fraction(str(u.price)) for n, u in zip(each, units, strict=True)), Fraction(0))
        key = (height, way[2])
        if key not in best or (price, sum(each)) < best[key][0]:
            best[key] = (price, sum(each)), way
    return [way for _, way in best.values()]


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
    assert next(one for one in done.piers if one.pier.name == "1-1").bottom == pytest.approx(
        read["1-1"].bottom, abs=SMALL
    )
    keeps_the_limits(done, piers)
    # no level between the planned and the new one suits all holes
    for share in range(1, 10):
        between = piers.top + (done.top - piers.top) * share / 10
        assert redesign(replace(piers, top=between), read, {}).blocked


@pytest.mark.parametrize("part", ["bed", "shim", "deeper"])
def test_a_way_that_does_not_lead_to_the_top_is_caught(part: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check sees what the search says against what was read, so a slip of the search cannot pass."""
    ways = as_dug._fitting
    slip = {part: 1_000_000}

    def wrong(*given: object) -> Iterator[as_dug.Way]:
        for way in ways(*given):  # type: ignore[arg-type]
            yield replace(way, **{key: getattr(way, key) + more for key, more in slip.items()})

    monkeypatch.setattr(as_dug, "_fitting", wrong)
    with pytest.raises(CheckError, match="do not lead from its bottom to the top"):
        redesign(planned(), {}, {})


def test_nothing_read_changes_nothing() -> None:
    piers = planned()
    done = redesign(piers, {}, piers.units_by_kind())
    assert not done.moved
    assert not done.buy
    assert done.proved
    for one in done.piers:
        assert (one.kept, one.deeper, one.shim) == (True, 0.0, 0.0)
        assert one.bed == pytest.approx(one.pier.bed, abs=SMALL)
