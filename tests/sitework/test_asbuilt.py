"""As built: levels, the least reworking against a fine search, advice, squareness and corner moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.earthwork.outline import Outline
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.limits import checks_of_pier
from gradework.foundations.piers.plan import Pier, Piers
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.piers.stacks import course_plan
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND
from gradework.ground.surface import Surface
from gradework.sitework.asbuilt import (
    LEVEL_TOLERANCE,
    SHIM_LIMIT,
    _swaps,
    advice_for,
    best_common_level,
    check_levels,
    check_square,
    high_or_low,
    neighbouring_piers,
)
from gradework.units.amounts import M_PER_IN
from gradework.units.display import FEET, METRIC, Display

Ground = Callable[..., Surface]
HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))
SPEC = PierSpec(layout=RowLayout(rows=2, spacing=1.6))


@pytest.fixture(scope="module")
def piers(ground: Ground) -> Piers:
    xyz = np.array([(x, y, 100.0 + 0.06 * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    return design_piers(ground(xyz), HUT, SPEC, PierPrices(), FEET)


def rework(level: float, tops: list[float], tolerance: float) -> tuple[int, float]:
    moved = [abs(top - level) for top in tops if abs(top - level) > tolerance / 2 + 1e-9]
    return len(moved), sum(moved)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 400), min_size=1, max_size=8), st.integers(1, 60))
def test_no_level_of_a_fine_search_needs_less_rework(tenths: list[int], tolerance_tenths: int) -> None:
    tops, tolerance = [100.0 + t / 1e4 for t in tenths], tolerance_tenths / 1e4
    best = best_common_level(tops, tolerance, 100.0)
    count, moved = rework(best, tops, tolerance)
    for step in range(-100, 900):
        other, length = rework(100.0 + step / 2e4, tops, tolerance)
        assert (count, moved) <= (other, length + 1e-8)


def test_a_good_job_passes_and_is_left_alone(piers: Piers) -> None:
    assert piers.top is not None
    measured = {pier.name: piers.top + 0.001 * (k % 3 - 1) for k, pier in enumerate(piers.piers)}
    check = check_levels(measured, neighbouring_piers(piers), plan=piers.top, show=FEET, piers=piers)
    assert check.passed
    assert check.reworked == 0
    assert check.best == piers.top
    assert {point.advice for point in check.points} == {"leave it"}


def test_one_high_pier_fails_its_neighbours_only(piers: Piers) -> None:
    assert piers.top is not None
    measured = {pier.name: piers.top for pier in piers.piers}
    measured["1-2"] += 0.5 * M_PER_IN
    check = check_levels(measured, neighbouring_piers(piers), plan=piers.top, show=FEET, piers=piers)
    assert not check.passed
    wrong = {name for pair in check.pairs if not pair.ok for name in (pair.first, pair.second)}
    assert wrong == {"1-1", "1-2", "1-3", "2-2"}
    assert check.reworked == 1
    (point,) = (p for p in check.points if p.rework)
    assert point.name == "1-2"
    assert high_or_low(point.off_plan, FEET) == "0.04 ft high"


def test_a_job_that_is_all_low_by_the_same_passes(piers: Piers) -> None:
    assert piers.top is not None
    measured = {pier.name: piers.top - 0.05 for pier in piers.piers}
    check = check_levels(measured, neighbouring_piers(piers), plan=piers.top, show=FEET, piers=piers)
    assert check.passed
    assert check.reworked == 0
    assert check.best == pytest.approx(piers.top - 0.05, abs=LEVEL_TOLERANCE / 2 + 1e-12)
    assert all(point.off_plan == pytest.approx(-0.05) for point in check.points)


def test_a_quarter_inch_passes_and_more_does_not() -> None:
    def passed(difference: float) -> bool:
        tops = {"a": 100.0, "b": 100.0 + difference}
        return check_levels(tops, [("a", "b")], plan=100.0, show=FEET).passed

    assert passed(0.25 * M_PER_IN)
    assert not passed(0.26 * M_PER_IN)


def test_where_all_neighbours_agree_nothing_is_to_rework() -> None:
    tops = {"a": 100.0, "b": 100.006, "c": 100.012}
    check = check_levels(tops, [("a", "b"), ("b", "c")], plan=100.0, show=METRIC)
    assert (check.passed, check.reworked) == (True, 0)
    assert [point.name for point in check.spread] == ["c", "a"]
    worse = check_levels(tops, [("a", "b"), ("b", "c"), ("a", "c")], plan=100.0, show=METRIC)
    assert not worse.passed
    assert worse.reworked > 0


def test_tops_not_read_are_left_out_and_none_is_refused() -> None:
    check = check_levels({"a": 1.0}, [("a", "b")], plan=1.0, show=FEET)
    assert check.pairs == ()
    with pytest.raises(ValueError, match="no tops"):
        check_levels({}, [], plan=1.0, show=FEET)


def test_neighbours_of_two_rows_of_four(piers: Piers) -> None:
    pairs = neighbouring_piers(piers)
    assert ("1-1", "1-2") in pairs
    assert ("1-3", "2-3") in pairs
    assert len(pairs) == 3 + 3 + 4


def a_pier(piers: Piers, bed: float) -> Pier:
    return replace(piers.piers[0], bed=bed)


def test_advice_for_a_low_and_a_high_top(piers: Piers) -> None:
    middle = 0.5 * (SPEC.bed_least + SPEC.bed_most)
    pier = a_pier(piers, middle)
    assert advice_for(-0.5 * M_PER_IN, pier, SPEC, FEET) == "shim it up 1/2 in with a pair of shims"
    assert (
        advice_for(0.5 * M_PER_IN, pier, SPEC, FEET) == "take 1/2 in of gravel out of the bed, 4 1/2 in left"
    )
    no_shims = advice_for(-0.5 * M_PER_IN, pier, SPEC, FEET, shim=0.0)
    assert no_shims == "add 1/2 in of gravel to the bed, 5 1/2 in in all"
    assert advice_for(0.5 * M_PER_IN, None, None, FEET) == "take 1/2 in of gravel out of the bed"
    assert pytest.approx(M_PER_IN) == SHIM_LIMIT


def test_a_top_beyond_bed_and_shim_gets_another_unit(piers: Piers) -> None:
    pier = a_pier(piers, SPEC.bed_most)
    words = advice_for(-1.5 * M_PER_IN, pier, SPEC, FEET)
    assert "bed" in words
    assert "solid block" in words
    hopeless = advice_for(-2.0, pier, SPEC, FEET)
    assert hopeless.endswith("rebuild the stack")
    assert advice_for(2.0, pier, SPEC, FEET).endswith("dig the hole deeper")


@pytest.mark.parametrize(("country", "show"), [("UK", METRIC), ("US", FEET)])
def test_a_swap_fits_the_hole_that_is_dug_and_carries_the_pier(
    ground: Ground, country: str, show: Display
) -> None:
    """A slab wider than the blocks asks for a wider hole: it may be swapped in only where there is one."""
    xyz = np.array([(x, y, 50.0 + 0.08 * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])
    kind = PierSpec(
        units=UNITS_ON_HAND[country], pads=BASE_PADS[country], layout=RowLayout(rows=3, spacing=0.9)
    )
    made = design_piers(ground(xyz), HUT, kind, PierPrices(), show, in_full=False)
    swapped = 0
    for pier in made.piers:
        for off in (-0.15, -0.1, -0.07, -0.05, 0.05, 0.07, 0.1):
            for _, courses, _ in _swaps(off, pier, kind):
                now = pier.restacked(kind.on_hand, courses)
                plans = [course_plan(unit, now.across) for unit in now.laid]
                widest = max(plan[0] for plan in plans), max(plan[1] for plan in plans)
                need = kind.hole_of(widest)
                assert need[0] <= pier.hole_size[0] + 1e-9
                assert need[1] <= pier.hole_size[1] + 1e-9
                assert all(check.holds for check in checks_of_pier(now, kind.loads.bearing))
                swapped += 1
    assert swapped


def test_a_single_corner_pier_is_not_built_up_beyond_its_limit(piers: Piers) -> None:
    """Three blocks and a cap are the most at a corner; one 2 in block more would pass every other rule."""
    units = {unit.name: k for k, unit in enumerate(SPEC.on_hand)}
    courses = [0] * len(units)
    for name, count in (("8 in hollow block", 3), ("4 in solid block", 1), ("16 in concrete pad", 1)):
        courses[units[name]] = count
    at_corner = next(pier for pier in piers.piers if pier.corner)
    tall = replace(at_corner.restacked(SPEC.on_hand, courses), load=2.0, bed=0.13, hole_size=(0.7, 0.7))
    assert "add one 2 in solid block" in advice_for(-0.06, replace(tall, corner=False), SPEC, FEET)
    assert "add one" not in advice_for(-0.06, tall, SPEC, FEET)
    assert advice_for(-0.06, tall, SPEC, FEET).endswith("rebuild the stack")
    # nor is a load laid on ground that bears less
    soft = replace(SPEC, loads=replace(SPEC.loads, bearing=0.1))
    assert advice_for(-0.06, replace(tall, corner=False), soft, FEET).endswith("rebuild the stack")


def lengths(corners: np.ndarray) -> tuple[list[float], list[float]]:
    pairs = ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3))
    found = [float(np.hypot(*(corners[b] - corners[a]))) for a, b in pairs]
    return found[:4], found[4:]


RECTANGLE = np.array([[0.0, 0.0], [4.8, 0.0], [4.8, 3.6], [0.0, 3.6]])


def test_a_square_layout_passes() -> None:
    check = check_square(*lengths(RECTANGLE), size=(4.8, 3.6))
    assert check.passed
    assert check.moves == ()
    assert check.difference == pytest.approx(0.0, abs=1e-12)
    assert check.corners == pytest.approx(RECTANGLE, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 3), st.floats(0.02, 0.2), st.floats(0.0, 6.28))
def test_one_corner_off_is_the_one_to_move(corner: int, distance: float, direction: float) -> None:
    built = RECTANGLE.copy()
    built[corner] += distance * np.array([np.cos(direction), np.sin(direction)])
    check = check_square(*lengths(built), size=(4.8, 3.6))
    assert not check.passed
    assert check.misfit < 1e-6
    (move,) = check.moves
    assert move.number == corner + 1
    # A side held on a neighbour may let the others turn by less than they would be moved for.
    assert distance - LEVEL_TOLERANCE <= move.distance <= distance + 1e-6


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-0.05, 0.05), min_size=8, max_size=8))
def test_moves_lead_to_the_planned_rectangle(shifts: list[float]) -> None:
    built = RECTANGLE + np.array(shifts).reshape(4, 2)
    check = check_square(*lengths(built), size=(4.8, 3.6))
    moved = np.array(check.corners)
    for move in check.moves:
        moved[move.number - 1] += (move.along, move.across)
    if not check.passed:
        sides, diagonals = lengths(moved)
        # Corners nearer than half the tolerance are left where they are.
        assert sides == pytest.approx([4.8, 3.6, 4.8, 3.6], abs=0.0064)
        assert diagonals == pytest.approx([6.0, 6.0], abs=0.0064)


def test_a_leaning_layout_fails_by_its_diagonals() -> None:
    leaning = RECTANGLE + np.array([[0, 0], [0, 0], [0.03, 0], [0.03, 0]])
    check = check_square(*lengths(leaning), size=(4.8, 3.6))
    assert not check.passed
    assert check.difference == pytest.approx(abs(np.subtract(*lengths(leaning)[1])))


def test_a_wrong_tape_shows_as_misfit_or_is_refused() -> None:
    sides, diagonals = lengths(RECTANGLE)
    slip = check_square([sides[0] + 0.1, *sides[1:]], diagonals, size=(4.8, 3.6))
    assert slip.misfit > 0.01
    with pytest.raises(ValueError, match="do not belong"):
        check_square([4.8, 3.6, 4.8, 3.6], [6.0, 2.0], size=(4.8, 3.6))  # corners 2 and 4 on one side of 1-3
    with pytest.raises(ValueError, match="do not belong"):
        check_square([4.8, 3.6, 4.8, 3.6], [6.0, 9.9], size=(4.8, 3.6))
    with pytest.raises(ValueError, match="above 0"):
        check_square([4.8, 0.0, 4.8, 3.6], diagonals, size=(4.8, 3.6))


def test_a_pad_or_slab_is_not_shimmed() -> None:
    tops = {"a": 1.0, "b": 1.0, "c": 1.0, "low": 0.98, "high": 1.02}
    pairs = [("a", "low"), ("b", "high")]
    pad, slab = (
        {p.name: p.advice for p in check_levels(tops, pairs, plan=1.0, show=METRIC, built=built).points}
        for built in ("pad", "slab")
    )
    assert pad["a"] == slab["a"] == "leave it"
    assert (pad["low"], pad["high"]) == ("add 20 mm of gravel and compact it", "rake 20 mm of gravel off")
    assert slab["low"].startswith("raise the form 20 mm")
    assert slab["high"].startswith("lower the form 20 mm")
