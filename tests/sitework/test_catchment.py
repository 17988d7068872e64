"""How much ground drains to walls, pads and what is dug beside them, and when that is only the least."""

from __future__ import annotations

from collections.abc import Callable

import flow_oracle
import numpy as np
import pytest

import gradework as gw
from gradework.earthwork.grading.swale import _ends as swale_ends
from gradework.earthwork.nearby import Nearby, Neighbour
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.near_water import outlets_of
from gradework.foundations.checks.wall_strips import PadTop
from gradework.ground.surface import Surface
from gradework.ground.water.catchment import drained
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import slivers
from gradework.sitework.catchment import (
    catchments_now,
    catchments_then,
    drains_to,
    finished_water,
    may_come_in,
    shots_above,
)
from gradework.sitework.drainage import check_drainage
from gradework.sitework.past_walls import WallMeasure, wall_measures
from gradework.units.display import METRIC

Ground = Callable[..., Surface]
MARKS = np.arange(0.0, 24.1, 2.0)
HUT = Outline.rectangle((10.0, 9.0), (4.0, 6.0))


def plane(ground: Ground, ridge: float = 99.0) -> Surface:
    """Falls 1 in 20 toward smaller x, up to a ridge beyond which it falls the other way."""
    return ground([(x, y, 100.0 + 0.05 * min(x, 2 * ridge - x)) for x in MARKS for y in MARKS])


def led(number: int) -> tuple[flow_oracle.Yard, PadTop, tuple[WallMeasure, ...]]:
    """A random yard with boards, its pad, and what is dug past its walls."""
    yard = flow_oracle.yard(number)
    assert yard.batter is None
    top = PadTop(yard.level, yard.pad)
    water = check_drainage(yard.surface, yard.building, show=METRIC, pad=top)
    made = wall_measures(
        yard.surface, yard.building, top, water, margin=flow_oracle.MARGIN, prices=flow_oracle.PRICES
    )
    return yard, top, tuple(one for one in made if one.dug is not None)


def test_a_wall_gets_the_strip_above_it_and_it_is_the_least_where_the_slope_goes_on(ground: Ground) -> None:
    """10 m by 6 from the wall to the edge of the survey; to a ridge at 18 m 4 by 6, and that is all of it."""
    areas = [one.area for one in catchments_now(plane(ground), HUT)]
    assert areas == pytest.approx([0.0, 60.0, 0.0, 0.0], abs=1e-5)
    assert [one.least for one in catchments_now(plane(ground), HUT)] == [False, True, False, False]
    known = catchments_now(plane(ground, 18.0), HUT)
    assert [one.area for one in known] == pytest.approx([0.0, 24.0, 0.0, 0.0], abs=1e-5)
    assert not any(one.least for one in known)
    assert [(one.kind, one.where) for one in known][1] == ("wall", "wall (corners 2-3)")


@pytest.mark.parametrize("number", [18, 53])
def test_on_finished_ground_all_of_it_comes_to_something(number: int) -> None:
    """What comes to the pad, to what is dug, and what passes over the edge: all ground but the pad's."""
    yard, top, made = led(number)
    finished = made[0].made.ground.surface if made[0].made else yard.surface
    water = finished_water(finished, top.outline, top.level)
    dug = [one.dug.dug - finished.origin for one in made[:1] if one.dug]
    ring = top.outline.rings[0] - finished.origin
    water.catch([np.stack((ring, np.roll(ring, -1, axis=0)), axis=1), *dug])
    row, side = np.nonzero((water.neighbours < 0) & (water.caught < 0))
    water.caught[row, side] = 2
    pad, swale, passes = drained(Flow(water, 3)).areas
    assert pad + swale + passes == pytest.approx(float(water.areas.sum()), rel=1e-9)
    thin = float(finished.triangle_areas[slivers(finished)].sum())
    assert thin < 0.005 * yard.surface.area
    every = float(water.areas.sum()) + thin
    assert every == pytest.approx(yard.surface.area - top.outline.area, rel=1e-6)
    assert swale > 1.0
    assert passes > 1.0
    told = catchments_then(finished, yard.building, top, {made[0].where: made[0].dug} if made[0].dug else {})
    assert [one.kind for one in told[-2:]] == ["pad", made[0].kind]
    assert told[-2].area == pytest.approx(pad, abs=1e-6)
    assert sum(one.area for one in told[:-2]) == pytest.approx(pad, abs=1e-6)
    assert told[-1].area == pytest.approx(swale, rel=1e-9)


@pytest.mark.parametrize(("number", "least"), [(0, True), (12, False), (16, False), (53, False)])
def test_it_is_open_where_more_drains_to_it_over_the_edge_and_not_where_the_slope_only_goes_on(
    number: int, least: bool
) -> None:
    """In yard 12 and 53 the survey ends on rising ground, whose water runs elsewhere; in 16 on none."""
    yard, _, (made, *_) = led(number)
    assert may_come_in(yard.surface, made.run.nearby) == (number != 16)
    assert (len(made.above) > 0) == least
    check = made.checked()
    assert check is not None
    assert check.holds is (None if least else True)
    rough = made.checked(told=False)
    assert rough is not None
    assert rough.holds in (None, check.holds)


def test_the_shots_lie_out_from_where_it_comes_in_and_none_behind_a_fence(ground: Ground) -> None:
    surface = plane(ground)
    line = np.array([[(16.0, y), (16.0, y + 2.0)] for y in (8.0, 10.0, 12.0, 14.0)])
    found = drains_to(surface, HUT, 101.0, line)
    assert found is not None
    assert float(found.areas[0]) == pytest.approx(64.0)
    assert found.falls == pytest.approx(0.05)
    near = Nearby(HUT)
    shots = shots_above(found, surface.origin, near)
    assert len(shots) == 3
    assert shots[:, 0] == pytest.approx(24.0 + 6.096)
    assert ((shots[:, 1] > 8.0) & (shots[:, 1] < 16.0)).all()
    fence = Neighbour("fence", "fence", np.array([(25.0, -9.0), (25.0, 40.0)]), False)
    assert len(shots_above(found, surface.origin, Nearby(HUT, (fence,)))) == 0


def test_what_runs_off_beside_the_pad_is_no_edge_of_the_survey(ground: Ground) -> None:
    """Ground that falls away from the pad to a line all round it begins at the pad."""
    cone = ground([(x, y, 102.0 - 0.1 * max(abs(x - 12.0), abs(y - 12.0))) for x in MARKS for y in MARKS])
    pad = Outline.rectangle((10.0, 10.0), (4.0, 4.0))
    ring = np.array([(6.0, 6.0), (18.0, 6.0), (18.0, 18.0), (6.0, 18.0)])
    found = drains_to(cone, pad, 103.0, np.stack((ring, np.roll(ring, -1, axis=0)), axis=1))
    assert found is not None
    assert float(found.areas[0]) == pytest.approx(12.0**2 - 4.0**2)
    assert found.inflow(0) == 0.0


@pytest.mark.parametrize(("number", "walls"), [(279, 2), (438, 3), (12, 2)])
def test_it_goes_on_past_a_wall_that_water_beyond_its_end_runs_along(number: int, walls: int) -> None:
    """The ground rises to it by less than an inch: along a plane all that passes the end would come to it."""
    yard, _, (made,) = led(number)
    assert len(made.walls) == walls
    assert made.made is not None
    ground = made.made.ground.surface
    flow = flow_oracle.flow_on(ground, yard.pad, yard.level)
    assert flow_oracle.area_reaching(flow, flow.beside) < 0.1
    assert set(made.walls) <= set(made.cured)
    assert made.kind != "drain"


def test_where_the_survey_ends_at_the_walls_nothing_is_known_to_drain_to_them() -> None:
    """Four corners and the middle, none beyond the building: whatever is planned, there is an answer."""
    shots = "station,x,y,elevation\nA,0,0,100\nB,16,0,100.3\nC,16,12,100.9\nD,0,12,100.6\nE,8,6,100.45\n"
    job = 'name = "Five, invented"\nunits = "ft"\n[survey]\nnotes = "five.csv"\n[building]\n'
    job += "size = [16, 12]\ncorner = [0, 0]\n"
    for kind in ("piers", "slab"):
        plan = gw.plan(gw.read_job(f"{job}[{kind}]\n".encode()), shots.encode())
        now, _ = plan.catchments
        assert [one.area for one in now] == [0.0] * 4
        assert plan.record()["footprint"]


def test_a_swale_ends_as_the_gate_sees_it_end() -> None:
    """Its way at an outlet just behind a corner is that of what is dug, not of what would follow."""
    _, _, found = led(227)
    checked = 0
    for one in found:
        if one.made is not None and one.made.kind != "drain" and len(one.made.outlets):
            ours = swale_ends(one.made.route, one.made.beside.surface.origin)
            theirs = np.array(tuple(outlets_of(one.made))).reshape(-1, 2, 2)
            assert ours == pytest.approx(theirs, abs=1e-6)
            checked += 1
    assert checked
