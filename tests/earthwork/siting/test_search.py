"""The best place of a yard: a planted one is found, and no fine grid beats it by more than is told."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import shapely

from gradework.earthwork.siting.allowed import Allowed, KeepOut
from gradework.earthwork.siting.placements import LevelRule, placements
from gradework.earthwork.siting.search import Aim, Search, Sited
from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Stations

SIZE = (4.0, 2.5)
HIGHEST = LevelRule(highest=0.0)


def surface_of(rows: Any) -> Surface:
    xyz = np.asarray(rows, dtype=np.float64)
    names = [f"S{number}" for number in range(len(xyz))]
    return build_surface(Stations(names, xyz, np.full(len(xyz), np.nan), np.arange(len(xyz)), "made up", "m"))


def done(search: Search) -> Sited:
    *_, last = search.rounds()
    return last


def planted(seed: int) -> tuple[Surface, Any]:
    """A slope with humps, and in it a level spot a little larger than the building, turned at random."""
    rng = np.random.default_rng(seed)
    spot = np.array([*rng.uniform(4.0, 10.0, 2), rng.uniform(0.0, np.pi)])
    cos, sin = np.cos(spot[2]), np.sin(spot[2])
    half = 0.5 * np.array(SIZE) + 0.15
    share = np.linspace(-1.0, 1.0, 8)
    corners = [half * (s, t) for s in share for t in share if 1.0 in (abs(s), abs(t))]
    shots = [(*(np.array([[cos, -sin], [sin, cos]]) @ one + spot[:2]), 20.0) for one in corners]
    slope, way = rng.uniform(0.08, 0.15), rng.uniform(0.0, 2.0 * np.pi)
    for x, y in ((2.0 * i, 2.0 * j) for i in range(8) for j in range(8)):
        u, v = (x - spot[0]) * cos + (y - spot[1]) * sin, (y - spot[1]) * cos - (x - spot[0]) * sin
        if abs(u) > half[0] + 0.4 or abs(v) > half[1] + 0.4:
            fall = slope * ((x - spot[0]) * np.cos(way) + (y - spot[1]) * np.sin(way))
            shots.append((x, y, 20.0 + fall + rng.normal(0.0, 0.05)))
    return surface_of(shots), spot


@pytest.mark.parametrize("first", range(0, 200, 20))
def test_a_planted_best_spot_is_found(first: int) -> None:
    """In 200 yards: level ground under the whole building is found, whatever the least is asked of."""
    for seed in range(first, first + 20):
        surface, spot = planted(seed)
        aim = (Aim(fill=1.0), Aim(fall=1.0))[seed % 2]
        [there] = aim.values(placements(surface, SIZE, spot[None], HIGHEST))
        assert there == pytest.approx(0.0, abs=1e-9)
        search = Search(
            surface, Allowed(surface, SIZE, 0.0), HIGHEST, aim, np.zeros(3), coarse=1000, most=2900
        )
        found = done(search)
        assert found.values.min() <= 4 * search.slack
        place = found.places[found.best]
        assert math.dist(place[:2], spot[:2]) < 0.35
        assert abs((place[2] - spot[2] + np.pi / 2) % np.pi - np.pi / 2) < np.radians(12)


def yard(seed: int) -> Surface:
    rng = np.random.default_rng(seed)
    xy = np.array([(2.5 * i, 2.5 * j) for i in range(7) for j in range(6)]) + rng.normal(0, 0.3, (42, 2))
    z = 30.0 + 0.05 * xy[:, 0] + 0.3 * np.sin(xy[:, 1] / 3 + seed) + rng.normal(0, 0.04, 42)
    return surface_of(np.column_stack([xy, z]))


CASES = [
    (Aim(fill=1.0), HIGHEST),
    (Aim(fill=1.0, cut=0.01, base=2.0), LevelRule(lowest=0.0, highest=-0.2, edge=-0.25)),
    (Aim(cut=1.0), LevelRule(mean=0.0)),
    (Aim(fill=40.0, cut=25.0), LevelRule(given=30.5)),
    (Aim(fall=1.0), HIGHEST),
    (Aim(low=1.0), HIGHEST),
]


def grid_of(surface: Surface, turns: Any) -> Iterator[Any]:
    low, high = surface.hull_xy.min(axis=0), surface.hull_xy.max(axis=0)
    for turn in turns:
        x, y = np.meshgrid(np.arange(low[0], high[0], 0.4), np.arange(low[1], high[1], 0.4))
        yield np.column_stack((x.ravel(), y.ravel(), np.full(x.size, turn)))


def test_what_bars_a_place_is_named() -> None:
    """Walls of 4 x 2.5 m, built on to 0.2 m beyond them, on a survey of 16 x 14 m."""
    surface = surface_of([(x, y, 20.0 + 0.01 * x) for x in range(0, 17, 2) for y in range(0, 15, 2)])
    fence = KeepOut("fence", shapely.LineString([(12.0, 0.0), (12.0, 14.0)]), 0.5, built=False)
    tree = KeepOut("tree", shapely.Point(6.0, 11.0), 1.0, built=True)
    allowed = Allowed(surface, SIZE, 0.2, shapely.box(1.0, 0.5, 16.0, 13.0), (fence, tree))
    for x, y, name in (
        (6.0, 5.0, ""),
        (9.5 - 0.001, 5.0, ""),  # walls to 11.5, half a metre from the fence: what is built may come nearer
        (9.5 + 0.001, 5.0, "fence"),
        (13.0, 5.0, "fence"),  # across it
        (6.0, 11.0 - 1.0 - 1.45 - 0.001, ""),  # what is built reaches 1.45 m from the middle
        (6.0, 11.0 - 1.0 - 1.45 + 0.001, "tree"),
        (3.0 + 0.001, 5.0, ""),
        (3.0 - 0.001, 5.0, "boundary"),  # a wall at 0.999
        (2.2 - 0.001, 5.0, "survey"),  # what is built begins at -0.001; the survey is told first
        (6.0, 1.45 - 0.001, "survey"),
    ):
        place = np.array([x, y, 0.0])
        assert allowed.barred_by(place) == name, (x, y)
        assert allowed.may(place[None])[0] == (name == ""), (x, y)


@pytest.mark.parametrize("number", range(len(CASES)))
@pytest.mark.parametrize("bounded", [False, True])
def test_brute_force_never_beats_it_by_more_than_is_told(number: int, bounded: bool) -> None:
    aim, rule = CASES[number]
    for seed in (number,):
        surface = yard(seed)
        allowed = Allowed(surface, SIZE, 0.2)
        if bounded:
            fence = KeepOut("fence", shapely.LineString([(4, -5), (9, 20)]), 0.5, built=False)
            tree = KeepOut("tree", shapely.Point(12, 8), 1.0, built=True)
            allowed = Allowed(surface, SIZE, 0.2, shapely.box(1.0, 1.5, 14.0, 12.0), (fence, tree))
        search = Search(surface, allowed, rule, aim, np.array([0.0, 0.0, 0.4]), coarse=1200, most=4000)
        found = done(search)
        brute = np.concatenate(
            [search.values_of(one) for one in grid_of(surface, np.radians(range(0, 180, 9)))]
        )
        assert np.isfinite(brute).sum() > 500
        assert np.nanmin(brute) >= found.bound - 1e-9
        assert (
            found.bound
            <= found.values.min()
            <= np.nanmin(brute) + max(2 * search.slack, 0.02 * abs(np.nanmin(brute)))
        )


def test_what_a_cell_may_hold_is_never_more_than_what_is_in_it() -> None:
    """Places drawn inside a cell come to no less than it was said to hold, the turn's width included."""
    rng = np.random.default_rng(4)
    for number, (aim, rule) in enumerate(CASES):
        surface = yard(20 + number)
        search = Search(surface, Allowed(surface, SIZE, 0.0), rule, aim, np.zeros(3))
        middle = np.column_stack((rng.uniform(0, 15, 150), rng.uniform(0, 12, 150), rng.uniform(0, 3, 150)))
        width = rng.uniform(0.0, 1.0, (150, 1)) * [1.0, 0.8, 0.3]
        cells = search._look(middle, width)
        assert len(cells.least) > 60
        tried = 0
        for at, half, least in zip(cells.middle, cells.width, cells.least, strict=True):
            values = search.values_of(at + rng.uniform(-1.0, 1.0, (12, 3)) * half)
            tried += int(np.isfinite(values).sum())
            assert not (values < least - 1e-9).any()
        assert tried > 400


def test_a_cell_that_may_hold_an_allowed_place_is_kept() -> None:
    rng = np.random.default_rng(9)
    surface = yard(3)
    hole = KeepOut("well", shapely.Point(7, 6), 1.5, built=False)
    allowed = Allowed(surface, SIZE, 0.3, shapely.box(0.5, 0.5, 15.0, 11.0), (hole,))
    middle = np.column_stack((rng.uniform(0, 15, 300), rng.uniform(0, 12, 300), rng.uniform(0, 3, 300)))
    arm = 0.5 * math.hypot(*allowed.built)
    half = np.array([0.4, 0.3, 0.2])
    could = allowed.may(middle, math.hypot(half[0], half[1]) + arm * half[2])
    assert 30 < could.sum() < 300
    for at in middle[~could]:
        assert not allowed.may(at + rng.uniform(-1.0, 1.0, (60, 3)) * half).any()


def test_only_the_turns_that_are_allowed_are_taken() -> None:
    surface = yard(6)
    turns = (0.3, 0.3 + np.pi / 2)
    search = Search(
        surface, Allowed(surface, SIZE, 0.0), HIGHEST, Aim(fall=1.0), np.zeros(3), turns, most=3000
    )
    found = done(search)
    assert set(found.places[:, 2].tolist()) == set(turns)


def test_the_best_places_lie_apart() -> None:
    surface = yard(8)
    search = Search(
        surface, Allowed(surface, SIZE, 0.0), HIGHEST, Aim(fill=1.0), np.zeros(3), coarse=1200, most=2500
    )
    found = done(search)
    apart = search.apart(4, 2.5)
    assert len(apart) == 4
    assert apart[0].tolist() == found.places[found.best].tolist()
    for number, one in enumerate(apart):
        for other in apart[number + 1 :]:
            turn = abs((one[2] - other[2] + np.pi / 2) % np.pi - np.pi / 2)
            assert math.dist(one[:2], other[:2]) + 0.5 * math.hypot(*SIZE) * turn >= 2.5


def test_places_that_differ_share_little_ground() -> None:
    surface = yard(8)
    allowed = Allowed(surface, (3.0, 2.9), 0.0)  # nearly square: turned by a quarter it is the same place
    search = Search(surface, allowed, HIGHEST, Aim(fill=1.0), np.zeros(3), coarse=1200, most=2500)
    found = done(search)
    apart = search.different(5, 0.5)
    assert len(apart) == 5
    assert apart[0].tolist() == found.places[found.best].tolist()
    grounds = allowed.ground(apart)
    for number, one in enumerate(grounds):
        assert all(one.intersection(other).area <= 0.5 * one.area + 1e-9 for other in grounds[number + 1 :])


def test_the_map_shows_the_best_of_each_cell() -> None:
    surface = yard(2)
    search = Search(
        surface, Allowed(surface, SIZE, 0.0), HIGHEST, Aim(fall=1.0), np.zeros(3), coarse=1200, most=1500
    )
    done(search)
    field = search.field()
    assert field.values.shape == (len(field.y) - 1, len(field.x) - 1)
    row, column = np.unravel_index(int(np.nanargmin(field.values)), field.values.shape)
    middle = [(field.x[column] + field.x[column + 1]) / 2, (field.y[row] + field.y[row + 1]) / 2]
    tried = search.values_of(np.array([(*middle, turn) for turn in np.radians(range(0, 180, 15))]))
    assert np.nanmin(tried) == pytest.approx(np.nanmin(field.values))
    assert np.isnan(field.values).any()


def test_where_nothing_is_allowed_nothing_is_found() -> None:
    surface = yard(1)
    allowed = Allowed(surface, SIZE, 0.0, shapely.box(0, 0, 2, 2))
    found = done(Search(surface, allowed, HIGHEST, Aim(fall=1.0), np.zeros(3)))
    assert not len(found.values)
    assert found.over
