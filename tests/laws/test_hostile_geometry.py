"""Hostile surveys and outlines end in an answer or in words for the user, never in another error."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.earthwork.footprint import describe_footprint
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import balance_level, cut_and_fill
from gradework.errors import InputError
from gradework.foundations.pad.design import design_pad
from gradework.foundations.pad.spec import PadSpec
from gradework.ground.contours import site_shape, trace
from gradework.ground.gaps import find_gaps
from gradework.ground.levels import contour_levels
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
Floats = NDArray[np.float64]
Random = np.random.Generator


def scattered(random: Random, n: int, size: float) -> Floats:
    return random.uniform(0.0, size, (n, 2))


def nearly_on_a_line(random: Random, n: int, size: float) -> Floats:
    along, off = random.uniform(0.0, size, n), random.normal(size=n) * 10.0 ** random.uniform(-12, -1)
    turn = random.uniform(0.0, 6.3)
    return along[:, None] * [np.cos(turn), np.sin(turn)] + off[:, None] * [-np.sin(turn), np.cos(turn)]


def clusters(random: Random, n: int, size: float) -> Floats:
    marks = scattered(random, max(3, n // 3), size)
    near = marks[random.integers(len(marks), size=n)]
    return np.vstack([marks, near + random.normal(size=(n, 2)) * 10.0 ** random.uniform(-12, -2)])


def turned_grid(random: Random, n: int, size: float) -> Floats:
    x, y = (v.ravel() * size / 4 for v in np.meshgrid(np.arange(2 + n % 4), np.arange(2 + n % 3)))
    turn = random.uniform(0.0, 6.3)
    return np.column_stack([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)])


def on_a_circle(random: Random, n: int, size: float) -> Floats:
    turn = random.uniform(0.0, 6.3, n)
    return size * np.column_stack([np.cos(turn), np.sin(turn)])


def shots(random: Random) -> Floats:
    kind = random.choice([scattered, nearly_on_a_line, clusters, turned_grid, on_a_circle])
    xy = kind(random, int(random.choice([1, 2, 3, 4, 6, 15])), 10.0 ** random.uniform(-3, 4))
    z = random.normal(size=len(xy)) * random.choice([0.0, 1e-6, 0.3, 50.0])
    xyz = np.column_stack([xy + random.choice([0.0, 5e5, -9e8]), z + random.choice([0.0, 0.0, 1e6])])
    if random.random() < 0.05:
        xyz[random.integers(len(xyz)), random.integers(3)] = random.choice([np.nan, np.inf, 1e300])
    return xyz


def outline(random: Random, surface: Surface) -> Outline:
    edge = surface.hull_xy
    middle = edge.mean(axis=0)
    reach = float(np.ptp(edge, axis=0).max()) * 10.0 ** random.uniform(-3, 0)
    kind = random.integers(5)
    if kind == 0:
        size = (reach, reach * 10.0 ** random.uniform(-2, 0))
        return Outline.rectangle((middle - reach / 2).tolist(), size, turn=float(random.uniform(-400, 400)))
    if kind == 1:
        return Outline.polygon(edge + random.normal(size=edge.shape) * 10.0 ** random.uniform(-12, -3))
    turn = np.sort(random.uniform(0.0, 6.3, random.integers(3, 7)))
    ring = reach * random.uniform(0.3, 1.0, (len(turn), 1)) * np.column_stack([np.cos(turn), np.sin(turn)])
    if kind == 2:
        return Outline.polygon(middle + ring)
    if kind == 3:  # a hole with one corner beside a side
        hole = random.dirichlet(np.ones(len(ring)), 3) @ ring
        hole[0] = (0.4 * ring[0] + 0.6 * ring[1]) * (1.0 - 10.0 ** random.uniform(-12, -1))
        return Outline.polygon([middle + ring, middle + hole])
    wild = random.uniform(-1.0, 1.0, (4, 2)) * 10.0 ** random.uniform(-320, 308)
    return Outline.polygon(wild)


def look_at(random: Random, surface: Surface) -> None:
    heights = surface.vertices[:, 2]
    low, high = float(heights.min()), float(heights.max())
    levels = contour_levels(low, high, surface.stations.show).tolist()
    trace(surface, [*levels[:50], low, high, 0.5 * (low + high)])
    site_shape(surface)
    stations = surface.stations.xyz
    assert np.array_equal(surface.elevation(stations[:, :2]), stations[:, 2])


def plan_on(random: Random, surface: Surface) -> None:
    drawn = outline(random, surface)
    pieces = clip(surface, drawn)
    cut_and_fill(pieces, [pieces.lowest, pieces.mean, pieces.highest + 1.0])
    balance_level(pieces, 0.9)
    describe_footprint(surface, drawn, pieces)
    find_gaps(surface, drawn.rings)
    edge = "battered" if random.random() < 0.5 else "boxed"
    design_pad(surface, drawn, PadSpec(edge=edge, margin=float(random.choice([0.0, 0.3]))))


@pytest.mark.parametrize("seed", range(8))
def test_hostile_geometry_ends_in_an_answer_or_in_words(ground: Ground, seed: int) -> None:
    random = np.random.default_rng([20260729, seed])
    built, planned, refused = 0, 0, set()
    for _ in range(40):
        try:
            surface = ground(shots(random))
        except InputError as error:
            refused |= {fault.code for fault in error.faults}
            continue
        built += 1
        look_at(random, surface)
        for _ in range(2):
            try:
                plan_on(random, surface)
                planned += 1
            except InputError as error:
                refused |= {fault.code for fault in error.faults}
    # the sample holds all three: ground, plans, and refusals of several kinds
    assert built > 10
    assert planned > 2
    assert len(refused) > 5
