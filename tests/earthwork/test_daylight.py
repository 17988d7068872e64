"""The daylight ring: the same area as the closed form, whatever the pad; a wrong area is a fault of ours."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from gradework.earthwork.batter import Slopes, batter_ground, daylight_rings
from gradework.earthwork.outline import Outline
from gradework.earthwork.rings import crossings, ring_area, spikes
from gradework.errors import CheckError
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

SHOTS = Path(__file__).parents[2] / "data" / "spring-pump-house" / "shots.csv"

NEAR = 1e-6
"""Part of an area: a ring moved by a tenth of a micrometre along 30 m of line is 3e-6 m² of some 20 m²."""


@pytest.fixture(scope="module")
def spring(ground: Ground) -> Surface:
    rows = csv.reader(SHOTS.read_text("utf-8").splitlines()[1:])
    return ground([[float(value) for value in row[1:4]] for row in rows])


def total(slopes: Slopes, outline: Outline, *, filled: bool = False) -> float:
    return outline.area + slopes.fill_area + (0.0 if filled else slopes.cut_area)


def test_a_pump_house_of_ordinary_size(spring: Surface) -> None:
    # parts once joined by making them a hair wider and back again: of this pad nothing was left
    outline = Outline.rectangle((5.2, 4.4), (3.2, 2.5), turn=15).grown(0.3)
    slopes = batter_ground(spring, outline, 2.0).slopes(49.210255912702436)
    assert len(slopes.daylight) == 1
    assert sum(map(ring_area, slopes.daylight)) == pytest.approx(total(slopes, outline), rel=NEAR)
    assert sum(map(ring_area, slopes.filled)) == pytest.approx(total(slopes, outline, filled=True), rel=NEAR)


def test_many_random_pads(spring: Surface) -> None:
    random = np.random.default_rng(20260714)
    for _ in range(120):
        size, corner = random.uniform(1.0, 4.0, 2), random.uniform(3.5, 6.5, 2)
        outline = Outline.rectangle(corner.tolist(), size.tolist(), turn=float(random.uniform(-45, 45)))
        below = batter_ground(spring, outline, float(random.uniform(0.5, 3.0)))
        slopes = below.slopes(float(random.uniform(below.pieces.lowest - 0.4, below.pieces.highest + 0.4)))
        assert sum(map(ring_area, slopes.daylight)) == pytest.approx(total(slopes, outline), rel=NEAR)
        assert sum(map(ring_area, slopes.filled)) == pytest.approx(
            total(slopes, outline, filled=True), rel=NEAR
        )
        assert not any(spikes(ring) for ring in slopes.daylight)
        assert not list(crossings(slopes.daylight))


def test_ground_left_bare_is_an_island(ground: Ground) -> None:
    # level ground 1 m below the pad, filled 2 m out, but for a cone that stands above the slope 1 m out
    def land(x: float, y: float) -> float:
        return 0.9 if (x, y) == (15.0, 10.0) else 0.0

    marks = np.arange(0.0, 20.5, 0.5).tolist()
    surface = ground([(x, y, land(x, y)) for x in marks for y in marks])
    outline = Outline.rectangle((8.0, 8.0), (6.0, 4.0))
    slopes = batter_ground(surface, outline, 2.0).slopes(1.0)
    outside, island = slopes.daylight
    assert ring_area(outside) == pytest.approx(10.0 * 8.0, rel=NEAR)
    assert -0.5 < ring_area(island) < -0.01
    assert ring_area(outside) + ring_area(island) == pytest.approx(total(slopes, outline), rel=NEAR)


def test_corners_of_straight_lines_are_left_out(ground: Ground) -> None:
    marks = np.arange(0.0, 21.0).tolist()
    surface = ground([(x, y, 0.0) for x in marks for y in marks])
    [ring] = batter_ground(surface, Outline.rectangle((8.0, 8.0), (6.0, 4.0)), 2.0).slopes(0.7).daylight
    corners = sorted(np.round(ring, 6).tolist())
    assert corners == [[6.6, 6.6], [6.6, 13.4], [15.4, 6.6], [15.4, 13.4]]


def test_an_area_that_does_not_fit_is_a_fault_of_ours() -> None:
    pad = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]])
    beside = (np.array([[[4.0, 0.0], [6.0, 0.0], [4.0, 3.0]]]), np.array([[0.5, 0.0, 0.5]]))
    [ring] = daylight_rings(pad, [beside], 15.0)
    assert ring_area(ring) == pytest.approx(15.0, rel=NEAR)
    with pytest.raises(CheckError, match="daylight line"):
        daylight_rings(pad, [beside], 15.0001)


def test_shreds_of_nanometres_at_a_corner_change_nothing() -> None:
    # sides shorter than the distance at which a corner counts as standing on them
    random = np.random.default_rng(3)
    pad = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]])
    shreds = pad[1] + random.uniform(-5e-8, 5e-8, (200, 3, 2))
    [ring] = daylight_rings(pad, [(shreds, np.ones((200, 3)))], 12.0)
    assert np.abs(np.sort(ring, axis=0) - np.sort(pad, axis=0)).max() < 1e-7
