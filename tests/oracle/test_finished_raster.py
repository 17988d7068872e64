"""Finished ground against a fine raster: the rules of a swale written once more, in arrays, point by point.

Nothing of the planes, their bends, the cutting or the volumes is shared: for each point its distances along
and out from every side of the pad give bench, inner side and back slope, their minima and maxima the shape,
and cells joined by their sides what hangs together. Only the route (offset, crest, fall) is taken as
designed.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.sides import batter_shapes
from gradework.earthwork.grading.swale import Swale, design_apron, design_swale
from gradework.earthwork.outline import Outline
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
Floats = NDArray[np.float64]

SIZE = 24.0
CELLS = 600
"""Along each side: cells of 40 mm."""

POINTS = 10_000
SPEC = SwaleSpec()

PADS = {
    "rectangle": [(0, 0), (6, 0), (6, 4), (0, 4)],
    "L": [(0, 0), (8, 0), (8, 4), (4, 4), (4, 8), (0, 8)],
}


class Case(NamedTuple):
    """A pad on rolling ground: its ring (k, 2), level, and the sides that need a swale."""

    shots: Floats
    ring: Floats
    level: float
    needed: tuple[int, int]


CASES = {"rectangle, one side": ("rectangle", 1, (1, 1)), "rectangle, three": ("rectangle", 3, (3, 5)),
         "L, its notch": ("L", 5, (2, 3)), "L, its back": ("L", 8, (4, 5))}  # fmt: skip


@cache
def case(name: str) -> Case:
    shape, seed, needed = CASES[name]
    rng = np.random.default_rng(seed)
    xy = np.vstack((rng.random((60, 2)) * SIZE, SIZE * np.array([(0, 0), (1, 0), (1, 1), (0, 1)])))
    ring = np.array(PADS[shape], dtype=float)
    ring = Outline.polygon(turned(ring - ring.mean(axis=0), 25.0 * seed) + SIZE / 2).rings[0]
    # uphill beyond the sides that need it
    outward = np.zeros(2)
    for number in range(needed[0], needed[1] + 1):
        side = ring[(number + 1) % len(ring)] - ring[number % len(ring)]
        outward += np.array([side[1], -side[0]]) / np.hypot(*side)
    up = (xy - SIZE / 2) @ (outward / max(float(np.hypot(*outward)), 0.5))
    rolling = 0.08 * np.sin(xy[:, 0] / 3.0) * np.cos(xy[:, 1] / 2.5)
    return Case(np.column_stack((xy, 50.0 + 0.07 * up + rolling)), ring, 49.95, needed)


def turned(xy: Floats, degrees: float) -> Floats:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return xy @ np.array([[c, s], [-s, c]])


def measured(ring: Floats, number: int, xy: Floats) -> tuple[Floats, Floats, float]:
    """Distance along a side and out from it, and its length."""
    start, end = ring[number % len(ring)], ring[(number + 1) % len(ring)]
    length = float(np.hypot(*(end - start)))
    ux, uy = (end - start) / length
    dx, dy = xy[:, 0] - start[0], xy[:, 1] - start[1]
    return dx * ux + dy * uy, dx * uy - dy * ux, length


def swale_heights(swale: Swale, ring: Floats, xy: Floats) -> tuple[Floats, Floats]:
    """What the ground is dug down to and filled up to at each point, whatever hangs together."""
    route, way, offset = swale.route, swale.route.way, swale.route.line.offset
    start, (crest, top), (before, after) = route.start, route.crest, route.breaks
    m, dug, back, sides = SPEC.side, None, None, []
    for place, number in enumerate(way.sides):
        u, t, length = measured(ring, number, xy)
        s = u + route.line.zero[place]
        inverts = []
        if way.right and route.line.joints[place + 1] > crest + 1e-6:
            z = top - SPEC.near * (s - crest)
            if place == len(way.sides) - 1:
                z = np.maximum(z, top - SPEC.near * (after - crest) - SPEC.far * (s - after))
            inverts.append(z)
        if way.left and route.line.joints[place] < crest - 1e-6:
            z = top + SPEC.near * (s - crest)
            if place == 0:
                z = np.maximum(z, top - SPEC.near * (crest - before) + SPEC.far * (s - before))
            inverts.append(z)
        invert = np.minimum.reduce(inverts)
        bench = start - SPEC.bench_fall * t
        faces = np.maximum(bench, start - t / m)
        if place == 0:
            faces = np.maximum(faces, bench - u / m)
        if place == len(way.sides) - 1:
            faces = np.maximum(faces, bench + (u - length) / m)
        near, far = np.minimum(faces, invert + (offset - t) / m), invert + (t - offset) / m
        sides.append((u, t, length, bench, invert + (offset - t) / m))
        if dug is None or back is None:
            dug, back = near, far
        elif turns_outward(ring, number - 1):
            dug, back = np.minimum(dug, near), np.maximum(back, far)
        else:
            dug, back = np.maximum(dug, near), np.minimum(back, far)
    assert dug is not None
    assert back is not None
    cut = np.maximum(dug, back)
    if not (way.left and way.right):
        u, t, length, _, _ = sides[-1] if way.left else sides[0]
        head = top + (u - length if way.left else -u) / m
        # behind the middle of the pad it gives way
        number = way.sides[-1 if way.left else 0]
        behind = 0.5 * thickness(ring, number)
        cut = np.maximum(cut, np.minimum(head, top + 5.0 / behind * (t + behind)))
    return cut, filled(swale, ring, sides, len(xy))


def filled(
    swale: Swale, ring: Floats, sides: list[tuple[Floats, Floats, float, Floats, Floats]], count: int
) -> Floats:
    """The bench as filled beside the sides that need it, as far along as the swale is dug."""
    route, m = swale.route, SPEC.side
    best = np.full(count, -np.inf)
    for place in range(route.way.first, route.way.last + 1):
        come, leave = route.line.joints[place], route.line.joints[place + 1]
        inside = [(max(a, come), min(b, leave)) for a, b in route.dug if min(b, leave) > max(a, come)]
        if not inside:
            continue
        first, last = inside[0][0], inside[-1][1]
        u, t, length, bench, inner = sides[place]
        zero = route.line.zero[place]
        behind = 0.5 * thickness(ring, route.way.sides[place])
        pad_ends = route.start + np.minimum(t / m, 5.0 / behind * (t + behind))
        mound = np.minimum(np.minimum(bench, inner), pad_ends)
        for joined, other, corner, far in (
            (first <= come and place > 0, place - 1, route.way.sides[place - 1], max(first - zero, 0.0) - u),
            (last >= leave and place + 1 < len(sides), place + 1, route.way.sides[place],
             u - min(last - zero, length)),
        ):  # fmt: skip
            if not joined:
                mound = np.minimum(mound, bench - far / m)
            elif turns_outward(ring, corner):
                mound = np.minimum(mound, np.minimum(sides[other][3], sides[other][4]))
            else:  # inside the other wing it ends
                mound = np.minimum(mound, route.start + 10.0 * sides[other][1])
        best = np.maximum(best, mound)
    return best


def thickness(ring: Floats, number: int) -> float:
    """From the middle of a side straight through the pad, walked in steps of a millimetre."""
    start, end = ring[number % len(ring)], ring[(number + 1) % len(ring)]
    inward = np.array([start[1] - end[1], end[0] - start[0]]) / np.hypot(*(end - start))
    t = np.arange(0.0005, 20.0, 0.001)
    return float(t[~inside(ring, 0.5 * (start + end) + t[:, None] * inward)][0] - 0.0005)


def turns_outward(ring: Floats, number: int) -> bool:
    """Whether the corner after a side turns outward."""
    a, b, c = (ring[(number + k) % len(ring)] for k in range(3))
    return bool((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) > 0)


def inside(ring: Floats, xy: Floats) -> NDArray[np.bool_]:
    """Even and odd: which points lie in a ring."""
    found = np.zeros(len(xy), dtype=bool)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        spans = (a[1] > xy[:, 1]) != (b[1] > xy[:, 1])
        with np.errstate(divide="ignore", invalid="ignore"):
            found ^= spans & (xy[:, 0] < a[0] + (xy[:, 1] - a[1]) * (b[0] - a[0]) / (b[1] - a[1]))
    return found


class Raster(NamedTuple):
    """Volumes [m³], areas [m²], and which cells are shaped, or beside one that is not, (n, n)."""

    cut: float
    fill: float
    area: float
    shaped: NDArray[np.bool_]
    doubtful: NDArray[np.bool_]


def raster(surface: Surface, ring: Floats, shape: Callable[[Floats], Floats], line: Floats) -> Raster:
    """Sum over cells what hangs together with the pad or with the line (p, 2)."""
    step = SIZE / CELLS
    at = (np.arange(CELLS) + 0.5) * step
    xy = np.stack(np.meshgrid(at, at), axis=-1).reshape(-1, 2)
    ground = surface.elevation(xy)
    depth = (ground - shape(xy)).reshape(CELLS, CELLS)
    pad = inside(ring, xy).reshape(CELLS, CELLS)
    wet = (np.abs(depth) > 1e-9) & ~pad
    labels, _ = ndimage.label(wet)
    seeds = ndimage.binary_dilation(pad)
    seeds[tuple(np.clip((line[:, ::-1] / step).astype(int), 0, CELLS - 1).T)] = True
    kept = np.isin(labels, np.setdiff1d(labels[seeds], [0]))
    own = np.where(kept, depth, 0.0)
    doubtful = ndimage.binary_dilation(kept, iterations=2) & ndimage.binary_dilation(~kept, iterations=2)
    cell = step**2
    return Raster(
        float(np.maximum(own, 0.0).sum() * cell),
        float(np.maximum(-own, 0.0).sum() * cell),
        float(kept.sum() * cell),
        kept,
        doubtful,
    )


def agrees(
    surface: Surface,
    made: Surface,
    ring: Floats,
    level: float,
    shape: Callable[[Floats], Floats],
    fine: Raster,
) -> None:
    """Heights at random points are those of the raster's rule."""
    xy = np.random.default_rng(1).random((POINTS, 2)) * SIZE
    cell = tuple(np.clip((xy[:, ::-1] / SIZE * CELLS).astype(int), 0, CELLS - 1).T)
    expected = np.where(fine.shaped[cell], shape(xy), surface.elevation(xy))
    expected = np.where(inside(ring, xy), level, expected)
    rim = [np.hypot(*(xy - a - np.clip((xy - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)[:, None] * (b - a)).T)
           for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)]  # fmt: skip
    sure = (np.min(rim, axis=0) > 1e-6) & (~fine.doubtful[cell] | inside(ring, xy))
    assert sure.sum() > 0.9 * POINTS
    assert made.elevation(xy)[sure] == pytest.approx(expected[sure], abs=1e-6)
    # beside a daylight line the rule and the ground are nearly one, whichever counts
    beside = ~sure & (np.min(rim, axis=0) > 1e-6)
    off = np.minimum(
        np.abs(made.elevation(xy) - shape(xy)), np.abs(made.elevation(xy) - surface.elevation(xy))
    )
    assert off[beside].max(initial=0.0) < 1e-6


@pytest.mark.parametrize("name", CASES)
def test_a_swale_is_that_of_the_raster(ground: Ground, name: str) -> None:
    one = case(name)
    surface = ground(one.shots)
    swale = design_swale(surface, one.ring, one.level, one.needed, SPEC)
    assert swale is not None
    is_that_of_the_raster(surface, one, swale)


@pytest.mark.parametrize("name", CASES)
def test_an_apron_is_that_of_the_raster(ground: Ground, name: str) -> None:
    """The same pads, raised above all ground beside them."""
    one = case(name)
    surface = ground(one.shots)
    sides = list(range(one.needed[0], one.needed[1] + 1))
    one = one._replace(level=edge_height(surface, one.ring, sides) + 0.12)
    apron = design_apron(surface, one.ring, one.level, one.needed, sides, SPEC)
    assert apron is not None
    assert 0.0254 <= apron.raised <= 0.12 + 1e-3
    is_that_of_the_raster(surface, one, apron)


def edge_height(surface: Surface, ring: Floats, sides: list[int]) -> float:
    """The highest ground along some sides, every 2 cm or less."""
    ends = [(ring[k % len(ring)], ring[(k + 1) % len(ring)]) for k in sides]
    return max(float(surface.elevation(np.linspace(a, b, 401)).max()) for a, b in ends)


def is_that_of_the_raster(surface: Surface, one: Case, swale: Swale) -> None:
    def shape(xy: Floats) -> Floats:
        cut, fill = swale_heights(swale, one.ring, xy)
        return np.minimum(np.maximum(surface.elevation(xy), fill), cut)

    along = np.concatenate([np.linspace(a, b, 4000)[1:-1] for a, b in swale.route.dug])
    line = swale.route.line.places(along) + surface.origin
    fine = raster(surface, one.ring, shape, line)
    assert swale.ground.cut > 0.5
    assert swale.ground.cut == pytest.approx(fine.cut, rel=2e-3)
    assert swale.ground.fill == pytest.approx(fine.fill, rel=0.02, abs=2e-3)
    assert swale.ground.cut_area + swale.ground.fill_area == pytest.approx(fine.area, rel=5e-3)
    agrees(surface, swale.ground.surface, one.ring, one.level, shape, fine)


def test_side_slopes_are_those_of_the_raster(ground: Ground) -> None:
    """Up and down from the pad at 2:1."""
    one = case("rectangle, one side")
    surface = ground(one.shots)
    shapes = batter_shapes(one.ring - surface.origin, one.level, 2.0)
    assert shapes is not None
    made = finished_ground(surface, one.ring, one.level, cut=shapes[0], fill=shapes[1])

    def shape(xy: Floats) -> Floats:
        far = np.max([measured(one.ring, k, xy)[1] for k in range(len(one.ring))], axis=0)
        high, low = one.level + far / 2.0, one.level - far / 2.0
        return np.minimum(np.maximum(surface.elevation(xy), low), high)

    fine = raster(surface, one.ring, shape, np.empty((0, 2)))
    assert made.cut == pytest.approx(fine.cut, rel=5e-3)
    assert made.fill == pytest.approx(fine.fill, rel=5e-3, abs=1e-3)
    agrees(surface, made.surface, one.ring, one.level, shape, fine)
