"""The ground along a straight line: between the edges of the triangles it is straight, so those tell all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

APART = 1e-6
"""[m] Stretches that leave more than this between them do not meet."""


def edges_once(surface: Surface) -> Floats:
    """The edges of the triangles, each once, those at the rim too: both ends (e, 2, 3), local [m]."""
    corners = surface.vertices[surface.triangles]
    once = surface.neighbours < np.arange(len(corners))[:, None]  # from one of the two triangles of each
    edges: Floats = np.stack((corners, np.roll(corners, -1, axis=1)), axis=2)[once]
    return edges


def stretches(triangles: Floats, start: Floats, along: Floats) -> Floats:
    """Where a line runs over triangles: distance from its ``start`` and elevation at both ends of each
    stretch (k, 2, 2) [m], from its start onward.

    triangles : (t, 3, 3);  start, along : (2,), a place and a unit vector, all in one frame. The line goes
    on both ways. Where it runs along an edge, the triangle on its right counts, so that of a surface each
    stretch comes once; an upright step leaves a gap in elevation between two stretches.

    >>> roof = np.array([[(0.0, 0.0, 5.0), (4.0, 0.0, 5.0), (0.0, 4.0, 9.0)]])
    >>> stretches(roof, np.array([-1.0, 1.0]), np.array([1.0, 0.0])).tolist()
    [[[1.0, 6.0], [4.0, 6.0]]]
    """
    arm = triangles[:, :, :2] - start
    off = arm[:, :, 1] * along[0] - arm[:, :, 0] * along[1]
    left = off >= 0.0
    met = np.flatnonzero(left.any(axis=1) & ~left.all(axis=1))
    corner, side, off = triangles[met], left[met], off[met]
    onward, after = np.roll(corner, -1, axis=1), np.roll(off, -1, axis=1)
    crossed = side != np.roll(side, -1, axis=1)  # two of the three sides
    share = off[crossed] / (off[crossed] - after[crossed])
    at = corner[crossed] + share[:, None] * (onward[crossed] - corner[crossed])
    ends = np.column_stack(((at[:, :2] - start) @ along, at[:, 2])).reshape(-1, 2, 2)
    backward = ends[:, 0, 0] > ends[:, 1, 0]
    ends[backward] = ends[backward, ::-1]
    found: Floats = ends[ends[:, 0, 0] < ends[:, 1, 0]]
    return found[np.argsort(found[:, :, 0].sum(axis=1), kind="stable")]


def cut_along(
    surface: Surface, start: Floats, along: Floats, low: float = -np.inf, high: float = np.inf
) -> Floats:
    """The stretches (k, 2, 2) [m] of a surface along a line, as of ``stretches``, cut off at two distances.

    start, along : (2,), a place of the site [m] and a unit vector.  low, high : from the start [m].
    """
    corners, own = surface.vertices[surface.triangles], start - surface.origin
    # along the rim ground lies on one side only: of the line and those just beside it, that with most ground
    aside = APART * np.array([-along[1], along[0]])
    lines = [stretches(corners, own + k * aside, along) for k in (0, 1, -1)]
    found = max(lines, key=lambda one: round(float(np.diff(one[:, :, 0], axis=1).sum()), 4))
    found = found[(found[:, 1, 0] > low) & (found[:, 0, 0] < high)]
    first, last = found[:, :1], found[:, 1:]
    at = np.clip(found[:, :, 0], low, high)
    share = (at - first[:, :, 0]) / (last[:, :, 0] - first[:, :, 0])
    height = first[:, :, 1] + share * (last[:, :, 1] - first[:, :, 1])
    cut: Floats = np.stack((at, np.where(at == found[:, :, 0], found[:, :, 1], height)), axis=2)
    return cut


def as_lines(found: Floats) -> tuple[Floats, ...]:
    """Stretches (k, 2, 2) as lines (m, 2) of those that follow on each other; a step goes straight up."""
    if not len(found):
        return ()
    breaks = np.flatnonzero(found[1:, 0, 0] - found[:-1, 1, 0] > APART) + 1
    return tuple(part.reshape(-1, 2) for part in np.split(found, breaks))


def heights_beside(found: Floats, at: Floats) -> tuple[Floats, Floats]:
    """Elevation just before and just after each distance ``at`` (m,) [m] of stretches (k, 2, 2): NaN where
    there is none. The two differ where the ground steps."""
    answers = []
    for side in (-APART, APART):
        answer = np.full(len(at), np.nan)
        if len(found):
            beside = at + side
            number = np.minimum(np.searchsorted(found[:, 1, 0], beside), len(found) - 1)
            (first, low), (last, high) = found[number, 0].T, found[number, 1].T
            on = (first <= beside) & (beside <= last)
            height = low + (np.clip(at, first, last) - first) / (last - first) * (high - low)
            answer[on] = height[on]
        answers.append(answer)
    return answers[0], answers[1]


def inside(rings: Sequence[Floats], start: Floats, along: Floats) -> tuple[tuple[float, float], ...]:
    """From where to where along a line it runs inside an outline, holes left out [m].

    rings : (n, 2) each, in the frame of ``start``, a place, and ``along``, a unit vector.

    >>> square = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)])
    >>> inside([square], np.array([-1.0, 1.0]), np.array([1.0, 0.0]))
    ((1.0, 5.0),)
    """
    found: list[float] = []
    for ring in rings:
        arm = ring - start
        off, at = arm[:, 1] * along[0] - arm[:, 0] * along[1], arm @ along
        for one, two, first, last in zip(off, np.roll(off, -1), at, np.roll(at, -1), strict=True):
            if (one >= 0.0) != (two >= 0.0):
                found.append(float(first + one / (one - two) * (last - first)))
    found.sort()
    return tuple(zip(found[::2], found[1::2], strict=True))


def crossings(edges: Floats, start: Floats, along: Floats) -> Floats:
    """Where a line crosses edges: distance from its ``start`` and elevation (k, 2) [m], sorted.

    edges : (e, 2, 3);  start, along : (2,), a place and a unit vector, all in one frame. The line goes on
    both ways. An edge that lies in it is not crossed, those that meet it there are.

    >>> edge = np.array([[(3.0, -1.0, 10.0), (3.0, 3.0, 12.0)]])
    >>> crossings(edge, np.array([0.0, 0.0]), np.array([1.0, 0.0])).tolist()
    [[3.0, 10.5]]
    """
    one, two = edges[:, 0, :2] - start, edges[:, 1, :2] - start
    off_one, off_two = (arm[:, 1] * along[0] - arm[:, 0] * along[1] for arm in (one, two))
    meets = np.flatnonzero((off_one * off_two <= 0.0) & (off_one != off_two))
    share = off_one[meets] / (off_one[meets] - off_two[meets])
    at = (one[meets] + share[:, None] * (two[meets] - one[meets])) @ along
    ground = edges[meets, 0, 2] + share * (edges[meets, 1, 2] - edges[meets, 0, 2])
    found: Floats = np.column_stack((at, ground))[np.argsort(at, kind="stable")]
    return found
