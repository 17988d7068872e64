"""Laws of finished ground on random yards: water runs down, ground meets ground, no frame matters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest
import shapely

from gradework.earthwork.clip import clip
from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.swale import Swale, design_apron, design_swale
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.foundations.checks.drainage_rules import IRC_2015
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.foundations.checks.wall_strips import PadTop
from gradework.ground.surface import Surface
from gradework.sitework.drainage import check_drainage
from gradework.sitework.past_walls import wall_measures
from gradework.units.display import METRIC

Ground = Callable[..., Surface]

SEEDS = range(24)
"""Half of them for swales, half for aprons: there the pad is raised above the ground on its uphill side."""

HALF = len(SEEDS) // 2
MIRRORED = [*range(6), *range(HALF, HALF + 6)]

PADS = {
    "rectangle": [(0, 0), (6, 0), (6, 4), (0, 4)],
    "L": [(0, 0), (8, 0), (8, 4), (4, 4), (4, 8), (0, 8)],
    "six sides": [(0, 0), (4, 0), (6, 2), (4, 5), (0, 5), (-2, 2)],
}
SIZE = 30.0
SPEC = SwaleSpec(margin=0.3)


class Yard(NamedTuple):
    """Shots (n, 3), a pad's ring, its level, the sides that need a swale, and its side slopes if any."""

    shots: np.ndarray
    pad: np.ndarray
    level: float
    needed: tuple[int, int]
    batter: Batter | None
    raised: bool = False


@cache
def yard(seed: int) -> Yard:
    """Planes, cones, rolling and rough ground in turn; a pad of some shape, turned anyhow, in the middle."""
    rng = np.random.default_rng(seed)
    xy = rng.random((rng.integers(30, 90), 2)) * SIZE
    xy = np.round(np.vstack((xy, SIZE * np.array([(0, 0), (1, 0), (1, 1), (0, 1)]))), 4)
    way = rng.uniform(0.0, 2.0 * np.pi)
    height = rng.uniform(0.02, 0.2) * (xy @ (np.cos(way), np.sin(way)))
    if seed % 4 == 1:
        height = rng.uniform(0.02, 0.2) * np.hypot(*(xy - rng.random(2) * SIZE).T) * rng.choice([-1.0, 1.0])
    elif seed % 4 == 2:
        height += rng.uniform(0.05, 0.4) * np.sin(xy[:, 0] / 4.0) * np.cos(xy[:, 1] / 3.0)
    elif seed % 4 == 3:
        height += rng.normal(0.0, 0.08, len(xy))
    shots = np.column_stack((xy, np.round(100.0 + height, 4)))
    ring = np.array(PADS[list(PADS)[seed % 3]], dtype=float)
    ring = moved(ring - ring.mean(axis=0), rng.uniform(0.0, 360.0), SIZE / 2 + rng.uniform(-2.0, 2.0, 2))
    first = int(rng.integers(0, len(ring)))
    middle = shots[np.argsort(np.hypot(*(xy - SIZE / 2).T))[:6], 2].mean()
    batter = Batter(2.0, 0.0, 0.0) if seed % 5 == 4 and seed % 3 != 1 else None  # an L has no slopes
    if seed >= HALF:
        rise = np.linalg.lstsq(np.column_stack((xy, np.ones(len(xy)))), height, rcond=None)[0][:2]
        sides = np.roll(ring, -1, axis=0) - ring
        first = int(np.argmax((sides @ [[0.0, -1.0], [1.0, 0.0]] / np.hypot(*sides.T)[:, None]) @ rise))
        return Yard(shots, ring, 0.15, (first, first), batter, raised=True)
    return Yard(shots, ring, float(middle + rng.uniform(-0.3, 0.3)), (first, first + seed % 2), batter)


def moved(xy: np.ndarray, degrees: float, step: np.ndarray) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    out: np.ndarray = xy @ np.array([[c, s], [-s, c]]) + step
    return out


def design(ground: Ground, one: Yard) -> tuple[Surface, Swale | None]:
    surface = ground(one.shots)
    if not one.raised:
        return surface, design_swale(surface, one.pad, one.level, one.needed, SPEC, batter=one.batter)
    level = level_of(surface, one)
    return surface, design_apron(surface, one.pad, level, one.needed, one.needed[:1], SPEC, batter=one.batter)


def level_of(surface: Surface, one: Yard) -> float:
    """Of a raised pad above the highest ground along its side; no other has to have ground there."""
    if not one.raised:
        return one.level
    start, end = one.pad[one.needed[0]], one.pad[(one.needed[0] + 1) % len(one.pad)]
    return float(surface.elevation(np.linspace(start, end, 2001)).max()) + one.level


@pytest.fixture(scope="module")
def known(ground: Ground) -> Callable[[int], tuple[Surface, Swale | None]]:
    """The surface and the swale of a yard, each designed once."""
    return cache(lambda seed: design(ground, yard(seed)))


@pytest.fixture(scope="module")
def designed(
    known: Callable[[int], tuple[Surface, Swale | None]],
) -> Callable[[int], tuple[Surface, Swale]]:
    """The same; a yard without a swale is skipped."""

    def of(seed: int) -> tuple[Surface, Swale]:
        surface, swale = known(seed)
        if swale is None:
            pytest.skip("no swale fits")
        return surface, swale

    return of


def same(one: Swale | None, other: Swale | None) -> None:
    """Two designs of one job in two frames: the same amounts, depths and ends."""
    assert one is not None
    assert other is not None
    figures = [
        (s.cut, s.fill, s.ground.cut_area, s.length, s.deepest, s.offset, s.route.start - s.route.crest[1])
        for s in (one, other)
    ]
    assert figures[1] == pytest.approx(figures[0], rel=1e-6, abs=2e-5)
    assert other.daylights == one.daylights
    assert len(other.outlets) == len(one.outlets)


def test_most_yards_have_a_swale(known: Callable[[int], tuple[Surface, Swale | None]]) -> None:
    """So that the laws below are not about nothing; some come out, of the swales some do not."""
    for seeds in (range(HALF), range(HALF, len(SEEDS))):
        there = [swale for swale in (known(seed)[1] for seed in seeds) if swale is not None]
        assert len(there) >= 9
        assert {swale.daylights for swale in there} >= {True}
        assert all((swale.raised > 0.0) is (seeds[0] >= HALF) for swale in there)
    assert not all(swale.daylights for swale in (known(seed)[1] for seed in range(HALF)) if swale)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_swale_never_runs_uphill(designed: Callable[[int], tuple[Surface, Swale]], seed: int) -> None:
    """Along its line the finished ground falls from the crest to each end, by 1 % at the least."""
    _, swale = designed(seed)
    route = swale.route
    for first, last in route.dug:
        at = np.linspace(first, last, 60)[1:-1]
        height = swale.ground.surface.elevation(route.line.places(at) + swale.ground.surface.origin)
        invert = np.interp(at, route.at, route.invert)
        assert height == pytest.approx(invert, abs=1e-6)
        fall = np.diff(height) / np.diff(at) * np.sign(at[1:] - route.crest[0])
        crest = (at[:-1] <= route.crest[0]) & (at[1:] >= route.crest[0])
        assert fall[~crest].max() <= -SPEC.far + 1e-6


@pytest.mark.parametrize("seed", SEEDS)
def test_the_finished_ground_passes_through_the_bottom_that_is_told(
    designed: Callable[[int], tuple[Surface, Swale]], seed: int
) -> None:
    """At every place that is told, so none is where nothing is dug."""
    _, swale = designed(seed)
    for told in (swale.line, *swale.bends):
        assert swale.ground.surface.elevation(told[:, :2]) == pytest.approx(told[:, 2], abs=1e-6)


def test_where_the_ground_dips_below_the_bottom_nothing_is_told_and_water_comes_out(
    designed: Callable[[int], tuple[Surface, Swale]],
) -> None:
    """Seed 9 falls to the left, off the survey; on the way the ground lies lower than the bottom."""
    _, swale = designed(9)
    route = swale.route
    assert len(route.dug) == len(swale.bends) == 2
    assert (route.way.left, route.way.right, route.short) == (True, False, (True, False))
    assert route.outlets == (route.dug[1][0],)
    between = 0.5 * (route.dug[0][1] + route.dug[1][0])
    assert route.depth(between) < 0.0
    assert swale.outlets[:, :2] == pytest.approx(
        route.line.places(np.array(route.outlets)) + swale.ground.surface.origin
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_it_comes_out_on_the_ground(designed: Callable[[int], tuple[Surface, Swale]], seed: int) -> None:
    """At each outlet the invert, the surveyed and the finished ground are one; nothing is dug beyond it."""
    surface, swale = designed(seed)
    for x, y, invert in swale.outlets:
        for ground in (surface, swale.ground.surface):
            assert ground.elevation(np.array([(x, y)]))[0] == pytest.approx(invert, abs=1e-4)


@pytest.mark.parametrize("seed", SEEDS)
def test_finished_ground_meets_the_surveyed_one_at_daylight(
    designed: Callable[[int], tuple[Surface, Swale]], seed: int
) -> None:
    """All along the line round what is shaped, but for the pad's edge and the edge of the survey."""
    surface, swale = designed(seed)
    made, pad = swale.ground.surface, yard(seed).pad
    outside = daylight_corners(swale, pad)
    near_hull = np.min(
        [
            edge_distance(outside, a, b)
            for a, b in zip(made.hull_xy, np.roll(made.hull_xy, -1, 0), strict=True)
        ],
        axis=0,
    )
    outside = outside[near_hull > 1e-6]
    assert len(outside) > 3
    assert made.elevation(outside) == pytest.approx(surface.elevation(outside), abs=1e-4)


def daylight_corners(swale: Swale, pad: np.ndarray) -> np.ndarray:
    """The ends of those sides of the shaped triangles that only one of them has, but for those at the pad."""
    sides = np.stack((swale.ground.shaped, np.roll(swale.ground.shaped, -1, axis=1)), axis=2).reshape(-1, 4)
    key = np.round(sides, 6)
    turned = key[:, [2, 3, 0, 1]]
    both = {tuple(row) for row in turned.tolist()}
    alone = np.array([tuple(row) not in both for row in key.tolist()])
    corners = sides[alone].reshape(-1, 2)
    at_pad = np.min(
        [edge_distance(corners, a, b) for a, b in zip(pad, np.roll(pad, -1, axis=0), strict=True)], axis=0
    )
    return corners[at_pad > 1e-6]


def edge_distance(points: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    run = end - start
    part = np.clip(((points - start) @ run) / (run @ run), 0.0, 1.0)
    away: np.ndarray = np.hypot(*(points - start - part[:, None] * run).T)
    return away


@pytest.mark.parametrize("seed", SEEDS)
def test_volumes_close(
    designed: Callable[[int], tuple[Surface, Swale]], volume: Callable[[Surface], float], seed: int
) -> None:
    """What is dug and filled, in and outside the pad, lies between the surfaces; inside by cut and fill."""
    surface, swale = designed(seed)
    one = yard(seed)
    [inside] = cut_and_fill(clip(surface, Outline.polygon(one.pad)), level_of(surface, one))
    net = volume(surface) - volume(swale.ground.surface)
    assert swale.ground.cut - swale.ground.fill + inside.net == pytest.approx(net, abs=1e-5)
    assert min(swale.ground.cut, swale.ground.fill) >= 0.0


@pytest.mark.parametrize("seed", MIRRORED)
def test_a_mirrored_yard_gets_the_mirrored_swale(
    ground: Ground, designed: Callable[[int], tuple[Surface, Swale]], seed: int
) -> None:
    _, swale = designed(seed)
    one = yard(seed)
    mirror = np.array([-1.0, 1.0])
    shots = one.shots * (-1.0, 1.0, 1.0)
    count = len(one.pad)
    # the ring runs the other way: side k becomes side count - 1 - k
    first, last = (count - 1 - number for number in reversed(one.needed))
    needed = (first % count, first % count + last - first)
    _, other = design(
        ground, Yard(shots, (one.pad * mirror)[np.r_[0, count - 1 : 0 : -1]], *one[2:3], needed, *one[4:])
    )
    same(swale, other)


@pytest.mark.parametrize("bar", [-8.0, -5.0, 4.0, 5.0, 12.0])
def test_level_ground_along_a_swale_mirrors_beside_what_bars_it(ground: Ground, bar: float) -> None:
    """The ground along the pad is level, past it falls off, more on one hand. Nothing may be dug beyond a
    line; in the mirrored yard that lies on the other hand, and so does the swale."""
    grid = np.array([(x, y) for x in range(-15, 16, 3) for y in range(-15, 16, 3)], dtype=float)
    x, y = grid.T
    height = 100.0 + 0.08 * y - 0.03 * np.maximum(x - 6.0, 0.0) - 0.01 * np.maximum(-x - 6.0, 0.0)
    pad = np.array([(-3.0, -2.0), (3.0, -2.0), (3.0, 2.0), (-3.0, 2.0)])

    def swale(hand: float) -> tuple[Swale | None, float]:
        west, east = sorted((hand * bar, 15.0 * np.sign(hand * bar)))
        barred = shapely.box(west, -15.0, east, 15.0)
        surface = ground(np.column_stack((hand * x, y, height)))
        spec = replace(SPEC, clear=lambda dug, _: not dug.intersects(barred))
        made = design_swale(surface, pad, 99.95, (2, 2), spec)
        assert made is not None
        crest = made.route.line.places(np.array(made.route.crest[:1]))[0] + surface.origin
        return made, hand * float(crest[0])

    (one, right), (other, left) = swale(1.0), swale(-1.0)
    same(one, other)
    assert right == pytest.approx(left, abs=1e-6)


@pytest.mark.parametrize("seed", MIRRORED)
def test_moving_and_turning_the_whole_job_changes_nothing(
    ground: Ground, designed: Callable[[int], tuple[Surface, Swale]], seed: int
) -> None:
    _, swale = designed(seed)
    one = yard(seed)
    degrees, step, lift = 37.0 * (seed + 1), np.array([412.3, -88.1]), 23.4
    xy = moved(one.shots[:, :2], degrees, step)
    shots = np.column_stack((xy, one.shots[:, 2] + lift))
    level = one.level if one.raised else one.level + lift
    turned = Yard(shots, moved(one.pad, degrees, step), level, *one[3:])
    _, other = design(ground, turned)
    same(swale, other)
    assert other is not None
    assert other.outlets[:, :2] == pytest.approx(moved(swale.outlets[:, :2], degrees, step), abs=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_walls_are_judged_alike_on_surveyed_ground_and_beside_the_pad_alone(
    ground: Ground, seed: int
) -> None:
    """An L turned anyhow: beside its notch the finished ground steps up to the pad, which is no ground."""
    one = yard(3 * seed + 1)
    surface, building = ground(one.shots), Outline.polygon(one.pad)
    pad = PadTop(one.level, building.grown(0.3))
    made = finished_ground(surface, pad.outline.rings[0], one.level).surface
    for now, then in zip(
        wall_falls(made, building, IRC_2015, pad=pad),
        wall_falls(surface, building, IRC_2015, pad=pad),
        strict=True,
    ):
        assert (now.verdict, now.shown) == (then.verdict, then.shown)
        assert (now.fall, now.rise) == pytest.approx((then.fall, then.rise), abs=1e-5)


def test_nothing_is_filled_beyond_the_wing_that_an_apron_is_shaped_for(ground: Ground) -> None:
    """The notch on the far side of a wing lies lower than the apron's own slopes would reach down there."""
    ell = Outline.polygon([(10, 8), (20, 8), (20, 12), (14, 12), (14, 18), (10, 18)]).rings[0]
    places = [(x, y) for x in range(0, 31, 3) for y in range(0, 31, 3)]
    surface = ground([(x, y, 10.0 - 0.28 * (x - 10.0)) for x, y in places])
    made = design_apron(surface, ell, 10.25, (5, 5), [5], SPEC)
    assert made is not None
    notch = np.array([(x, y) for x in (14.1, 15.0, 18.0) for y in (12.1, 14.0, 17.0)])
    assert made.ground.surface.elevation(notch) == pytest.approx(surface.elevation(notch), abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_no_swale_where_all_ground_falls_away(ground: Ground, seed: int) -> None:
    """A cone with the pad on its top, and the building well above the ground: nothing is to be led past."""
    rng = np.random.default_rng(seed)
    xy = rng.random((60, 2)) * SIZE
    xy = np.vstack((xy, SIZE * np.array([(0, 0), (1, 0), (1, 1), (0, 1)]), [(SIZE / 2, SIZE / 2)]))
    surface = ground(np.column_stack((xy, 50.0 - 0.15 * np.hypot(*(xy - SIZE / 2).T))))
    building = Outline.rectangle((13.0, 13.5), (4.0, 3.0), turn=10.0 * seed)
    pad = PadTop(50.1, building.grown(0.3))
    water = check_drainage(surface, building, show=METRIC, pad=pad)
    assert {ray.verdict for ray in water.after} == {"away"}
    assert wall_measures(surface, building, pad, water, margin=0.3) == ()
