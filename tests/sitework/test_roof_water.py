"""The rain of a roof: strips and pipes by hand on planes, mirrored yards, and volumes that close."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest
import shapely

from gradework.earthwork.conditions import BankVolume
from gradework.earthwork.materials import COVER_STONE, DEFAULT_SOIL
from gradework.earthwork.nearby import Nearby, Neighbour, polygon_of
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.eaves import eaves_of
from gradework.foundations.pad.quantities import PIPE
from gradework.ground.surface import Surface
from gradework.sitework.led_stakes import led_stakes
from gradework.sitework.order import Order, dig_out
from gradework.sitework.order_roof import RoofPrices, money_of_gutter, money_of_strip, with_roof
from gradework.sitework.roof_pipes import COVERED, FROM_WALL, Beside, pipe_out
from gradework.sitework.roof_water import (
    RoofWater,
    Wish,
    lead_roof,
    roof_findings,
    roof_steps,
)
from gradework.sitework.supplier import Supplier
from gradework.units.display import METRIC, Display

Ground = Callable[..., Surface]
SHED = Outline.rectangle((0.0, 0.0), (5.0, 4.0))
ALONG = np.array([1.0, 0.0])
NOTHING = shapely.Polygon()
GRID = [(float(x), float(y)) for x in range(-13, 20, 4) for y in range(-14, 20, 4)]
GARAGE = Neighbour("garage", "garage", np.array([(-3.0, 6.0), (8.0, 6.0), (8.0, 9.0), (-3.0, 9.0)]), True)


def plane(ground: Ground, east: float = 0.0, north: float = 0.0) -> Surface:
    return ground(np.array([(x, y, 100.0 + east * x + north * y) for x, y in GRID]))


def led(
    surface: Surface, wish: Wish | None = None, near: Sequence[Neighbour] = (), *,
    margin: float | None = None, out: float = 0.3, us: bool = False, building: Outline = SHED,
) -> RoofWater:  # fmt: skip
    """The roof over a shed on the ground as it is, or on gravel that reaches ``margin`` beyond its walls."""
    eaves = eaves_of(building, ALONG, out)
    stone = NOTHING if margin is None else polygon_of(building).buffer(margin, join_style="mitre")
    level = None if margin is None else 100.2
    beside = Beside(stone, stone, level, lambda: surface)
    return lead_roof(surface, Nearby(building, tuple(near)), eaves, beside, wish, us=us)


def test_half_a_rectangular_roof_drips_off_each_eave_none_off_the_gables() -> None:
    """16 x 12 ft with 12 in eaves: 18 x 14 ft of roof, 126 ft² to each of two eaves 18 ft long."""
    foot = 0.3048
    shed = Outline.rectangle((0.0, 0.0), (16 * foot, 12 * foot))
    one, two = eaves_of(shed, ALONG, foot)
    assert (one.wall.name, two.wall.name) == ("wall (corners 1-2)", "wall (corners 3-4)")
    assert (one.length / foot, one.roof / foot**2) == pytest.approx((18.0, 126.0))
    across = eaves_of(shed, np.array([0.0, 1.0]), foot)
    assert [eave.wall.name for eave in across] == ["wall (corners 2-3)", "wall (corners 4-1)"]
    assert across[0].length / foot == pytest.approx(14.0)


def test_an_eave_stops_before_the_wall_of_an_inward_corner() -> None:
    angle = Outline.polygon([(0, 0), (6, 0), (6, 3), (3, 3), (3, 5), (0, 5)])
    lengths = {eave.wall.name: eave.length for eave in eaves_of(angle, ALONG, 0.5)}
    # the roof over it: 7 m below, 3 m over the notch (from the inward corner's 3.5 m to 6.5 m), 4 m above
    assert list(lengths.values()) == pytest.approx([7.0, 3.0, 4.0])
    roof = shapely.Polygon([(-0.5, -0.5), (6.5, -0.5), (6.5, 3.5), (3.5, 3.5), (3.5, 5.5), (-0.5, 5.5)])
    assert sum(eave.roof for eave in eaves_of(angle, ALONG, 0.5)) == pytest.approx(roof.area)


def test_a_strip_on_bare_ground_by_hand(ground: Ground) -> None:
    """Eaves 5.6 m long, 0.3 m out: strips 0.3 m wide and 0.1 m deep from 0.15 to 0.45 m out."""
    roof = led(plane(ground, north=-0.02))
    assert [one.kind for one in roof.eaves] == ["drip strip", "drip strip"]
    assert roof.area == pytest.approx(2 * 5.6 * 0.3)
    assert roof.stone == pytest.approx(0.336)
    assert (roof.cut, roof.back, roof.pipe, roof.gutter, roof.spouts) == (pytest.approx(0.336), 0, 0, 0, 0)
    assert roof.eaves[0].strip.bounds == pytest.approx((-0.3, -0.45, 5.3, -0.15))
    assert roof.eaves[0].line == pytest.approx(np.array([(-0.3, -0.3, 100.006), (5.3, -0.3, 100.006)]))


def test_us_jobs_take_inches(ground: Ground) -> None:
    roof = led(plane(ground), us=True, out=0.3048)
    assert roof.area / 0.3048**2 == pytest.approx(2 * (5.0 / 0.3048 + 2.0))
    assert roof.deep == pytest.approx(4 * 0.0254)


@pytest.mark.parametrize(("margin", "kinds"), [(0.3, "own stone"), (0.5, "own stone"), (0.2, "drip strip")])
def test_drops_that_fall_on_the_gravel_of_the_pad_cost_nothing(
    ground: Ground, margin: float, kinds: str
) -> None:
    roof = led(plane(ground), margin=margin)
    assert {one.kind for one in roof.eaves} == {kinds}
    # of a strip only what lies beyond the pad: 5.6 m from 0.2 to 0.45 m out, and 0.1 m past its corners
    strip = 5.6 * 0.25 + 2 * 0.1 * 0.05
    assert roof.area == pytest.approx(2 * strip if kinds == "drip strip" else 0.0)


def test_a_strip_that_is_asked_for_fills_up_what_the_pad_leaves(ground: Ground) -> None:
    asked = led(plane(ground), "drip strip", margin=0.3)
    assert asked.area == pytest.approx(2 * 5.6 * 0.15)
    assert {one.kind for one in led(plane(ground), "drip strip", margin=0.45).eaves} == {"own stone"}


def test_an_eave_without_overhang_has_half_a_strip_before_the_wall(ground: Ground) -> None:
    assert led(plane(ground), out=0.0).area == pytest.approx(2 * 5.0 * 0.15)


def test_a_pipe_comes_out_by_hand(ground: Ground) -> None:
    """Ground falls 5 % to -y, the gutter is on the wall there: straight down its bottom starts 0.1524 m below
    and the ground comes down to it by 4 %, in 3.81 m; dug is half of 3.81 x 0.1524, 1 ft wide."""
    roof = led(plane(ground, north=0.05), "gutter")
    (spout,) = roof.eaves[0].led
    assert spout.rows[0, 2] == pytest.approx(100.0 - COVERED)
    assert spout.end == pytest.approx(np.array([spout.foot[0], -3.81]))
    assert spout.pipe == pytest.approx(3.81)
    assert spout.cut == pytest.approx(0.5 * 3.81 * 0.1524 * 0.3048)
    assert spout.rows[-1, 2] == pytest.approx(100.0 - 0.05 * 3.81)
    # the one behind must go round the gable: straight along it the ground falls all the same 3.81 m
    (behind,) = roof.eaves[1].led
    assert float(polygon_of(SHED).distance(shapely.Point(behind.end))) >= FROM_WALL - 0.001
    assert roof.back == pytest.approx(spout.cut + behind.cut)
    assert roof.cut == roof.back
    assert (roof.spouts, roof.gutter) == (2, pytest.approx(11.2))


def test_an_outlet_ends_five_feet_off_where_the_ground_drops_at_once(ground: Ground) -> None:
    roof = led(plane(ground, north=0.5), "gutter")
    (spout,) = roof.eaves[0].led
    assert spout.pipe == pytest.approx(FROM_WALL, abs=0.001)
    # it comes out of the ground after 0.1524 / 0.49 m already, and lies on it from there
    at = np.array([0.0, 0.1524 / 0.49, FROM_WALL])
    lies = np.interp(at, np.hypot(*(spout.rows[:, :2] - spout.start).T), spout.rows[:, 2])
    assert lies == pytest.approx(100.0 + np.array([-0.1524, -0.1555, -0.762]), abs=1e-3)
    assert spout.cut == pytest.approx(0.5 * 0.1524**2 / 0.49 * 0.3048, rel=1e-3)


@pytest.mark.parametrize("seed", range(8))
def test_a_pipe_falls_and_hangs_nowhere_above_the_ground(seed: int) -> None:
    """On rough profiles: under the ground or on it, falling by 1 % at least, out beyond the distance."""
    rng = np.random.default_rng(seed)
    away = np.concatenate(([0.0], np.sort(rng.uniform(0.2, 20.0, 9))))
    ground = 10.0 - 0.05 * away + rng.uniform(-0.3, 0.3, 10) * (away > 0.0)
    made = pipe_out(away, ground, 10.0 - COVERED, 1.5)
    if made is None:  # nowhere as low as the pipe would be that has fallen all along
        fallen = np.minimum.accumulate(np.append(10.0 - COVERED, (ground + 0.01 * away)[away <= 1.5])).min()
        assert (ground + 0.01 * away > fallen)[away >= 1.5].all()
        return
    rows, over = made
    at = np.linspace(0.0, rows[-1, 0], 4001)
    depth = np.interp(at, away, ground) - np.interp(at, *rows.T)
    assert depth.min() >= -1e-6
    assert depth[-1] == pytest.approx(0.0, abs=1e-6)
    assert rows[-1, 0] >= 1.5
    assert (np.diff(rows[:, 1]) <= -0.0099999 * np.diff(rows[:, 0])).all()
    under = (0.5 * (depth[1:] + depth[:-1]) * np.diff(at)).sum()
    assert over == pytest.approx(under, rel=1e-3)


def test_the_shorter_way_is_taken_where_a_long_one_would_hang_along_the_wall(ground: Ground) -> None:
    roof = led(plane(ground, east=0.07, north=0.01), "gutter")
    assert max(spout.pipe for spout in roof.pipes) < 4.0


def test_what_comes_out_of_a_pipe_does_not_run_back(ground: Ground) -> None:
    """Ground that falls 4 % to the shed's back: the shortest way out there would wet the wall again."""
    yard = plane(ground, east=-0.03, north=0.04)
    house = polygon_of(SHED)
    for spout in led(yard, "gutter").pipes:
        down = np.array([0.03, -0.04]) / 0.05
        straight = shapely.LineString((spout.end, spout.end + 20.0 * down))
        assert straight.distance(house) >= 0.6


@pytest.mark.parametrize(("us", "step"), [(False, 1.5), (True, 1.524)])
def test_stakes_beside_a_pipe_lead_to_its_bottom(ground: Ground, us: bool, step: float) -> None:
    """Where it goes into the ground, every 5 ft, and where it comes out; clear of the trench."""
    yard = plane(ground, north=0.025)
    (spout,) = led(yard, "gutter").eaves[0].led
    assert spout.pipe == pytest.approx(0.1524 / 0.015)
    stakes = led_stakes(yard, SHED, [spout], us=us)
    places = np.array([(one.aside.x, one.aside.y) for one in stakes if one.aside is not None])
    away = np.hypot(*(places - spout.start).T)
    assert away[:-1] == pytest.approx(step * np.arange(len(stakes) - 1))
    assert away[-1] == pytest.approx(0.1524 / 0.015)
    assert [one.grade for one in stakes] == pytest.approx((100.0 - COVERED - 0.01 * away).tolist())
    assert [one.name for one in stakes] == [f"gutter pipe {k + 1}" for k in range(len(stakes))]
    trench = shapely.LineString((spout.start, spout.end)).buffer(0.5 * 0.3048, cap_style="flat")
    assert all(0.3 <= trench.distance(shapely.Point(one.x, one.y)) < 0.5 for one in stakes)
    house = polygon_of(SHED)
    assert all(
        house.distance(shapely.Point(one.x, one.y)) >= house.distance(shapely.Point(one.aside.x, one.aside.y))
        for one in stakes if one.aside is not None
    )  # fmt: skip
    assert {one.aside.where for one in stakes if one.aside is not None} == {"away from the building"}


def test_a_long_gutter_falls_to_both_ends(ground: Ground) -> None:
    """12.0 m of wall and 0.3 m eaves: 12.6 m of gutter, over 40 ft."""
    long = Outline.rectangle((0.0, 0.0), (12.0, 4.0))
    roof = led(plane(ground, north=0.05), "gutter", building=long)
    assert [len(one.spouts) for one in roof.eaves] == [2, 2]
    # 9 in/h on 0.95 of half of 12.6 x 4.6 m, halved again: 6.35e-5 x 0.95 x 14.49
    assert roof.eaves[0].flow.flow == pytest.approx(8.741e-4, rel=1e-3)
    assert all(check.holds for check in roof.checks)


def test_a_gutter_is_hung_where_drops_would_run_to_a_garage(ground: Ground) -> None:
    """Ground that falls to the garage 2 m behind; the gutter's pipe comes out sideways, toward nobody."""
    roof = led(plane(ground, east=0.05, north=-0.01), near=[GARAGE], margin=0.3)
    assert [(one.kind, one.toward) for one in roof.eaves] == [("own stone", ()), ("gutter", ("garage",))]
    assert not roof.drips.intersects(shapely.box(-1.0, 4.0, 6.0, 6.0))
    assert roof.unled.is_empty
    (outlet,) = roof.outlets
    assert outlet.way[0] < 0.0
    kept = led(plane(ground, north=0.05), near=[GARAGE], margin=0.3)
    assert {one.kind for one in kept.eaves} == {"own stone"}  # the ground falls from the garage
    asked = led(plane(ground, east=0.05, north=-0.01), "drip strip", near=[GARAGE])
    assert asked.eaves[1].kind == "drip strip"
    assert asked.drips.intersects(shapely.box(-1.0, 4.0, 6.0, 6.0))


def test_a_gutter_that_nothing_leads_away_is_told(ground: Ground) -> None:
    roof = led(plane(ground), "gutter")  # level ground lets no pipe out
    assert all(one.lost for one in roof.eaves)
    assert [f.code for f in roof_findings(roof, METRIC)] == ["gutter-no-outlet"] * 2
    assert roof.checks == ()
    assert roof.unled.length == pytest.approx(11.2)
    assert list(roof_steps(roof, METRIC)) == []


def test_a_mirrored_yard_gets_the_mirrored_pipe(ground: Ground) -> None:
    rng = np.random.default_rng(5)
    rough = np.array([(x, y, 100.0 + 0.03 * x - 0.06 * y + 0.05 * rng.normal()) for x, y in GRID])
    mirror = np.column_stack((5.0 - rough[:, 0], rough[:, 1:]))
    one, other = (led(ground(xyz), "gutter") for xyz in (rough, mirror))
    for a, b in zip(one.eaves, other.eaves, strict=True):
        (left,), (right,) = a.led, b.led
        assert left.end == pytest.approx(np.array([5.0 - right.end[0], right.end[1]]), abs=1e-6)
        assert (left.cut, left.pipe) == pytest.approx((right.cut, right.pipe), abs=1e-9)


def test_what_is_bought_and_what_goes_with_the_soil(ground: Ground) -> None:
    """Stone takes the place of soil that is hauled; what is dug over pipes goes back."""
    soil, yard = DEFAULT_SOIL, Supplier.metric()
    bare = Order(spoil=dig_out(BankVolume(2.0), soil, yard))
    strips = with_roof(bare, led(plane(ground)), soil, yard, METRIC)
    assert strips.spoil is not None
    assert strips.spoil.bank.m3 == pytest.approx(2.0 + 0.336)
    assert [line.paid[0].key for line in strips.lines] == ["gravel", "fabric"]
    gutters = with_roof(bare, led(plane(ground, north=0.05), "gutter"), soil, yard, METRIC)
    assert gutters.spoil == bare.spoil
    bought = {line.paid[0].key: line for line in gutters.lines}
    assert bought["gutter"].quantity == 4  # two of 3 m for each 5.6 m
    assert bought["gutter"].paid[0].amount == 4
    assert bought["downspout"].quantity == 2
    assert bought["pipe"].quantity >= 3


def test_money_by_hand(ground: Ground) -> None:
    """A strip of 1.68 m² and 0.168 m³: dug 10, hauled 5 per m³; fabric 5.6 x 0.5 m at 2; stone 1 a tonne."""
    prices = RoofPrices(dig=10.0, haul=5.0, stone=0.001, fabric=2.0, pipe=4.0, gutter=14.0, downspout=22.0)
    strips = led(plane(ground))
    stone = 0.168 * COVER_STONE.compacted.value * 0.001
    wanted = 0.168 * 15.0 + 5.6 * 0.5 * 2.0 + stone
    assert money_of_strip(strips.eaves[0], strips.deep, prices) == pytest.approx(wanted)
    (one, _) = led(plane(ground, north=0.05), "gutter").eaves
    hung = 5.6 / PIPE * 14.0 + 22.0
    assert money_of_gutter(one, prices) == pytest.approx(hung + one.pipe * 4.0 + one.cut * 10.0)


def test_steps_name_places_and_levels(ground: Ground) -> None:
    pipes = list(roof_steps(led(plane(ground, north=0.05), "gutter"), Display("ft", "inches")))
    assert len(pipes) == 2
    assert pipes[0].startswith(
        "Lay the solid pipe of the gutter on the wall (corners 1-2) from its outlet up"
    )
    (strips,) = roof_steps(led(plane(ground)), METRIC)
    assert strips.startswith(
        "Below the eaves of the walls (corners 1-2 and 3-4) dig the drip strip 100 mm deep"
    )
