"""A pipe drain as built: its section, where it runs and comes out, and what it takes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import shapely

from gradework.earthwork.grading.drain import (
    LAP,
    PIPE_OUTSIDE,
    Drain,
    DrainSpec,
    _stretch,
    design_drain,
    fabric_round,
    stone_in,
)
from gradework.earthwork.grading.pipe_run import Trench
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

PAD = np.array([(12, 10), (18, 10), (18, 14), (12, 14)], dtype=float)
LEVEL = 10.0
UP = 0.12
SPEC = DrainSpec()
FOOT = 0.3048


def yard(ground: Ground, along: float = 0.0, **_: float) -> Surface:
    """Rises ``UP`` toward +y: 0.3 m over the pad at the middle of its side 2, 0.18 m under it at side 0."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    return ground([(x, y, 10.3 + UP * (y - 14.0) + along * (x - 15.0)) for x, y in places])


def designed(surface: Surface, needed: tuple[int, int] = (2, 2), pad: np.ndarray = PAD) -> Drain:
    made = design_drain(surface, pad, LEVEL, needed, SPEC)
    assert made is not None
    return made


def test_the_stone_runs_on_past_each_end_as_far_as_the_ground_stands_above_it() -> None:
    """Beside a side of 6 m the ground is at 10.4; it comes down to the top, 10.0, 1.2 m before the one end
    and 0.8 m past the other."""
    at = np.array([-4.0, -1.2, 0.0, 6.0, 6.8, 9.0])
    ground = np.array([9.0, 10.0, 10.4, 10.4, 10.0, 9.0])
    assert _stretch(at, ground, 10.0, 6.0, 3.0) == pytest.approx((-1.2, 6.8), abs=2e-3)
    assert _stretch(at, ground, 10.0, 6.0, 0.5) == pytest.approx((-0.5, 6.5))  # no farther than is asked
    assert _stretch(at, ground, 10.5, 6.0, 3.0) is None


def test_the_pipe_is_staked_at_ends_and_bends_and_in_steps_between_the_way_it_falls() -> None:
    line: Any = SimpleNamespace(joints=np.array([-1.0, 3.0, 9.0]))
    way: Any = None
    for high, low, staked in (
        (7.5, 0.0, [7.5, 6.0, 4.5, 3.0, 1.5, 0.0]),
        (0.0, 6.0, [0.0, 1.5, 3.0, 4.5, 6.0]),
    ):
        assert Trench(line, way, high, low, 10.0, 0.01).staked(1.5).tolist() == pytest.approx(staked)


def test_the_section_across_the_uphill_side(ground: Ground) -> None:
    """From the pad: 5 % down to the outer edge of the stone, 3:1 up from there to the ground, which it
    meets; stone as far out as it is deep."""
    made = designed(yard(ground))
    edge = made.offset + 0.5 * SPEC.width
    low = LEVEL - 0.05 * edge
    bank = (10.3 + UP * edge - low) / (1.0 / 3.0 - UP)
    for out, height in (
        (1e-6, LEVEL),
        (made.offset, LEVEL - 0.05 * made.offset),
        (edge, low),
        (edge + 0.5 * bank, low + 0.5 * bank / 3.0),
        (edge + bank, 10.3 + UP * (edge + bank)),
    ):
        [found] = made.ground.surface.elevation(np.array([(15.0, 14.0 + out)]))
        assert found == pytest.approx(height, abs=1e-5)
    bottom = made.line[:, 2].max() - SPEC.under - SPEC.fall * made.pipe
    assert made.offset - 0.5 * SPEC.width == pytest.approx(LEVEL - bottom, abs=1e-4)


def test_the_pipe_begins_18_inches_down_and_falls_one_percent_to_daylight(ground: Ground) -> None:
    surface = yard(ground)
    made = designed(surface)
    assert made.daylights
    first = made.line[0]
    edge = made.offset + 0.5 * SPEC.width
    assert first[2] == pytest.approx(LEVEL - 0.05 * edge - 18 / 12 * FOOT + 2 / 12 * FOOT)
    away = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(made.line[:, :2], axis=0).T))))
    assert made.line[:, 2] == pytest.approx(first[2] - 0.01 * away, abs=1e-9)
    assert away[-1] == pytest.approx(made.pipe + made.solid)
    assert np.diff(away).max() <= 1.2 * 5 * FOOT + 1e-9
    ((x, y, bottom),) = made.outlets
    assert surface.elevation(np.array([(x, y)]))[0] == pytest.approx(bottom, abs=1e-9)


@pytest.mark.parametrize("along", [0.25, 0.3, 0.35])
def test_it_comes_out_on_the_ground_and_not_in_the_face_of_its_fill(ground: Ground, along: float) -> None:
    """The ground beside falls faster than the bench may: its low end is filled, the pipe runs out at 1 %."""
    surface = yard(ground, along)
    made = design_drain(surface, PAD, LEVEL, (2, 2), SPEC)
    assert made is not None
    assert made.daylights
    ((x, y, bottom),) = made.outlets
    assert made.ground.fill > 1.0
    assert surface.elevation(np.array([(x, y)]))[0] == pytest.approx(bottom, abs=1e-4)


def test_the_solid_pipe_stays_as_far_from_the_pad_as_the_trench(ground: Ground) -> None:
    made = designed(yard(ground), (2, 2))
    way = shapely.LineString(made.bends[0][:, :2])
    assert way.distance(shapely.Polygon(PAD)) == pytest.approx(made.offset, abs=1e-6)


def test_cut_stone_and_fabric_are_those_of_its_sections(ground: Ground) -> None:
    """Bench and bank from the finished ground; the trench by 1,000 slices of its length; the pipe's way."""
    surface = yard(ground)
    made = designed(surface)
    trench, slices = made.run.trench, np.linspace(*sorted((made.run.trench.high, made.run.trench.low)), 4001)
    middles = 0.5 * (slices[1:] + slices[:-1])
    rows = trench.rows(middles)
    deep = made.ground.surface.elevation(rows[:, :2] + made.ground.surface.origin) - rows[:, 2] + SPEC.under
    dug = float((deep * np.diff(slices)).sum()) * SPEC.width
    assert made.stone == pytest.approx(dug - math.pi / 4 * PIPE_OUTSIDE**2 * made.pipe, rel=1e-5)
    assert made.fabric == pytest.approx(2 * dug / SPEC.width + (2 * SPEC.width + LAP) * made.pipe, rel=1e-5)
    away = np.linspace(0.0, made.solid, 4001)
    away = 0.5 * (away[1:] + away[:-1])
    rows = made.run.beyond(away)
    over = made.ground.surface.elevation(rows[:, :2] + made.ground.surface.origin) - rows[:, 2]
    back = float(over.mean()) * made.solid * SPEC.width
    assert made.cut == pytest.approx(made.ground.cut + dug + back, rel=1e-5)
    assert made.fill == pytest.approx(made.ground.fill + back, rel=1e-5)


def test_a_published_trench_takes_what_is_told_of_it() -> None:
    """40 ft by 12 by 18 in: 2.04 yd3 of stone and 240 ft2 of fabric (trade pages; common practice)."""
    length, dug = 40 * FOOT, 40 * FOOT * FOOT * 1.5 * FOOT
    assert stone_in(dug, length) / (3 * FOOT) ** 3 == pytest.approx(2.04, abs=0.005)
    assert fabric_round(FOOT, 1.5 * FOOT, length) / FOOT**2 == pytest.approx(240.0)


def test_it_goes_round_three_sides(ground: Ground) -> None:
    made = designed(yard(ground), (1, 3))
    assert made.daylights
    assert len(made.catches) == 3
    ways = np.diff(made.catches, axis=1)[:, 0]
    for before, after in pairwise(ways):
        assert before @ after == pytest.approx(0.0, abs=1e-6)
    for start, end in made.catches:
        middle = 0.5 * (start + end)
        assert shapely.Polygon(PAD).distance(shapely.Point(middle)) == pytest.approx(made.offset, abs=1e-6)


def test_round_an_inward_corner(ground: Ground) -> None:
    """An L with its notch uphill."""
    pad = np.array([(10, 8), (18, 8), (18, 12), (14, 12), (14, 16), (10, 16)], dtype=float)
    surface = yard(ground, along=0.05)
    made = design_drain(surface, pad, LEVEL, (2, 3), SPEC)
    assert made is not None
    assert len(made.catches) == 2
    away = [shapely.Polygon(pad).distance(shapely.Point(x, y)) for x, y, _ in made.line]
    assert min(away) >= made.offset - 1e-6


def test_where_no_lower_ground_is_surveyed_it_asks_for_shots_or_is_none(ground: Ground) -> None:
    """Cut off below the pad the ground still falls there; in a bowl there is no way."""
    places = [(x, y) for x in (8.0, 11.0, 19.0, 22.0) for y in (9.4, 12.0, 16.0, 30.0)]
    made = designed(ground([(x, y, 10.3 + UP * (y - 14.0)) for x, y in places]))
    assert not made.daylights
    assert len(made.outlets) == 0
    assert len(made.more_shots) == 3
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    bowl = ground([(x, y, 10.1 + 0.1 * math.hypot(x - 15.0, y - 12.0)) for x, y in places])
    assert design_drain(bowl, PAD, LEVEL, (2, 2), SPEC) is None


@pytest.mark.parametrize("along", [-0.25, -0.2, -0.02, 0.0, 0.2])
@pytest.mark.parametrize("size", [16.0, 19.5, 22.0, 30.0])
def test_what_is_passed_over_would_not_have_come_out(ground: Ground, along: float, size: float) -> None:
    """Where only a drain that comes out is wanted, the first look at the ground loses none of them."""
    edge = 15.0 - 0.5 * size, 15.0 + 0.5 * size
    places = [(x, y) for x in (edge[0], 11.0, 19.0, edge[1]) for y in (12.0 - 0.3 * size, 12.0, 16.0, 30.0)]
    surface = ground([(x, y, 10.3 + UP * (y - 14.0) + along * (x - 15.0)) for x, y in places])
    whole = design_drain(surface, PAD, LEVEL, (2, 2), SPEC)
    wanted = design_drain(surface, PAD, LEVEL, (2, 2), replace(SPEC, comes_out=True))
    if whole is not None and whole.daylights:
        assert wanted is not None
        assert wanted.line.tolist() == whole.line.tolist()
    else:
        assert wanted is None or not wanted.daylights


@pytest.mark.parametrize("along", [-0.25, -0.2, 0.2])
def test_it_comes_out_of_what_is_filled_over_low_ground(ground: Ground, along: float) -> None:
    """Where the ground beside the pad falls steeply along it, its low end lies under the filled bench."""
    made = designed(yard(ground, along=along))
    assert made.daylights
    assert made.solid > 0.0
    ((x, y, bottom),) = made.outlets
    assert made.ground.surface.elevation(np.array([(x, y)]))[0] == pytest.approx(bottom, abs=1e-6)


def test_it_runs_only_where_it_may(ground: Ground) -> None:
    """Nothing to the right of the pad: it comes out on the left."""
    surface = yard(ground, along=-0.02)  # falls to the right
    free = designed(surface)
    assert free.outlets[0, 0] > 15.0
    kept = design_drain(surface, PAD, LEVEL, (2, 2), SPEC, clear=lambda _start, end: bool(end[0] < 12.0))
    assert kept is not None
    assert kept.outlets[0, 0] < 12.0
    assert design_drain(surface, PAD, LEVEL, (2, 2), SPEC, clear=lambda _start, _end: False) is None


def test_no_trench_where_the_ground_lies_below_the_bench(ground: Ground) -> None:
    assert design_drain(yard(ground), PAD, LEVEL, (0, 0), SPEC) is None


@pytest.mark.parametrize("along", [0.0, 0.03, -0.06])
def test_a_mirrored_yard_gets_the_mirrored_drain(ground: Ground, along: float) -> None:
    places = [(x, y) for x in (0.0, 11.3, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    shots = np.array([(x, y, 10.3 + UP * (y - 14.0) + along * (x - 15.0)) for x, y in places])
    mirror = np.array([-1.0, 1.0])
    one = design_drain(ground(shots), PAD, LEVEL, (2, 3), SPEC)
    other = design_drain(ground(shots * (-1.0, 1.0, 1.0)), (PAD * mirror)[[0, 3, 2, 1]], LEVEL, (0, 1), SPEC)
    assert one is not None
    assert other is not None
    figures = [(d.cut, d.fill, d.stone, d.pipe, d.solid, d.offset, d.deepest) for d in (one, other)]
    assert figures[1] == pytest.approx(figures[0], rel=1e-6)
    assert other.outlets * (-1.0, 1.0, 1.0) == pytest.approx(one.outlets, abs=1e-5)


def test_a_wider_trench_takes_more_stone(ground: Ground) -> None:
    narrow, wide = (
        design_drain(yard(ground), PAD, LEVEL, (2, 2), replace(SPEC, width=width)) for width in (0.25, 0.35)
    )
    assert narrow is not None
    assert wide is not None
    assert wide.stone > 1.3 * narrow.stone


def test_its_bottoms_reach_down_to_the_stone_under_the_pipe(ground: Ground) -> None:
    made = designed(yard(ground))
    low = made.run.trench.rows(made.run.trench.ends)[-1, 2] - SPEC.under
    assert np.abs(made.bottoms[:, :, 2] - low).min() <= 1e-9


def test_stakes_stand_along_it_and_away_from_the_pad(ground: Ground) -> None:
    made = designed(yard(ground))
    told = list(made.stations(5 * FOOT))
    assert np.array([station.place for station in told]) == pytest.approx(made.line)
    pad = shapely.Polygon(PAD)
    for (x, y, _), out, _ in told:
        here, aside = shapely.Point(x, y), shapely.Point(x + out[0], y + out[1])
        assert pad.distance(aside) > pad.distance(here)
