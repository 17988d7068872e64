"""The swales past a pad's walls: for which walls, whether they cure them, what they carry, what is told."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import flow_oracle
import numpy as np
import pytest
import shapely

from gradework.earthwork.grading.capacity import RAIN
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.sides import room_shape
from gradework.earthwork.materials import GRAVELS
from gradework.earthwork.nearby import Kind, Nearby, Neighbour
from gradework.earthwork.outline import Outline
from gradework.earthwork.rings import contains
from gradework.earthwork.room import room_ground
from gradework.errors import Finding
from gradework.foundations.checks.drainage_rules import IRC_2015
from gradework.foundations.checks.near_water import outlets_of
from gradework.foundations.checks.wall_strips import PadTop
from gradework.ground.surface import Surface
from gradework.sitework import past_walls
from gradework.sitework.drainage import check_drainage
from gradework.sitework.heaped import LedPrices, heaped, money_for
from gradework.sitework.order_laid import led_lines
from gradework.sitework.past_walls import (
    KINDS,
    WallMeasure,
    _on_own_side,
    cure_of,
    led,
    measure_past,
    wall_measures,
)
from gradework.sitework.past_walls_told import measure_findings
from gradework.sitework.supplier import Supplier
from gradework.sitework.wall_run import runs_of
from gradework.units.display import FEET, METRIC

Ground = Callable[..., Surface]

BUILDING = Outline.rectangle((12.3, 10.3), (5.4, 3.4))
PAD = PadTop(10.0, BUILDING.grown(0.3))


def hillside(ground: Ground, size: float = 30.0, up: float = 0.1) -> Surface:
    """Rises toward +y, 0.1 m over the pad at its uphill edge, y = 14."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, size) for y in (0.0, 9.0, 16.0, size)]
    return ground([(x, y, 10.1 + up * (y - 14.0)) for x, y in places])


def measures(surface: Surface) -> tuple[WallMeasure, ...]:
    water = check_drainage(surface, BUILDING, show=METRIC, pad=PAD)
    return wall_measures(surface, BUILDING, PAD, water, margin=0.3)


@pytest.mark.parametrize(
    ("numbers", "count", "runs"),
    [([2], 4, [(2, 2)]), ([0, 3], 4, [(3, 4)]), ([0, 2, 4], 6, [(0, 0), (2, 2), (4, 4)]),
     ([0, 1, 2, 3], 4, [(0, 3)]), ([0, 1, 5], 6, [(5, 7)])],
)  # fmt: skip
def test_walls_next_to_each_other_get_one_swale(
    numbers: list[int], count: int, runs: list[tuple[int, int]]
) -> None:
    assert runs_of(numbers, count) == runs


def test_what_is_dug_for_the_edge_is_not_dug_again(ground: Ground) -> None:
    """Working room and swale meet uphill: together they take the ground down to the lower of both, cell by
    cell; the swale looks as it did."""
    surface, step = hillside(ground), 0.02
    [dug] = room_ground(surface, PAD.outline, room=0.3, slope=1.0).volumes(np.array([9.9]))
    room = room_shape(PAD.outline.grown(0.3).rings[0] - surface.origin, 9.9, 1.0)
    water = check_drainage(surface, BUILDING, show=METRIC, pad=PAD)
    (alone,) = wall_measures(surface, BUILDING, PAD, water, margin=0.3)
    (beside,) = wall_measures(surface, BUILDING, replace(PAD, room=room), water, margin=0.3)
    assert alone.dug is not None
    assert beside.dug is not None
    x, y = (a.ravel() for a in np.meshgrid(*(np.arange(0.0, 30.0, step) + step / 2,) * 2))
    places = np.stack((x, y), axis=1)
    places = places[~contains(PAD.outline.rings[0], places)]
    away = np.maximum(PAD.outline.rings[0].min(axis=0) - places, places - PAD.outline.rings[0].max(axis=0))
    bottom = 9.9 + np.maximum(away.max(axis=1) - 0.3, 0.0)
    bottom = np.minimum(bottom, beside.dug.ground.surface.elevation(places))
    together = float(np.maximum(surface.elevation(places) - bottom, 0.0).sum()) * step**2
    assert dug + beside.dug.cut == pytest.approx(together, rel=1e-3)
    assert dug + alone.dug.cut > 1.02 * together
    assert beside.dug.fill == alone.dug.fill


def test_walls_across_the_slope_are_cured(ground: Ground) -> None:
    """The uphill wall, and the two beside it, from which a slope across falls nothing outward."""
    (made,) = measures(hillside(ground))
    assert made.walls == ("wall (corners 2-3)", "wall (corners 3-4)", "wall (corners 4-1)")
    assert made.where == "walls (corners 2-3, 3-4 and 4-1)"
    assert made.made is not None
    assert made.made.daylights
    assert made.cured == made.walls
    assert [one.code for one in measure_findings((made,), METRIC)] == ["catchment-open"]


def test_on_the_finished_ground_the_same_rule_finds_nothing_out_to_the_swale(ground: Ground) -> None:
    (made,) = measures(hillside(ground))
    assert made.made is not None
    near = IRC_2015.changed(reach=made.made.offset + 0.3)
    before = check_drainage(hillside(ground), BUILDING, show=METRIC, rule=near, pad=PAD)
    after = check_drainage(made.made.ground.surface, BUILDING, show=METRIC, rule=near, pad=PAD)
    assert {ray.wall for ray in before.after if ray.verdict == "toward"} >= {"wall (corners 3-4)"}
    assert [ray for ray in after.after if ray.verdict == "toward"] == []


def test_the_catchment_is_what_drains_to_it(ground: Ground) -> None:
    """A raster of the finished ground, flooded apart from the program; the roof sheds its rain, too."""
    (made,) = measures(hillside(ground, up=0.1))
    assert made.made is not None
    assert made.flow is not None
    step = 0.1
    flow = flow_oracle.flow_on(made.made.ground.surface, PAD.outline, PAD.level, step)
    line = shapely.MultiLineString(list(made.made.dug))
    axes = np.arange(0.5 * step, 30.0, step)
    cells = shapely.points(np.stack(np.meshgrid(axes, axes), axis=-1))
    comes = flow_oracle.reaching(flow, shapely.distance(cells, line) <= 0.6 * step) & ~flow.pad
    assert made.catchment == pytest.approx(float(comes.sum()) * step**2, rel=0.03)
    assert made.catchment < made.most_catchment == pytest.approx(900.0 - PAD.outline.area)
    assert made.flow.flow == pytest.approx(RAIN * (0.35 * made.catchment + 0.95 * BUILDING.area))


def test_where_water_only_runs_off_slowly_there_is_nothing_to_lead_past(ground: Ground) -> None:
    """All ground falls away by 2 %: too little by the rule, but none of it comes to a wall."""
    far = np.array([(x, y) for x in (0.0, 12.0, 15.0, 18.0, 30.0) for y in (0.0, 10.0, 12.0, 14.0, 30.0)])
    away = np.maximum(np.abs(far[:, 0] - 15.0) - 3.0, np.abs(far[:, 1] - 12.0) - 2.0)
    surface = ground(np.column_stack((far, 10.0 - 0.02 * np.maximum(away, 0.0))))
    water = check_drainage(surface, BUILDING, show=METRIC, pad=PAD)
    assert "too little" in {ray.verdict for ray in water.after}
    assert measures(surface) == ()


def test_water_from_all_sides_has_nowhere_to_go(ground: Ground) -> None:
    places = np.array([(x, y) for x in (0.0, 12.0, 18.0, 30.0) for y in (0.0, 10.0, 14.0, 30.0)])
    bowl = 9.9 + 0.1 * np.maximum(np.abs(places[:, 0] - 15.0) - 3.0, np.abs(places[:, 1] - 12.0) - 2.0)
    made = measures(ground(np.column_stack((places, bowl))))
    assert [(len(one.walls), one.made) for one in made] == [(4, None)]


def test_it_says_where_to_shoot_when_it_does_not_come_out(ground: Ground) -> None:
    """The survey ends half a metre below the pad."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (9.5, 12.0, 16.0, 30.0)]
    (made,) = measures(ground([(x, y, 10.1 + 0.1 * (y - 14.0)) for x, y in places]))
    assert made.made is not None
    assert not made.made.daylights
    assert made.cured == ()
    codes = {one.code: one for one in measure_findings((made,), FEET)}
    told = codes["swale-no-outlet"]
    assert told.severity == "note"
    for x, y in made.made.more_shots:
        assert FEET.place(float(x), float(y)) in told.advice
    assert "74 gal/min" in told.advice


def off_the_survey(ground: Ground, up: float, more: float = 0.0) -> list[Finding]:
    """What is told of a bank where the survey ends 3 m (and ``more``) above the pad."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 14.5, 17.0 + more)]
    surface = ground([(x, y, 10.1 + up * (y - 14.0)) for x, y in places])
    return [one for one in measure_findings(measures(surface), METRIC) if one.code == "swale-leaves-survey"]


@pytest.mark.parametrize("up", [0.05, 0.1, 0.16])
def test_a_bank_off_the_survey_is_told_and_shots_as_far_out_as_it_says_are_enough(
    ground: Ground, up: float
) -> None:
    """The ground rises beyond too, so that the bank goes on for longer than on level ground."""
    (told,) = off_the_survey(ground, up)
    assert told.value is not None
    assert told.value > 0.04
    said = re.search(r"at least ([0-9.]+) m farther out", told.advice)
    assert said is not None
    assert off_the_survey(ground, up, float(said[1])) == []


def test_fill_that_runs_off_the_survey_is_no_bank(ground: Ground) -> None:
    """The pad's own slope, filled downhill past the edge of the survey, lies above the ground."""
    places = [(x, y) for x in (4.0, 11.0, 19.0, 26.0) for y in (9.3, 9.6, 14.5, 30.0)]
    surface = ground([(x, y, 10.1 + 0.1 * (y - 14.0)) for x, y in places])
    water = check_drainage(surface, BUILDING, show=METRIC, pad=PAD)
    made = wall_measures(surface, BUILDING, PAD, water, margin=0.3, batter=Batter(2.0, 0.0, 0.0))
    assert [one.made.bank_leaves for one in made if one.made is not None] == [None]


def test_what_does_not_fit_is_told(ground: Ground) -> None:
    """The survey ends half a metre above the pad: there is no ground for a line."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 14.5)]
    surface = ground([(x, y, 10.1 + 0.1 * (y - 14.0)) for x, y in places])
    made = measures(surface)
    assert [one.made for one in made] == [None]
    assert [one.code for one in measure_findings(made, METRIC)] == ["swale-does-not-fit"]


def test_what_may_come_from_beyond_the_survey_is_open_with_three_shots_up_there(ground: Ground) -> None:
    """A hillside that goes on: at least so much; on a ridge within the survey all of it is known."""
    (made,) = measures(hillside(ground))
    check = made.checked()
    assert check is not None
    assert check.holds is None
    assert check.limit == pytest.approx(made.flow.most if made.flow else 0.0)
    assert 1 <= len(made.above) <= 3
    assert made.above[:, 1].min() > 30.0  # uphill, beyond the survey
    [told] = [one for one in measure_findings((made,), METRIC) if one.code == "catchment-open"]
    for x, y in made.above.tolist():
        assert METRIC.place(x, y) in told.advice
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 20.0, 30.0)]
    ridge = ground([(x, y, 10.1 + 0.1 * (min(y, 40.0 - y) - 14.0)) for x, y in places])
    (known,) = measures(ridge)
    assert len(known.above) == 0
    check = known.checked()
    assert check is not None
    assert check.holds is True
    assert check == known.checked(told=False) or known.catchment < known.most_catchment
    assert [one for one in measure_findings((known,), METRIC) if one.code == "catchment-open"] == []
    assert made.carry is not None
    brook = made.carry(made.run, 1.0)
    flooded = replace(made, carry=lambda *_: brook)
    for told in (True, False):
        check = flooded.checked(told=told)
        assert check is not None
        assert check.holds is False


def test_no_shot_is_asked_for_beyond_a_wall_up_there(ground: Ground) -> None:
    """The survey ends at a fence all along its uphill rim: nobody gets beyond."""
    surface = hillside(ground)
    fence = Neighbour("fence", "fence", np.array([(-9.0, 30.2), (39.0, 30.2)]), False)
    near = Nearby(BUILDING, (fence,))
    water = check_drainage(surface, BUILDING, show=METRIC, pad=PAD, nearby=near)
    (made,) = wall_measures(surface, BUILDING, PAD, water, margin=0.3, nearby=near)
    assert len(made.above) == 0


def test_a_swale_that_would_wash_out_is_lined(ground: Ground, monkeypatch: pytest.MonkeyPatch) -> None:
    """24 in wide and 4 in thick along all of it: dug, ordered, and not seeded; what is seen stays."""
    (grass,) = measures(hillside(ground))
    monkeypatch.setattr(past_walls, "FASTEST", 0.1)
    (stone,) = measures(hillside(ground))
    assert grass.made is not None
    assert stone.made is not None
    area = 0.6096 * grass.made.length
    assert (grass.made.stone, grass.made.fabric) == (0.0, 0.0)
    assert stone.made.fabric == pytest.approx(area)
    assert stone.made.stone == pytest.approx(0.1016 * area)
    assert stone.made.cut == pytest.approx(grass.made.cut + stone.made.stone)
    assert stone.made.bare == pytest.approx(grass.made.bare - area)
    lines = [line.item for line in led_lines(led([stone]), Supplier.us(), FEET)]
    assert len(lines) == 4
    assert lines[0].endswith("for the swale")
    assert stone.cured == grass.cured


def beside_a_fence(ground: Ground, off: float) -> tuple[WallMeasure, ...]:
    """A fence right across, ``off`` from the uphill edge of the pad."""
    surface = hillside(ground)
    y = float(PAD.outline.rings[0][:, 1].max()) + off
    fence = Neighbour("fence", "fence", np.array([(0.0, y), (30.0, y)]), False)
    near = Nearby(BUILDING, (fence,))
    water = check_drainage(surface, BUILDING, show=METRIC, pad=PAD, nearby=near)
    return wall_measures(surface, BUILDING, PAD, water, margin=0.3, nearby=near)


@pytest.mark.parametrize(
    ("off", "kind"), [(6.0, "swale"), (2.5, "drain"), (1.0, None)], ids=["wide", "tight", "too tight"]
)
def test_a_pipe_drain_is_laid_where_no_swale_fits(ground: Ground, off: float, kind: str | None) -> None:
    """The bank of a swale would run over the fence; the drain needs less room, and none fits at a metre."""
    (made,) = beside_a_fence(ground, off)
    assert (None if made.made is None else made.made.kind) == kind
    assert made.passed == {"drain": "does not fit"}.get(kind or "", "")
    assert made.cured == (made.walls if kind else ())


def test_the_kinds_are_tried_in_their_order_and_the_first_that_cures_all_is_taken(ground: Ground) -> None:
    (made,) = measures(hillside(ground))
    swale, _, _, drain = KINDS
    assert [kind.kind for kind in KINDS] == ["swale", "apron", "plain_apron", "drain"]
    both = [measure_past(made.run, kinds).made for kinds in ((swale, drain), (drain, swale))]
    assert [one.kind for one in both if one is not None] == ["swale", "swale"]
    never = swale._replace(design=lambda _: None)
    found = measure_past(made.run, (never, drain))
    assert found.made is not None
    assert (found.made.kind, found.passed, found.cured) == ("drain", "does not fit", made.walls)
    assert measure_past(made.run, (never,)).made is None


def test_the_cheaper_of_swale_and_apron_is_taken_and_the_other_told(ground: Ground) -> None:
    """A pad 8 in above its uphill edge: soil that is at hand is cheaper than digging; where digging costs
    nothing and soil is dear, it is the other way round."""
    surface = ground([(x, y, 10.0 + 0.08 * (y - 14.3)) for x in range(0, 31, 3) for y in range(0, 31, 3)])
    building = Outline.rectangle((12.0, 10.0), (6.0, 4.0))
    pad = PadTop(10.2, building.grown(0.3))
    water = check_drainage(surface, building, show=METRIC, pad=pad)
    usual = LedPrices(30.0, 15.0, 27.0, 0.04, 4.0, 1.2, compaction=0.9, spare=3.0)
    odd = usual._replace(dig=0.0, haul=0.0, earth=500.0, spare=0.0)
    for prices, taken, other in ((usual, "apron", "swale"), (odd, "swale", "apron")):
        (made,) = wall_measures(surface, building, pad, water, margin=0.3, prices=prices)
        assert made.cured == made.walls
        assert made.kind == taken
        assert made.other is not None
        assert made.other[0] == other
        assert made.money < made.other[1]
        assert made.passed == ("costs more" if taken == "apron" else "")


def test_soil_is_taken_from_the_dig_first_and_the_rest_is_bought() -> None:
    """Two measures share what is at hand."""
    one: Any = SimpleNamespace(cut=1.0, fill=2.7, stone=0.0, pipe=0.0, solid=0.0, fabric=0.0)
    assert heaped([one], 0.9, 5.0) == pytest.approx((1.0, 2.0, 0.0))
    assert heaped([one, one], 0.9, 3.0) == pytest.approx((2.0, 3.0, 1.0))
    free = LedPrices(0.0, 10.0, 100.0, 0.0, 0.0, 0.0, compaction=0.9, spare=1.5)
    assert money_for(one, free) == pytest.approx(-1.5 * 10.0 + 0.5 * 100.0)


def test_the_catchment_of_what_is_not_made_is_nothing_and_of_what_is_not_followed_all() -> None:
    of: Any = WallMeasure.catchment
    drained = SimpleNamespace(areas=np.array([12.5, 3.0]))
    for followed, made, area in ((None, None, 0.0), (None, object(), 40.0), (drained, object(), 12.5)):
        assert of.fget(SimpleNamespace(_drained=followed, made=made, most_catchment=40.0)) == area


@pytest.mark.parametrize(("daylights", "dug"), [(None, False), (False, False), (True, True)])
def test_only_what_comes_out_on_the_survey_is_dug(daylights: bool | None, dug: bool) -> None:
    made = None if daylights is None else SimpleNamespace(daylights=daylights)
    of: Any = WallMeasure.dug
    assert (of.fget(SimpleNamespace(made=made)) is not None) is dug


@pytest.mark.parametrize(
    ("x", "shots", "kept"),
    [
        (1.0, [], True),  # this side of the fence at x = 5, and it comes out
        (6.0, [], False),
        (1.0, [(2.0, 0.0), (7.0, 0.0)], True),  # one of the shots can be taken
        (1.0, [(6.0, 0.0), (7.0, 0.0)], False),  # nobody will know whether it comes out
    ],
)
def test_what_runs_beyond_a_fence_or_can_never_be_seen_is_left(
    x: float, shots: list[tuple[float, float]], kept: bool
) -> None:
    nearby: Any = SimpleNamespace(stops=["fence"], beyond=lambda places: np.asarray(places)[:, 0] > 5.0)
    bottoms = np.array([[(x, 0.0, 1.0), (x, 1.0, 1.0), (x - 0.5, 1.0, 1.0)]])
    made: Any = SimpleNamespace(bottoms=bottoms, more_shots=np.array(shots, dtype=float).reshape(-1, 2))
    assert (_on_own_side(nearby, made) is made) is kept


def test_money_for_digging_hauling_earth_stone_pipe_and_fabric() -> None:
    """0.9 m³ heaped is 1.0 in place: of 4 m³ dug 3 are hauled. Clean stone weighs what it does compacted."""
    one: Any = SimpleNamespace(cut=4.0, fill=0.9, stone=2.0, pipe=6.0, solid=4.0, fabric=12.0)
    prices = LedPrices(30.0, 15.0, 27.0, 0.04, 5.0, 1.5, compaction=0.9, spare=0.0)
    stone = 2.0 * GRAVELS["clean"].compacted.value * 0.04
    parts = 4.0 * 30.0 + 3.0 * 15.0 + stone + (6.0 + 4.0) * 5.0 + 12.0 * 1.5
    assert money_for(one, prices) == pytest.approx(parts)


def test_a_drain_cures_out_to_its_stone_and_carries_what_its_pipe_does(ground: Ground) -> None:
    (made,) = measures(hillside(ground))
    found = measure_past(made.run, KINDS[3:])
    assert found.made is not None
    assert found.flow is not None
    assert found.flow.most == pytest.approx(74.0 * 3.785e-3 / 60.0, rel=0.01)  # gal/min
    assert {fall.ends_at for fall in found.looks} == {"invert"}
    uphill = next(fall for fall in found.looks if fall.wall == "wall (corners 3-4)")
    assert uphill.length == pytest.approx(found.made.offset + 0.3, abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "y"), [("house", 2.0), ("septic", 3.0), ("fence", 8.0)], ids=["house", "septic", "fence"]
)
def test_a_solid_pipe_points_at_nobodys_wall_and_passes_no_fence(
    ground: Ground, kind: Kind, y: float
) -> None:
    """All lower ground lies toward it: then no drain is laid; without it there is one."""
    (made,) = measures(hillside(ground))
    near = Nearby(BUILDING, (Neighbour("theirs", kind, np.array([(0.0, y), (30.0, y)]), False),))
    assert measure_past(made.run._replace(nearby=near), KINDS[3:]).made is None
    assert measure_past(made.run, KINDS[3:]).dug is not None


def past(surface: Surface, *near: Neighbour) -> WallMeasure:
    """What leads water past the pad where things stand near."""
    stands = Nearby(BUILDING, near)
    water = check_drainage(surface, BUILDING, show=METRIC, pad=PAD, nearby=stands)
    (made,) = wall_measures(surface, BUILDING, PAD, water, margin=0.3, nearby=stands)
    return made


@pytest.mark.parametrize(
    ("kind", "y", "setback"),
    [("well", 6.0, 3.0), ("septic", 5.0, 1.0), ("house", 5.0, None), ("tree", 9.4, None), ("pipe", 9.4, 0.4)],
)  # fmt: skip
def test_it_is_led_round_what_stands_at_an_outlet(
    ground: Ground, kind: Kind, y: float, setback: float | None
) -> None:
    """By itself it comes out at both ends, x = 10.4 and 19.6, y = 9.3: then toward nothing that has to stay
    dry, nor over anything; a thing at the other end turns it round."""
    surface = hillside(ground)
    free = past(surface)
    assert free.made is not None
    assert sorted(out.place[0] < 15.0 for out in outlets_of(free.made)) == [False, True]
    for x, step in ((19.6, 0.1), (10.4, -0.1)):
        places = np.array([(x, y), (x + step, y), (x + step, y + 0.1)])
        thing = Neighbour("it", kind, places, True, setback)
        assert not replace(free, run=free.run._replace(nearby=Nearby(BUILDING, (thing,)))).clear
        made = past(surface, thing)
        assert made.made is not None
        assert (made.made.kind, made.clear, made.cured) == ("swale", True, made.walls)
        if kind not in ("tree", "pipe"):
            assert {out.place[0] < 15.0 for out in outlets_of(made.made)} == {x > 15.0}


def test_where_no_swale_is_clear_a_drain_is_laid(ground: Ground) -> None:
    """A septic field below both ends: its solid pipe ends between them, or beside."""
    surface = hillside(ground)
    fields = [
        Neighbour(f"field {x}", "septic", np.array([(x - 0.3, 4.0), (x + 0.3, 4.0), (x, 5.0)]), True, 1.0)
        for x in (10.4, 19.6)
    ]
    made = past(surface, *fields)
    assert made.made is not None
    assert (made.made.kind, made.clear) == ("drain", True)
    assert made.passed == "is not clear"


def test_too_much_or_too_fast_water_is_told(ground: Ground) -> None:
    (made,) = measures(hillside(ground))
    assert made.flow is not None
    wild = made.flow._replace(flow=2.0 * made.flow.most, speed=1.0)
    flooded = replace(made, carry=lambda *_: wild)
    assert [one.code for one in measure_findings((flooded,), METRIC)] == [
        "catchment-open",
        "swale-overflows",
        "swale-washes",
    ]


def test_soil_alone_is_shaped_away_where_the_ground_is_too_flat_for_a_swale(ground: Ground) -> None:
    """2 % toward the wall, level beyond it. No water is said to run in it, none to lack an outlet."""
    marks = range(0, 31, 3)
    surface = ground([(x, y, 10.0 + 0.02 * max(y - 14.0, 0.0)) for x in marks for y in marks])
    pad = replace(PAD, level=10.35)
    water = check_drainage(surface, BUILDING, show=METRIC, pad=pad)
    (made,) = wall_measures(surface, BUILDING, pad, water, margin=0.3)
    assert (made.kind, made.cured) == ("plain_apron", made.walls)
    assert made.passed == "does not come out"
    assert (made.flow, made.checked(), len(made.above)) == (None, None, 0)
    assert measure_findings((made,), METRIC) == ()
    assert cure_of(made) == "plain apron before the wall (corners 3-4)"
    steep = ground([(x, y, 10.0 + 0.08 * (y - 14.0)) for x in marks for y in marks])
    water = check_drainage(steep, BUILDING, show=METRIC, pad=pad)
    assert all(one.kind != "plain_apron" for one in wall_measures(steep, BUILDING, pad, water, margin=0.3))


def test_soil_is_heaped_over_nothing_that_stands_near(ground: Ground) -> None:
    """A fence 2 m off, over which it would run; a tree whose setback it would come into is not clear."""
    marks = range(0, 31, 3)
    surface = ground([(x, y, 10.0 + 0.02 * max(y - 14.0, 0.0)) for x in marks for y in marks])
    pad = replace(PAD, level=10.35)
    water = check_drainage(surface, BUILDING, show=METRIC, pad=pad)
    (made,) = wall_measures(surface, BUILDING, pad, water, margin=0.3)
    kinds = [kind for kind in KINDS if kind.kind == "plain_apron"]
    fence = Neighbour("fence", "fence", np.array([(0.0, 16.0), (30.0, 16.0)]), False)
    assert measure_past(made.run._replace(nearby=Nearby(BUILDING, (fence,))), kinds).made is None
    tree = Neighbour("tree", "tree", np.array([(15.0, 17.5)]), False, 1.0)
    assert not measure_past(made.run._replace(nearby=Nearby(BUILDING, (tree,))), kinds).clear
