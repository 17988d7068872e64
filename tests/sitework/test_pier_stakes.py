"""Rows of piers by string and running tape, and stakes that stand clear of the holes."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.errors import CheckError
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout, building_frame
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import PierLoads, PierPrices, PierSpec
from gradework.ground.surface import Surface
from gradework.sitework.pier_stakes import CLEAR, STEP, clear_of_holes, pier_stakes, row_stakes, row_strings
from gradework.sitework.setout import set_out
from gradework.sitework.staking import check_stakes, stakes_to_set
from gradework.units.display import FEET, Display

Ground = Callable[..., Surface]
HUT = Outline.rectangle((2.0, 2.0), (6.0, 4.0), 20.0)


def plane(size: float = 14.0) -> np.ndarray:
    x, y = np.meshgrid([-2.0, size / 2, size], [-2.0, size / 2, size])
    return np.column_stack([x.ravel(), y.ravel(), (100.0 + 0.05 * x - 0.08 * y).ravel()])


def piers_on(surface: Surface, **spec: object) -> Piers:
    spec.setdefault("layout", RowLayout(rows=2))
    return design_piers(surface, HUT, PierSpec(**spec), PierPrices(), FEET)  # type: ignore[arg-type]


@pytest.mark.parametrize("rows", [2, 3])
def test_the_running_tape_leads_to_the_middle_of_every_pier(ground: Ground, rows: int) -> None:
    piers = piers_on(ground(plane()), layout=RowLayout(rows=rows))
    strings = row_strings(HUT, piers, offset=1.2)
    assert len(strings) == rows
    places = {pier.name: (pier.x, pier.y) for pier in piers.piers}
    for string in strings:
        start, end = np.array(string.start), np.array(string.end)
        along = (end - start) / string.length
        assert string.length == pytest.approx(6.0 + 2 * 1.2)
        assert string.line == 1.2
        for name, run in string.places:
            assert start + run * along == pytest.approx(places[name], abs=1e-9)
        assert [run for _, run in string.places] == sorted(run for _, run in string.places)
    assert sum(len(string.places) for string in strings) == len(places)


def test_a_row_runs_inside_the_side_that_it_is_next_to(ground: Ground) -> None:
    piers = piers_on(ground(plane()))
    first, last = row_strings(HUT, piers, offset=1.2)
    inset = piers.spec.layout.side_inset
    assert (first.beside, last.beside) == ("1-2", "3-4")
    assert first.inside == pytest.approx(inset)
    assert last.inside == pytest.approx(inset)


def test_piers_that_stand_in_no_row_have_no_strings(ground: Ground) -> None:
    places = (("A", 4.0, 4.0), ("B", 6.0, 4.5), ("C", 4.5, 6.0))
    # three piers carry so much that only firm gravel bears them
    piers = piers_on(ground(plane()), positions=places, loads=PierLoads(bearing=150.0))
    assert row_strings(HUT, piers, offset=1.2) == ()
    assert len(pier_stakes(ground(plane()), HUT, piers)) == 3


def test_stakes_stand_clear_of_all_holes_a_round_distance_from_their_piers(ground: Ground) -> None:
    surface = ground(plane())
    piers = piers_on(surface)
    frame = building_frame(HUT, piers.spec.layout.along)
    stakes = pier_stakes(surface, HUT, piers, step=STEP)
    for stake, pier in zip(stakes, piers.piers, strict=True):
        assert stake.aside is not None
        assert (stake.aside.x, stake.aside.y) == (pier.x, pier.y)
        away = math.hypot(stake.x - pier.x, stake.y - pier.y)
        assert away == pytest.approx(stake.aside.distance)
        assert away / STEP == pytest.approx(round(away / STEP))
        assert clear_of_holes(piers, frame, stake.x, stake.y) >= CLEAR - 1e-9
        assert clear_of_holes(piers, frame, pier.x, pier.y) < 0.0
        assert stake.aside.toward == ("1-2" if pier.row == 1 else "3-4")
        assert stake.ground == pytest.approx(100.0 + 0.05 * stake.x - 0.08 * stake.y)


def test_a_stake_off_the_survey_goes_to_another_side(ground: Ground) -> None:
    tight = np.column_stack([HUT.grown(0.3).rings[0], [100.0, 100.1, 100.2, 100.1]])
    surface = ground(tight)
    stakes = pier_stakes(surface, HUT, piers_on(surface))
    assert all(stake.ground is not None for stake in stakes)
    assert {stake.aside.toward for stake in stakes if stake.aside} & {"1-2", "3-4"}


def test_the_whole_sheet_is_checked(ground: Ground) -> None:
    surface = ground(plane())
    piers = piers_on(surface)
    assert piers.top is not None
    stakes = stakes_to_set(surface, HUT, piers, piers.top)
    names = [stake.name for stake in stakes]
    assert {"row 1 start", "row 1 end", "row 2 start", "row 2 end"} <= set(names)
    sheet = set_out(stakes, instrument=103.0)
    check_stakes(sheet.points, surface, finished=piers.top, sight=(103.0, 0.0))
    # one rod reading for what all end at: the tops, and the strings that hang there
    assert [round(shared.level, 6) for shared in sheet.shared] == [round(piers.top, 6)]
    (shared,) = sheet.shared
    assert shared.reading is not None
    assert shared.reading.reading == pytest.approx(103.0 - piers.top)
    for point in sheet.points:
        own = {level for _, level in point.own_levels}
        assert piers.top not in own
        assert len(own) == (2 if point.stake.kind == "pier" else 0)
    moved = [point for point in sheet.points if point.stake.aside]
    object.__setattr__(moved[0].stake, "x", moved[0].stake.x + 0.01)
    with pytest.raises(CheckError):
        check_stakes(sheet.points, surface, finished=piers.top, sight=(103.0, 0.0))


def test_the_depth_of_a_hole_is_said_in_inches(ground: Ground) -> None:
    surface = ground(plane())
    piers = piers_on(surface)
    sheet = set_out(pier_stakes(surface, HUT, piers))
    point = sheet.points[0]
    assert point.stake.ground is not None
    depth = point.stake.ground - piers.piers[0].bottom
    assert point.mark_text(FEET) == f"C {FEET.depth(depth)}"
    assert point.mark_text(Display("m")) == f"C {depth * 1000:.0f} mm"
    assert point.marked_for == "bottom of hole"


def test_row_stakes_are_marked_for_their_string(ground: Ground) -> None:
    surface = ground(plane())
    strings = row_strings(HUT, piers_on(surface), offset=1.2)
    stakes = row_stakes(surface, strings, grade=101.0)
    assert [stake.name for stake in stakes] == ["row 1 start", "row 1 end", "row 2 start", "row 2 end"]
    assert {stake.worked_to for stake in stakes} == {(("string", 101.0),)}
