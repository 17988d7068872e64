"""Piers planned on real ground: every pier adds up, laws that must hold, findings, and what is refused."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.errors import InputError
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.neighbours import overlapping
from gradework.foundations.piers.plan import Piers, difference_in_words
from gradework.foundations.piers.spec import FloorBuildUp, FrostRule, PierLoads, PierPrices, PierSpec
from gradework.foundations.piers.stacks import course_plan
from gradework.foundations.piers.top_problem import GOALS, Goal
from gradework.foundations.piers.units import UNITS_ON_HAND, BlockUnit
from gradework.foundations.timber.wood import Wood, section_of
from gradework.ground.surface import Surface
from gradework.units.amounts import KPA_PER_PSF, M_PER_IN
from gradework.units.display import FEET, METRIC

Ground = Callable[..., Surface]

# Skids and joists that carry whatever these tests ask of them.
STOUT = FloorBuildUp(section_of("6x6"), section_of("2x12"), wood=Wood("southern pine"))
HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))
TWO_ROWS = RowLayout(rows=2, spacing=1.6)
SPEC = PierSpec(layout=TWO_ROWS, floor=STOUT)
PRICES = PierPrices()


def slope(rise: float = 0.08, tilt: float = 0.03, shift: float = 100.0, x0: float = 0.0) -> np.ndarray:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0, 9.1, 1.0), np.arange(0, 8.1, 1.0)))
    bumps = 0.02 * np.sin(2.1 * x) * np.cos(1.7 * y)
    return np.column_stack((x + x0, y, shift + rise * x + tilt * y + bumps))


def plan_on(ground: Ground, xyz: np.ndarray, spec: PierSpec = SPEC, building: Outline = HUT) -> Piers:
    return design_piers(ground(xyz), building, spec, PRICES, FEET)


@pytest.mark.parametrize("goal", GOALS)
def test_every_pier_adds_up_and_keeps_its_limits(ground: Ground, goal: Goal) -> None:
    surface = ground(slope())
    plan = design_piers(surface, HUT, replace(SPEC, goal=goal), PRICES, FEET)
    assert plan.top is not None
    assert len(plan.piers) == 8
    for pier in plan.piers:
        height = sum(part.unit.thickness * part.count for part in pier.stack)
        assert pier.bottom + pier.bed + height == pytest.approx(plan.top, abs=1e-5)
        assert height == pytest.approx(sum(unit.thickness for unit in pier.laid))
        assert pier.bottom <= pier.ground_low - SPEC.least_dig + 1e-9
        assert SPEC.bed_least - 1e-9 <= pier.bed <= SPEC.bed_most + 1e-9
        assert 0.0 <= pier.deeper <= SPEC.deeper + 1e-9
        assert not pier.laid[-1].hollow
        corners = surface.elevation(pier.hole.rings[0])
        assert pier.ground_low <= corners.min() + 1e-9
        assert pier.ground_high >= corners.max() - 1e-9
        assert pier.bed_volume == pytest.approx(pier.bed * pier.hole.area)
    assert plan.units_total == sum(plan.units_by_kind().values())


def test_the_floor_lies_above_the_piers_by_skid_joist_and_boards(ground: Ground) -> None:
    plan = plan_on(ground, slope())
    assert plan.top is not None
    # 6x6, 2x12 and 3/4 in boards are 5 1/2, 11 1/4 and 3/4 in: 17 1/2 in (PS 20)
    assert STOUT.thickness == pytest.approx(17.5 * M_PER_IN)
    assert plan.floor_level == pytest.approx(plan.top + 17.5 * M_PER_IN)


def test_digging_is_the_ground_above_the_bottom(ground: Ground) -> None:
    plane = np.array([(x, y, 100.0 + 0.1 * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    for pier in plan_on(ground, plane).piers:
        assert pier.dig == pytest.approx(pier.hole.area * (100.0 + 0.1 * pier.x - pier.bottom), rel=1e-9)


def test_each_goal_is_best_at_what_it_asks_for(ground: Ground) -> None:
    plan = plan_on(ground, slope())
    by_goal = {choice.goal: choice for choice in plan.choices}
    assert set(by_goal) == set(GOALS)
    assert by_goal["least money"].cost == pytest.approx(min(c.cost for c in plan.choices))
    assert by_goal["fewest units"].units == min(c.units for c in plan.choices)
    assert by_goal["least digging"].dig == pytest.approx(min(c.dig for c in plan.choices))
    assert by_goal["lowest floor"].top == pytest.approx(min(c.top for c in plan.choices))
    assert by_goal["least money"].cost == pytest.approx(sum(pier.cost for pier in plan.piers))
    assert by_goal["least money"].top == plan.top


@pytest.mark.parametrize("goal", GOALS)
def test_a_shift_of_datum_shifts_levels_and_nothing_else(ground: Ground, goal: Goal) -> None:
    spec = replace(SPEC, goal=goal)
    here, there = plan_on(ground, slope(shift=100.0), spec), plan_on(ground, slope(shift=612.5), spec)
    assert here.top is not None
    assert there.top == pytest.approx(here.top + 512.5, abs=1e-8)
    for one, two in zip(here.piers, there.piers, strict=True):
        assert [(p.unit.name, p.count) for p in one.stack] == [(p.unit.name, p.count) for p in two.stack]
        assert two.bed == pytest.approx(one.bed, abs=1e-8)
        assert two.dig == pytest.approx(one.dig, rel=1e-6)


def test_order_of_given_piers_changes_nothing(ground: Ground) -> None:
    places = [("a", 2.5, 2.5), ("b", 6.0, 2.6), ("c", 2.6, 5.0), ("d", 6.1, 5.1), ("e", 4.2, 3.8)]
    one = plan_on(ground, slope(), replace(SPEC, positions=tuple(places)))
    two = plan_on(ground, slope(), replace(SPEC, positions=tuple(places[::-1])))
    assert one.top == two.top
    first = {p.name: (p.bottom, p.bed, [(s.unit.name, s.count) for s in p.stack]) for p in one.piers}
    assert first == {p.name: (p.bottom, p.bed, [(s.unit.name, s.count) for s in p.stack]) for p in two.piers}


def test_one_more_pier_on_level_ground_changes_nothing_else(ground: Ground) -> None:
    level = np.array([(x, y, 50.0) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    places = (("a", 3.0, 3.0), ("b", 6.0, 5.0))
    one = plan_on(ground, level, replace(SPEC, positions=places))
    two = plan_on(ground, level, replace(SPEC, positions=(*places, ("c", 3.0, 5.0))))
    assert one.top == two.top
    for before, after in zip(one.piers, two.piers[:2], strict=True):
        assert (before.bottom, before.bed, before.stack) == (after.bottom, after.bed, after.stack)


def test_feet_or_metres_plan_the_same_piers(ground: Ground) -> None:
    feet = design_piers(ground(slope()), HUT, SPEC, PRICES, FEET)
    metres = design_piers(ground(slope()), HUT, SPEC, PRICES, METRIC)
    assert feet.top == metres.top
    assert [p.stack for p in feet.piers] == [p.stack for p in metres.piers]


def test_alternatives_are_other_stacks_under_the_same_top(ground: Ground) -> None:
    plan = plan_on(ground, slope())
    seen = 0
    for pier in plan.piers:
        own = {part.unit.name: part.count for part in pier.stack}
        for other in pier.alternatives:
            seen += 1
            courses = dict(zip((u.name for u in SPEC.on_hand), other.courses, strict=True))
            assert courses != {u.name: own.get(u.name, 0) for u in SPEC.on_hand}
            height = sum(u.thickness * c for u, c in zip(SPEC.on_hand, other.courses, strict=True))
            assert pier.bottom - other.deeper + pier.bed + other.bed + height == pytest.approx(
                plan.top, abs=1e-8
            )
            assert other.money >= -1e-9
            assert ":" in other.words
    assert seen > 0


def test_words_of_an_alternative() -> None:
    units = UNITS_ON_HAND["US"]
    words = difference_in_words(units, [0, 1, 2], [0, 2, 0], -0.375 * M_PER_IN, 0.0, FEET)
    assert words == "one 4 in solid block instead of two 2 in solid blocks: bed 3/8 in thinner"
    assert difference_in_words(units, [1, 1, 0], [1, 1, 1], 0.0, 1.625 * M_PER_IN, FEET) == (
        "add one 2 in solid block: hole 1 5/8 in deeper"
    )
    assert difference_in_words(units, [1, 1, 1], [1, 1, 0], 0.0, 0.0, FEET) == (
        "leave out one 2 in solid block: nothing else changes"
    )


def codes(plan: Piers) -> dict[str, str]:
    return {finding.code: finding.severity for finding in plan.findings}


def test_findings_of_an_ordinary_plan(ground: Ground) -> None:
    found = codes(plan_on(ground, slope()))
    assert found["pier-uplift"] == "note"
    assert found["pier-frost"] == "note"
    assert "stop" not in found.values()


def test_a_thick_bed_in_a_shallow_hole_stands_above_the_ground(ground: Ground) -> None:
    spec = replace(SPEC, least_dig=1.0 * M_PER_IN, deeper=0.0)
    assert codes(plan_on(ground, slope(), spec))["pier-bed-above-ground"] == "warning"


def test_low_floors_heavy_pads_and_soft_ground_are_told(ground: Ground) -> None:
    spec = replace(
        SPEC,
        floor=replace(STOUT, treated=False),
        loads=PierLoads(bearing=60.0),
        frost=FrostRule(depth=1.0, eave=5.0),
        goal="lowest floor",
    )
    found = codes(plan_on(ground, slope(), spec))
    assert found["pier-floor-low"] == "warning"
    assert found["pier-frost"] == "warning"
    assert found["unit-heavy"] == "note"
    soft = codes(plan_on(ground, slope(), replace(spec, loads=PierLoads(bearing=10.0))))
    assert soft["pier-bearing"] == "stop"


def test_of_roof_and_snow_the_larger_counts() -> None:
    """30 psf of snow replaces the 20 of the roof, 15 psf does not."""
    psf = KPA_PER_PSF
    live = [PierLoads(snow=snow * psf).areas.roof_live / psf for snow in (0.0, 15.0, 30.0)]
    assert live == pytest.approx([20.0, 20.0, 30.0])


def test_heavy_snow_asks_for_wider_bases_until_none_is_enough(ground: Ground) -> None:
    def bases(snow: float) -> float:
        loads = PierLoads(snow=snow * KPA_PER_PSF)
        plan = plan_on(ground, slope(), replace(SPEC, loads=loads, floor=STOUT))
        if plan.top is None:
            assert codes(plan)["pier-bearing"] == "stop"
            (check,) = [check for check in plan.checks if check.check == "pier load"]
            assert check.holds is False
            return float("inf")
        return sum(math.prod(course_plan(pier.laid[0], pier.across)) for pier in plan.piers)

    spread = [bases(snow) for snow in (0.0, 30.0, 60.0, 600.0)]
    assert spread == sorted(spread)
    assert spread[0] < spread[2] < spread[3] == float("inf")


def test_holes_go_down_to_frost_by_choice(ground: Ground) -> None:
    frost = FrostRule(depth=0.5)
    shallow = plan_on(ground, slope(), replace(SPEC, frost=frost))
    deep = plan_on(ground, slope(), replace(SPEC, frost=replace(frost, dig=True)))
    assert min(pier.ground_low - pier.bottom for pier in shallow.piers) < 0.3
    # 0.5 m is 19.7 in: 20 in are dug
    assert min(pier.ground_low - pier.bottom for pier in deep.piers) == pytest.approx(20 * M_PER_IN, abs=1e-8)
    assert codes(shallow)["pier-frost"] == "note"
    assert "pier-frost" not in codes(deep)
    general = plan_on(ground, slope(), replace(SPEC, frost=FrostRule(dig=True)))
    assert min(p.ground_low - p.bottom for p in general.piers) == pytest.approx(12 * M_PER_IN, abs=1e-8)
    kept = replace(SPEC, least_dig=0.6, frost=replace(frost, dig=True))
    assert kept.hole_depth == pytest.approx(24 * M_PER_IN)


def test_the_ground_carries_what_is_laid_on_it(ground: Ground) -> None:
    """A double pier on one wide slab presses on that slab's width; on two blocks, on both of them."""
    wide = BlockUnit("wide slab", 2 * M_PER_IN, 0.45, 0.45, 20.0, 0.0, may_cap=False)
    block = BlockUnit("block", 5.5 * M_PER_IN, 0.45, 0.21, 20.0, 3.0)
    spec = replace(SPEC, units=(wide, block), pads=(), across=2, margin=0.4)
    plan = plan_on(ground, slope(), spec)
    (check,) = [check for check in plan.checks if check.check == "soil bearing"]
    pressures = []
    for pier in plan.piers:
        area = 0.45 * (0.45 if pier.laid[0] is wide else 2 * 0.21)
        pressures.append((pier.load + pier.mass * 9.80665e-3) / area)
    assert check.value == pytest.approx(max(pressures))
    assert wide in {pier.laid[0] for pier in plan.piers}


STEEP = np.array([(x, y, 100.0 + 0.25 * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])


def test_tall_stacks_are_doubled_pier_by_pier(ground: Ground) -> None:
    """Singles end below 36 in, and at 26 1/2 in above their pad where they stand at corners."""
    plan = plan_on(ground, STEEP, replace(SPEC, goal="fewest units"))
    assert plan.top is not None
    assert {pier.across for pier in plan.piers} == {1, 2}
    for pier in plan.piers:
        base = pier.laid[0].thickness if pier.laid[0].only_base else 0.0
        if pier.across == 1:
            assert pier.height < 36 * M_PER_IN
            if pier.corner:
                assert pier.height - base <= 26.5 * M_PER_IN + 1e-9
    assert {pier.corner for pier in plan.piers if pier.name in ("1-1", "2-1", "1-4", "2-4")} == {True}
    assert all(check.holds for check in plan.checks)
    forced = plan_on(ground, STEEP, replace(SPEC, goal="fewest units", across=2))
    assert {pier.across for pier in forced.piers} == {2}


def test_a_stack_taller_than_any_rule_is_told(ground: Ground) -> None:
    steep = np.array([(x, y, 100.0 + 0.4 * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    assert plan_on(ground, steep).top is None
    found = codes(plan_on(ground, steep, replace(SPEC, tallest=2.5)))
    assert found["pier-stack-too-tall"] == "stop"


@pytest.mark.parametrize("turned", [0, 1, 2, 3])
def test_corners_are_doubled_in_whatever_order_piers_are_given(ground: Ground, turned: int) -> None:
    """Rows and the same places given one by one: the same piers are double."""
    steep = np.array([(x, y, 100.0 + 0.14 * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    rows = plan_on(ground, steep, replace(SPEC, goal="fewest units", clearance=0.3))
    places = [(pier.name, pier.x, pier.y) for pier in rows.piers]
    mixed = tuple(places[turned::2] + places[:turned] + places[turned + 1 :: 2])
    one_by_one = plan_on(ground, steep, replace(rows.spec, positions=mixed))
    doubles = {pier.name for pier in rows.piers if pier.across == 2}
    assert doubles == {pier.name for pier in one_by_one.piers if pier.across == 2}
    assert {"1-1", "2-1"} <= doubles
    assert one_by_one.top == rows.top


def test_no_common_top_says_what_would_help(ground: Ground) -> None:
    steep = np.array([(x, y, 100.0 + 0.4 * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    plan = plan_on(ground, steep)
    assert plan.top is None
    assert plan.piers == ()
    finding = plan.findings[0]
    assert (finding.code, finding.severity) == ("piers-no-common-top", "stop")
    assert "stacks higher than" in finding.advice
    one_thick = BlockUnit("thick", 0.3, 0.4, 0.2, 20.0, 1.0)
    stuck = plan_on(ground, slope(rise=0.04), replace(SPEC, units=(one_thick,), deeper=0.0))
    assert "Allow beds up to" in stuck.findings[0].advice
    assert "deeper than they need to" in stuck.findings[0].advice
    uneven = replace(SPEC, units=(one_thick,), deeper=0.0, bed_most=0.15)
    metric = design_piers(ground(slope(rise=0.04)), HUT, uneven, PRICES, METRIC).findings[0].advice
    told = [int(figure) for figure in re.findall(r"(\d+) mm", metric)]
    assert len(told) >= 2
    assert all(figure % 5 == 0 for figure in told[1:])  # the first is the fall of the ground


def test_a_mend_for_no_common_top_works(ground: Ground) -> None:
    one_thick = BlockUnit("thick", 0.3, 0.4, 0.2, 20.0, 1.0)
    spec = replace(SPEC, units=(one_thick,), deeper=0.0)
    assert plan_on(ground, slope(rise=0.04), spec).top is None
    assert plan_on(ground, slope(rise=0.04), replace(spec, deeper=0.3)).top is not None


def test_a_top_that_is_given_is_kept_or_the_nearest_named(ground: Ground) -> None:
    best = plan_on(ground, slope())
    assert best.top is not None
    kept = plan_on(ground, slope(), replace(SPEC, top=best.top))
    assert kept.top == pytest.approx(best.top, abs=1e-9)
    refused = plan_on(ground, slope(), replace(SPEC, top=best.top + 3.0))
    assert refused.top is None
    assert "nearest that fit" in refused.findings[0].advice


def test_holes_outside_the_survey_and_overlapping_are_refused(ground: Ground) -> None:
    surface = ground(slope())
    edge = Outline.rectangle((0.0, 0.0), (4.8, 3.6))
    wide = replace(SPEC, layout=replace(TWO_ROWS, end_inset=0.05, side_inset=0.05))
    with pytest.raises(InputError) as refused:
        design_piers(surface, edge, wide, PRICES, FEET)
    assert len(refused.value.faults) >= 5
    assert "hole of pier 1-1" in refused.value.faults[0].found
    close = replace(SPEC, positions=(("a", 3.0, 3.0), ("b", 3.2, 3.1)))
    with pytest.raises(InputError, match="piers-overlap"):
        design_piers(surface, HUT, close, PRICES, FEET)


L_SHAPE = Outline.polygon(np.array([(2, 2), (10, 2), (10, 5), (6, 5), (6, 9), (2, 9)], float))
PLANE = np.array([(x, y, 50.0 + 0.02 * x) for x in (0.0, 7.0, 15.0) for y in (0.0, 7.0, 15.0)])


@pytest.mark.parametrize(
    ("building", "spec"),
    [
        (
            Outline.rectangle((2.0, 2.0), (7.3, 4.9)),
            PierSpec(loads=PierLoads(snow=3.6), layout=RowLayout(spacing=28 * M_PER_IN)),
        ),
        (
            L_SHAPE,
            PierSpec(floor=FloorBuildUp(section_of("4x6"), section_of("2x10"), wood=Wood("southern pine"))),
        ),
    ],
)
def test_a_wide_hole_stands_beside_narrow_ones(ground: Ground, building: Outline, spec: PierSpec) -> None:
    """One pier asks for a hole that two neighbours could not both have; its neighbours need none so wide."""
    plan = plan_on(ground, PLANE, spec, building)
    assert plan.top is not None
    sizes = [pier.hole_size for pier in plan.piers]
    assert not list(overlapping(plan.carried.local, sizes))
    like = [list(overlapping(plan.carried.local, [size] * len(sizes))) for size in set(sizes)]
    assert any(like)  # no plan with equal holes all over


def test_where_only_overlapping_holes_carry_it_is_told(ground: Ground) -> None:
    """A spacing that follows from the skids is not the builder's to widen: larger skids are."""
    for spacing, mend in ((20 * M_PER_IN, "give a wider spacing"), (None, "give larger skids")):
        heavy = PierSpec(loads=PierLoads(snow=3.6), layout=RowLayout(spacing=spacing))
        with pytest.raises(InputError) as refused:
            plan_on(ground, PLANE, heavy, Outline.rectangle((2.0, 2.0), (7.3, 4.9)))
        (fault,) = refused.value.faults
        assert fault.code == "piers-overlap"
        assert fault.fix.startswith(mend)


@pytest.mark.parametrize(
    "wrong",
    [
        {"bed_least": 0.2, "bed_most": 0.1},
        {"across": 3},
        {"goal": "best"},
        {"top": float("nan")},
        {"margin": -1.0},
    ],
)
def test_an_impossible_table_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError, match="pier-spec-impossible"):
        PierSpec(**wrong)  # type: ignore[arg-type]
