"""Whole plans on ground, units and rules drawn at random: a plan that adds up, a stop finding, or a fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.errors import InputError
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.piers.top_problem import GOALS
from gradework.foundations.piers.units import UNITS_ON_HAND, BlockUnit
from gradework.foundations.slab.design import design_slab
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.ground.surface import Surface
from gradework.units.amounts import M_PER_IN
from gradework.units.display import FEET, METRIC

Ground = Callable[..., Surface]


@st.composite
def units(draw: st.DrawFn) -> tuple[BlockUnit, ...]:
    places = (
        {"hollow": True, "may_cap": False},
        {},
        {"may_cap": False},
        {"may_carry": False},
        {"only_base": True},
        {"most": 2},
    )
    return tuple(
        BlockUnit(
            f"unit {number}",
            draw(st.integers(30, 250)) / 1000,
            draw(st.integers(200, 450)) / 1000,
            draw(st.integers(90, 250)) / 1000,
            draw(st.integers(1, 40)),
            draw(st.integers(0, 900)) / 100,
            **draw(st.sampled_from(places)),  # type: ignore[arg-type]
        )
        for number in range(draw(st.integers(1, 5)))
    )


@st.composite
def specs(draw: st.DrawFn) -> PierSpec:
    bed = draw(st.integers(0, 150)) / 1000
    return PierSpec(
        units=draw(units()),
        layout=RowLayout(rows=draw(st.integers(1, 3)), spacing=draw(st.integers(8, 30)) / 10),
        goal=draw(st.sampled_from(GOALS)),
        across=draw(st.sampled_from((1, 1, 2))),
        margin=draw(st.integers(0, 150)) / 1000,
        least_dig=draw(st.integers(0, 400)) / 1000,
        deeper=draw(st.integers(0, 300)) / 1000,
        bed_least=bed,
        bed_most=bed + draw(st.integers(0, 150)) / 1000,
        tallest=draw(st.none() | st.integers(100, 1700).map(lambda mm: mm / 1000)),
        clearance=draw(st.integers(-100, 300)) / 1000,
        top=draw(st.none() | st.none() | st.integers(99, 103).map(float)),
    )


def terrain(seed: int, steep: float) -> np.ndarray:
    random = np.random.default_rng(seed)
    xy = np.concatenate([random.uniform(-1, 11, (40, 2)), [(-1, -1), (11, -1), (11, 11), (-1, 11)]])
    z = 100.0 + xy @ (random.normal(0, 1, 2) * steep) + 0.05 * random.normal(0, 1, len(xy))
    return np.column_stack((xy, z))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(spec=specs(), seed=st.integers(0, 999), steep=st.floats(0.0, 0.15), turn=st.floats(-180, 180))
def test_a_plan_adds_up_or_says_why_there_is_none(
    ground: Ground, spec: PierSpec, seed: int, steep: float, turn: float
) -> None:
    surface = ground(terrain(seed, steep))
    building = Outline.rectangle((5.0, 5.0), (4.0, 3.0), turn)
    try:
        plan = design_piers(surface, building, spec, PierPrices(), FEET)
    except InputError as refused:
        if {fault.code for fault in refused.faults} != {"piers-overlap"}:
            raise
        return
    if plan.top is None:
        assert "stop" in {finding.severity for finding in plan.findings}
        assert plan.piers == ()
        return
    if spec.top is None:
        assert plan.top >= clip(surface, building).highest + spec.clearance - 1e-8
    else:
        assert plan.top == pytest.approx(spec.top, abs=1e-8)
    assert sum(pier.tributary for pier in plan.piers) == pytest.approx(12.0)
    for pier in plan.piers:
        height = sum(part.unit.thickness * part.count for part in pier.stack)
        assert pier.bottom + pier.bed + height == pytest.approx(plan.top, abs=1e-5)
        assert pier.bottom <= pier.ground_low - spec.least_dig + 1e-8
        assert height <= spec.stack_limit + 1e-8
        assert pier.dig >= pier.hole.area * spec.least_dig - 1e-9
        hollow = any(unit.hollow for unit in pier.laid)
        assert not hollow or pier.laid[-1].may_cap
        assert not pier.laid[-1].hollow
        assert all(unit.may_carry for unit in pier.laid[:-1])
        assert all(not unit.only_base for unit in pier.laid[1:])


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(spec=specs(), more=units(), seed=st.integers(0, 999), steep=st.floats(0.0, 0.1))
def test_a_unit_more_on_the_list_never_makes_the_best_plan_worse(
    ground: Ground, spec: PierSpec, more: tuple[BlockUnit, ...], seed: int, steep: float
) -> None:
    surface, building = ground(terrain(seed, steep)), Outline.rectangle((3.0, 3.0), (4.0, 3.0))
    layout = RowLayout(rows=2, spacing=3.0)
    added = tuple(replace(unit, name=f"more {unit.name}") for unit in more[:2])
    least = {
        "least money": lambda plan: sum(pier.cost for pier in plan.piers),
        "fewest units": lambda plan: plan.units_total,
        "least digging": lambda plan: sum(pier.dig for pier in plan.piers),
        "lowest floor": lambda plan: plan.top,
    }[spec.goal]
    spec = replace(spec, layout=layout, tallest=0.9)
    before = design_piers(surface, building, spec, PierPrices(), FEET, in_full=False)
    wider = replace(spec, units=(*spec.units, *added))
    after = design_piers(surface, building, wider, PierPrices(), FEET, in_full=False)
    if before.top is not None:
        assert after.top is not None
        assert least(after) <= least(before) * (1.0 + 1e-9)


def test_a_wide_slab_that_no_pier_uses_changes_nothing(ground: Ground) -> None:
    """The hole takes what is laid in it: a listed slab of 450 mm must not widen holes for 215 mm blocks."""
    surface, building = ground(terrain(3, 0.05)), Outline.rectangle((3.0, 3.0), (5.0, 4.0))
    blocks = UNITS_ON_HAND["UK"][:2]
    dear = replace(UNITS_ON_HAND["UK"][2], price=99.0)
    without, listed = (
        design_piers(surface, building, PierSpec(units=units), PierPrices(), METRIC)
        for units in (blocks, (*blocks, dear))
    )
    assert without.top is not None
    hole = 17 * M_PER_IN, 26 * M_PER_IN  # 215 and 440 mm with 4 in all round, on to whole inches
    assert all(pier.hole_size == pytest.approx(hole) for pier in without.piers)
    assert (listed.top, listed.cost_total) == (without.top, pytest.approx(without.cost_total))
    assert [p.stack for p in listed.piers] == [p.stack for p in without.piers]
    assert [p.dig for p in listed.piers] == pytest.approx([p.dig for p in without.piers])


def test_each_pier_has_the_hole_of_its_own_stack(ground: Ground) -> None:
    surface, building = ground(terrain(3, 0.05)), Outline.rectangle((3.0, 3.0), (5.0, 4.0))
    slab = replace(UNITS_ON_HAND["UK"][2], price=0.5)
    spec = PierSpec(units=(*UNITS_ON_HAND["UK"][:2], slab), goal="least money")
    plan = design_piers(surface, building, spec, PierPrices(), METRIC)
    seen = set()
    for pier in plan.piers:
        wide = slab in pier.laid
        seen.add(wide)
        assert pier.hole_size == pytest.approx([side * M_PER_IN for side in ((26, 26) if wide else (17, 26))])
        assert pier.hole.area == pytest.approx(pier.hole_size[0] * pier.hole_size[1])
        assert pier.bed_volume == pytest.approx(pier.bed * pier.hole.area)
    assert seen == {True, False}


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 999),
    steep=st.floats(0.0, 0.15),
    turn=st.floats(-180, 180),
    deep=st.floats(0.1, 0.5),
    base=st.floats(0.0, 0.3),
    level=st.none() | st.floats(99.0, 102.0),
)
def test_a_slab_balances_on_any_ground(
    ground: Ground, seed: int, steep: float, turn: float, deep: float, base: float, level: float | None
) -> None:
    surface = ground(terrain(seed, steep))
    building = Outline.rectangle((5.0, 5.0), (4.0, 3.0), turn)
    spec = SlabSpec(level=level, edge_depth=deep, thickness=0.1, base=base)
    slab = design_slab(surface, building, spec, SlabPrices(), FEET)
    under = clip(surface, building)
    # Dug less placed below the slab is the ground less the slab's underside, whatever the edge does.
    net = (under.mean - (slab.level - spec.thickness)) * building.area
    assert slab.dig - slab.gravel - slab.rib == pytest.approx(net, abs=1e-6)
    assert sum(form.length for form in slab.forms) == pytest.approx(building.perimeter)
    assert slab.concrete.needed >= slab.concrete.volume
