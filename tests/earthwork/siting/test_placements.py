"""Many places of a rectangle at once: the same figures as one by one, on any ground, at its edge, far off."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.footprint import sides
from gradework.earthwork.outline import Outline
from gradework.earthwork.siting.allowed import rings
from gradework.earthwork.siting.placements import AT_ONCE, LevelRule, placements
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Stations

SIZE = (4.8, 3.6)


def surface_of(xyz: Any) -> Surface:
    rows = np.asarray(xyz, dtype=np.float64)
    names = [f"S{number}" for number in range(len(rows))]
    return build_surface(
        Stations(names, rows, np.full(len(rows), np.nan), np.arange(len(rows)), "made up", "m")
    )


def rough(seed: int, count: int = 90, off: float = 0.0) -> Surface:
    rng = np.random.default_rng(seed)
    xy = rng.random((count, 2)) * 30.0
    z = 50.0 + 0.3 * np.sin(xy[:, 0] / 5) + 0.02 * xy[:, 1] + rng.normal(0, 0.05, count)
    return surface_of(np.column_stack([xy + off, z]))


def grid() -> Surface:
    """Squares that do not say how they fold."""
    rng = np.random.default_rng(3)
    places = [(2.0 * i, 2.0 * j) for i in range(12) for j in range(10)]
    return surface_of([(x, y, 10.0 + rng.normal(0, 0.1)) for x, y in places])


def places_on(surface: Surface, count: int, seed: int) -> Any:
    rng = np.random.default_rng(seed)
    low, high = surface.hull_xy.min(axis=0), surface.hull_xy.max(axis=0)
    xy = low + rng.random((count, 2)) * (high - low)
    return np.column_stack((xy, rng.uniform(-np.pi, np.pi, count)))


def one_by_one(surface: Surface, place: Any, level: float) -> tuple[float, ...]:
    outline = Outline.polygon(rings(place[None], np.array(SIZE))[0])
    pieces = clip(surface, outline)
    (found,) = cut_and_fill(pieces, level)
    edge = max(float(side.ground.max()) for side in sides(outline, pieces))
    return pieces.lowest, pieces.mean, pieces.highest, edge, found.cut, found.fill


@pytest.mark.parametrize(
    "ground", [rough(1), grid(), rough(2, off=400_000.0)], ids=["rough", "grid", "far off"]
)
def test_the_same_as_one_by_one(ground: Surface) -> None:
    places = places_on(ground, 60, 7)
    found = placements(ground, SIZE, places, LevelRule(lowest=0.05, highest=-0.1, edge=-0.2))
    inside = np.flatnonzero(found.inside)
    assert len(inside) > 25
    for number in inside.tolist():
        lowest, mean, highest, edge, cut, fill = one_by_one(
            ground, places[number], float(found.level[number])
        )
        got = (found.lowest, found.mean, found.highest, found.edge, found.cut, found.fill)
        assert [float(one[number]) for one in got] == pytest.approx(
            [lowest, mean, highest, edge, cut, fill], abs=1e-9
        )
        wanted = max(lowest + 0.05, highest - 0.1, edge - 0.2)
        assert found.level[number] == pytest.approx(wanted, abs=1e-9)
        assert found.cut_area[number] + found.fill_area[number] == pytest.approx(SIZE[0] * SIZE[1])


def test_sides_that_lie_on_the_lines_of_the_grid() -> None:
    ground = grid()
    places = np.array([(6.0 + 0.5 * k, 7.0, turn) for k in range(8) for turn in (0.0, np.pi / 2)])
    found = placements(ground, (4.0, 2.0), places, LevelRule(highest=0.0))
    assert found.inside.all()
    for number, place in enumerate(places):
        pieces = clip(ground, outline := Outline.polygon(rings(place[None], np.array((4.0, 2.0)))[0]))
        assert found.highest[number] == pytest.approx(pieces.highest, abs=1e-9)
        assert found.edge[number] == pytest.approx(
            max(float(side.ground.max()) for side in sides(outline, pieces)), abs=1e-9
        )


def test_a_plane_has_its_textbook_figures() -> None:
    ground = surface_of([(0, 0, 10.0), (20, 0, 11.0), (20, 10, 11.0), (0, 10, 10.0)])
    found = placements(
        ground, (4.0, 2.0), np.array([(10.0, 5.0, 0.0), (10.0, 5.0, np.pi / 2)]), LevelRule(mean=0.0)
    )
    # a wedge of half the length and half the rise on both sides of the middle
    assert found.cut == pytest.approx([8.0 * 0.2 / 8.0, 8.0 * 0.1 / 8.0])
    assert found.fill == pytest.approx(found.cut)
    assert found.fall == pytest.approx([0.2, 0.1])


def test_a_place_that_leaves_the_survey_is_about_the_part_inside() -> None:
    ground = surface_of([(0, 0, 10.0), (20, 0, 10.0), (20, 10, 10.0), (0, 10, 10.0)])
    places = np.array([(0.0, 5.0, 0.0), (-50.0, 5.0, 0.0), (10.0, 5.0, 0.3), (2.0, 1.0, 0.0)])
    found = placements(ground, (4.0, 2.0), places, LevelRule(given=10.5))
    assert found.inside.tolist() == [False, False, True, True]
    assert found.covered == pytest.approx([4.0, 0.0, 8.0, 8.0])
    assert found.fill[0] == pytest.approx(2.0)
    assert np.isnan(found.fill[1])


def test_much_ground_gives_the_same_as_little() -> None:
    """Of many triangles only those near a block are looked at."""
    rng = np.random.default_rng(5)
    xy = rng.random((1600, 2)) * 60.0
    ground = surface_of(np.column_stack([xy, 20.0 + np.sin(xy[:, 0] / 4) + 0.1 * rng.random(1600)]))
    places = places_on(ground, 3 * AT_ONCE + 5, 11)
    found = placements(ground, SIZE, places, LevelRule(lowest=0.3))
    for number in np.flatnonzero(found.inside)[::40].tolist():
        *_, cut, fill = one_by_one(ground, places[number], float(found.level[number]))
        assert (found.cut[number], found.fill[number]) == pytest.approx((cut, fill), abs=1e-9)


def test_no_places_give_no_figures() -> None:
    assert len(placements(grid(), SIZE, np.empty((0, 3)), LevelRule(lowest=0.0))) == 0
