"""Cut, fill and ground under an outline by another road: upright slices through the unclipped triangles.

Nothing is clipped here and no prism formula is used. At an x the outline and every triangle are intervals of
y, over which the ground is a straight line; what lies above and below a level on it is a closed form. From
one x to the next at which anything turns (a corner, two edges that cross, the level on an edge) that is a
polynomial of the second degree in x, which two points of Gauss integrate exactly. What the program prints is
held against this; see ``clip`` and ``volumes`` for the road it was worked out on.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import near
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.earthwork.volumes import CutFill
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

MOST_TRIANGLES = 800
"""Ground of more triangles is not sliced: the work grows with their square. A yard has some hundreds."""

AGREES = 1e-8
"""Two roads must agree within this part of what is moved, and so many metres over the outline."""

_GAUSS = 0.5 / np.sqrt(3.0)
_APART = 1e-12  # [m] two places closer together make no slice


class Scanned(NamedTuple):
    """What one outline holds [m², m³]: ``area`` on the survey, ``ground`` above the datum that was given, and
    against the level what is above (``cut``) and below it (``fill``), and on which areas."""

    area: float
    ground: float
    cut: float
    fill: float
    cut_area: float
    fill_area: float


class _Edges(NamedTuple):
    """Straight edges (n,): from x0, y0 to x1, y1 with x0 <= x1, and the heights of the ends."""

    x0: Floats
    y0: Floats
    x1: Floats
    y1: Floats
    z0: Floats
    z1: Floats


def scan(surface: Surface, outline: Outline, level: float | Floats) -> Scanned | None:
    """Slice the ground under an outline against a ``level`` [m]; None where there are too many triangles.

    It may slope: (3,) is ``a x + b y + c`` in the frame of the surface, local.
    """
    rings = [ring - surface.origin for ring in outline.rings]
    _, triangles = near(surface, rings[0])
    if len(triangles) > MOST_TRIANGLES:
        return None
    plane = np.append([0.0, 0.0], level)[-3:]
    ground = triangles.copy()
    ground[..., 2] -= triangles[..., :2] @ plane[:2] + plane[2]
    rim = _edges([np.column_stack((ring, np.zeros(len(ring)))) for ring in rings])
    sides = _edges(list(ground))
    cuts = _turns(rim, sides, ground, rings[0])
    middle, half = 0.5 * (cuts[1:] + cuts[:-1]), 0.5 * (cuts[1:] - cuts[:-1])
    totals = np.zeros(6)
    for side in (-2.0 * _GAUSS, 2.0 * _GAUSS):
        totals += _slices(middle + side * half, half, rim, ground)
    return Scanned(*totals.tolist())


def _edges(rings: Sequence[Floats]) -> _Edges:
    """The edges of rings (k, 3)."""
    first = np.concatenate(rings)
    last = np.concatenate([part for ring in rings for part in (ring[1:], ring[:1])])
    swap = (last[:, 0] < first[:, 0])[:, None]
    first, last = np.where(swap, last, first), np.where(swap, first, last)
    return _Edges(first[:, 0], first[:, 1], last[:, 0], last[:, 1], first[:, 2], last[:, 2])


def _turns(rim: _Edges, sides: _Edges, ground: Floats, ring: Floats) -> Floats:
    """Every x at which the slices may turn, rising, within the outline."""
    low, high = float(ring[:, 0].min()), float(ring[:, 0].max())
    with np.errstate(divide="ignore", invalid="ignore"):
        ax, ay = rim.x1 - rim.x0, rim.y1 - rim.y0
        bx, by = sides.x1 - sides.x0, sides.y1 - sides.y0
        cx, cy = sides.x0[:, None] - rim.x0, sides.y0[:, None] - rim.y0
        share = (cx * by[:, None] - cy * bx[:, None]) / (ax * by[:, None] - ay * bx[:, None])
        crossings = (rim.x0 + share * ax)[(share > 0.0) & (share < 1.0)]
        part = sides.z0 / (sides.z0 - sides.z1)
        graded = (sides.x0 + part * bx)[(part > 0.0) & (part < 1.0)]
        # where the level runs across the rim: the plane of each triangle along each edge of the outline
        one, two = ground[:, 1] - ground[:, 0], ground[:, 2] - ground[:, 0]
        size = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
        east = (one[:, 2] * two[:, 1] - two[:, 2] * one[:, 1]) / size
        north = (one[:, 0] * two[:, 2] - two[:, 0] * one[:, 2]) / size
        flat = ground[:, 0, 2] - east * ground[:, 0, 0] - north * ground[:, 0, 1]
        start = east[:, None] * rim.x0 + north[:, None] * rim.y0 + flat[:, None]
        climb = east[:, None] * ax + north[:, None] * ay
        along = -start / climb
        met = (rim.x0 + along * ax)[(along > 0.0) & (along < 1.0)]
    every = np.concatenate((rim.x0, rim.x1, sides.x0, sides.x1, crossings, graded, met, [low, high]))
    # numpy.unique would load masked arrays
    every = np.sort(every[np.isfinite(every) & (every >= low) & (every <= high)])
    kept = np.concatenate(([True], np.diff(every) > _APART))
    found: Floats = every[kept]
    return found


def _slices(x: Floats, weight: Floats, rim: _Edges, ground: Floats) -> Floats:
    """The six totals of slices at ``x`` (m,), each of its ``weight`` [m]."""
    totals = np.zeros(6)
    row, foot, top, low, high = _spans(x, ground)
    for bottom, ceiling in _inside(x, rim):
        start = np.maximum(foot, bottom[row])
        end = np.minimum(top, ceiling[row])
        held = end > start
        a, b, rows = start[held], end[held], row[held]
        run = (top - foot)[held]
        climb = (high - low)[held] / run
        first = low[held] + (a - foot[held]) * climb
        last = low[held] + (b - foot[held]) * climb
        totals += weight[rows] @ _above_and_below(first, last, b - a)
    return totals


def _spans(x: Floats, ground: Floats) -> tuple[NDArray[np.int64], Floats, Floats, Floats, Floats]:
    """Where slices cut triangles: the number of the slice, from y to y, heights at both."""
    order = np.argsort(ground[:, :, 0], axis=1, kind="stable")
    a, b, c = (np.take_along_axis(ground, order[:, k, None, None], axis=1)[:, 0] for k in range(3))
    row, column = np.nonzero((x[:, None] > a[:, 0]) & (x[:, None] < c[:, 0]))
    at = x[row]
    first, second, third = a[column], b[column], c[column]
    whole = first + ((at - first[:, 0]) / (third[:, 0] - first[:, 0]))[:, None] * (third - first)
    early = at < second[:, 0]
    start, end = np.where(early[:, None], first, second), np.where(early[:, None], second, third)
    part = start + ((at - start[:, 0]) / (end[:, 0] - start[:, 0]))[:, None] * (end - start)
    under = whole[:, 1] <= part[:, 1]
    low, high = np.where(under[:, None], whole, part), np.where(under[:, None], part, whole)
    some = high[:, 1] > low[:, 1]
    low, high = low[some], high[some]
    return row[some], low[:, 1], high[:, 1], low[:, 2], high[:, 2]


def _inside(x: Floats, rim: _Edges) -> list[tuple[Floats, Floats]]:
    """The stretches of each slice inside the outline: lists of from y (m,) to y (m,), empty ones reversed."""
    crossed = (x[:, None] > rim.x0) & (x[:, None] < rim.x1)
    with np.errstate(divide="ignore", invalid="ignore"):
        y = rim.y0 + (x[:, None] - rim.x0) / (rim.x1 - rim.x0) * (rim.y1 - rim.y0)
    y = np.sort(np.where(crossed, y, np.inf), axis=1)
    most = int(crossed.sum(axis=1).max(initial=0))
    pairs = [(y[:, k], y[:, k + 1]) for k in range(0, most - most % 2, 2)]
    return [
        (np.where(np.isfinite(high), low, np.inf), np.where(np.isfinite(high), high, -np.inf))
        for low, high in pairs
    ]


def _above_and_below(first: Floats, last: Floats, run: Floats) -> Floats:
    """Six columns for lines from height ``first`` to ``last`` over ``run`` [m]: run, integral, integral above
    zero and below it, and how long they are above and below."""
    low, high = np.minimum(first, last), np.maximum(first, last)
    steep = np.where(high > low, high - low, 1.0)
    share = np.where(high <= 0.0, 0.0, np.where(low >= 0.0, 1.0, high / steep))
    above = np.where(low >= 0.0, 0.5 * (low + high), 0.5 * np.maximum(high, 0.0) * share)
    below = np.where(high <= 0.0, -0.5 * (low + high), 0.5 * np.maximum(-low, 0.0) * (1.0 - share))
    columns = np.stack((np.ones_like(run), 0.5 * (first + last), above, below, share, 1.0 - share), axis=1)
    found: Floats = columns * run[:, None]
    return found


def hold_against(found: Scanned | None, what: str, moved: float = 0.0, **told: float) -> None:
    """Refuse figures of ``what`` that the slices do not give: ``told`` by the fields of ``Scanned``.

    ``moved`` [m³]: how much is worked with in all; a figure may be off by ``AGREES`` of it, and by as many
    metres over the area. Raises ``CheckError``.
    """
    if found is None:
        return
    slack = AGREES * (abs(moved) + found.area)
    for name, value in told.items():
        own = getattr(found, name)
        if not abs(value - own) <= slack + AGREES * abs(own):
            raise CheckError(f"{what}: {name} {value!r}, by slices {own!r}")


def hold_cut_and_fill(surface: Surface, outline: Outline, answers: Sequence[CutFill]) -> None:
    """Hold cut and fill against levels against the second road. Raises ``CheckError``."""
    for one in answers:
        told = {"area": one.area, "cut": one.cut, "fill": one.fill, "ground": one.net}
        if not one.grade_area:  # what lies in the level is on neither side, or on any
            told |= {"cut_area": one.cut_area, "fill_area": one.fill_area}
        hold_against(scan(surface, outline, one.level), "cut and fill", one.cut + one.fill, **told)
