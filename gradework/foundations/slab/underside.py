"""What is dug and filled for a slab on real ground, in closed form, its thickened edge and all.

Ground g, strip s, top of slab L, thickness t, base course b, concrete below the slab e(x, y): the underside
is u = L - t - e, the base course reaches down to f = min(L - t - b, u), and

    digging = s area + ∫ max(0, g - s - f),   fill = ∫ max(0, f - (g - s)),   base course = ∫ (u - f).

So nothing is dug where there is no ground, and no fill lies where there is concrete. In every zone of the
slab f is a plane, and on every triangle of ground cut by a zone so is g - s - f.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import CLOSURE, cut_region, half_planes, signed_areas
from gradework.earthwork.outline import moved_ring
from gradework.earthwork.rings import convex_parts, crossings, ring_area
from gradework.earthwork.volumes import AGREEMENT, prism_sums
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.foundations.slab.spec import SlabSpec


# The underside of a slab in plan: bottom of the thickened edge, its slope, and the inside; convex
# regions.
#
# Let r be the distance inward from the nearest side, mitred at the corners, w the width of the edge's
# bottom and d its depth below the slab. Below the slab there is concrete d deep where r <= w, d - (r - w)
# where w <= r <= w + d, and none farther in. Every zone belongs to one side (or lies inside), so in it
# the underside is a plane. Nothing here knows the ground.

Floats = NDArray[np.float64]

STRAIGHT = 1e-9
"""A corner that turns by less than this (its sine) is left out: its two sides are one."""

ROOM = 1e-9
"""A slab with less than this part of itself inside its edges is all edge."""


class Zone(NamedTuple):
    """A convex part of the slab in plan, local coordinates.

    planes : (k, 3) half-planes of ``halfplane``, inside is to be in all of them.  depth : (3,) the concrete
    below the slab's underside is depth[0] x + depth[1] y + depth[2] [m].
    """

    planes: Floats
    depth: Floats


class EdgesMeetError(ValueError):
    """The thickened edges of two sides meet before the slab is as thin as it should be."""


def edge_zones(
    rings: Sequence[Floats], width: float, depth: float, base: float, *, convex: bool
) -> tuple[Zone, ...]:
    """Part a slab (rings of an outline, local) into zones; ``depth`` [m] of the edge, ``base`` of the course
    beside it.

    A slope is parted where it is ``base`` deep. Zones cover the slab once. Raises ``EdgesMeetError``.
    """
    if depth <= 0.0:
        return tuple(Zone(planes, np.zeros(3)) for planes in _inside(rings, 0.0, convex=convex))
    limits = sorted({0.0, width, width + max(0.0, depth - base), width + depth})
    reach = limits[-1]
    whole = sides_remain(rings, reach)
    if not (whole or convex):
        raise EdgesMeetError
    if convex and not whole:
        rings = [_without_straight_corners(rings[0])]
        if not _reaches(rings[0], reach):
            raise EdgesMeetError
    zones = []
    for near, far in pairwise(limits):
        bands = _tiles(rings, near, far) if whole else _nearest(rings[0], near, far)
        for side, planes in bands:
            plane = np.array([0.0, 0.0, depth])
            if near >= width:
                plane = np.array([-side[0], -side[1], depth + width + side[2]])
            zones.append(Zone(planes, plane))
    return (*zones, *(Zone(planes, np.zeros(3)) for planes in _inside(rings, reach, convex=convex)))


def sides_remain(rings: Sequence[Floats], reach: float) -> bool:
    """Whether every side still runs its own way when all of them move inward by ``reach`` [m], and none meet.

    Then the area within a distance r <= reach of the sides is a polynomial in r.
    """
    moved = [moved_ring(ring, -reach) for ring in rings]
    if not all(kept.all() for _, kept in moved) or sum(ring_area(ring) for ring, _ in moved) <= 0.0:
        return False
    return next(crossings([ring for ring, _ in moved]), None) is None


def _reaches(ring: Floats, reach: float) -> bool:
    """Whether a convex ring has an inside farther than ``reach`` [m] from all of its sides."""
    fan = np.array([(ring[0], ring[n], ring[n + 1]) for n in range(1, len(ring) - 1)])
    fan = np.concatenate((fan, np.zeros((*fan.shape[:2], 1))), axis=2)
    (planes,) = _inside([ring], reach, convex=True)
    return float(signed_areas(cut_region(fan, planes)[0]).sum()) > ROOM * abs(ring_area(ring))


def _tiles(rings: Sequence[Floats], near: float, far: float) -> Iterator[tuple[Floats, Floats]]:
    """For each side its line (3,) and the half-planes of the trapezium between two distances from it."""
    for ring in rings:
        lines = half_planes(ring)
        low, high = moved_ring(ring, -near)[0], moved_ring(ring, -far)[0]
        for number, line in enumerate(lines):
            after = (number + 1) % len(ring)
            corners = np.array([low[number], low[after], high[after], high[number]])
            yield line, half_planes(corners)


def _nearest(ring: Floats, near: float, far: float) -> Iterator[tuple[Floats, Floats]]:
    """The same for a convex ring some of whose sides end before ``far``: where a side is the nearest."""
    lines = half_planes(ring)
    for number, line in enumerate(lines):
        nearer = np.delete(lines, number, axis=0) - line
        yield line, np.vstack([line + _farther(near), -line - _farther(far), nearer])


def _inside(rings: Sequence[Floats], reach: float, *, convex: bool) -> list[Floats]:
    """Half-planes of convex parts of what is farther in than ``reach`` [m]."""
    if convex:
        return [half_planes(rings[0]) + _farther(reach)]
    moved = [moved_ring(ring, -reach)[0] for ring in rings] if reach > 0.0 else rings
    return [half_planes(part) for part in convex_parts(moved)]


def _farther(distance: float) -> Floats:
    """What is added to a half-plane (3,) so that it begins so much farther in [m]."""
    return np.array([0.0, 0.0, distance])


def _without_straight_corners(ring: Floats) -> Floats:
    side = np.roll(ring, -1, axis=0) - ring
    side /= np.hypot(side[:, 0], side[:, 1])[:, None]
    before = np.roll(side, 1, axis=0)
    turns = before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]
    return ring[np.abs(turns) > STRAIGHT]


class Earthwork(NamedTuple):
    """Volumes [m³]: ``dig`` in place, ``subsoil`` the part of it below the strip, ``base`` and ``fill``
    compacted, ``edge`` the concrete below the slab where there is ground. ``fill_most`` [m] is the deepest
    fill.
    """

    dig: float
    subsoil: float
    base: float
    fill: float
    edge: float
    fill_most: float


def slab_earthwork(pieces: Pieces, zones: Sequence[Zone], spec: SlabSpec, level: float) -> Earthwork:
    """Work out digging, base course and fill below a slab whose top is at ``level`` [m].

    Raises ``CheckError`` where zones leave ground out, or where soil, stone and concrete do not add up.
    """
    cut = fill = edge = taken = covered = deepest = 0.0
    under = level - spec.thickness
    for zone in zones:
        corners, _ = cut_region(pieces.corners, zone.planes)
        areas = signed_areas(corners)
        concrete = corners[:, :, 0] * zone.depth[0] + corners[:, :, 1] * zone.depth[1] + zone.depth[2]
        above = corners[:, :, 2] - spec.strip - (under - np.maximum(concrete, spec.base))
        sums = prism_sums(np.sort(above, axis=1), areas, np.zeros(1))
        cut += float(sums.cut[0])
        fill += float(sums.fill[0])
        edge += float(areas @ concrete.mean(axis=1))
        taken += float(areas @ np.minimum(concrete, spec.base).mean(axis=1))
        covered += float(areas.sum())
        deepest = max(deepest, -float(above.min(initial=0.0)))
    whole = float(pieces.areas.sum())
    if not abs(covered - whole) <= CLOSURE * whole:
        raise CheckError(f"the zones of the slab cover {covered!r} m² of {whole!r} m²")
    base = spec.base * whole - taken
    dig = spec.strip * whole + cut
    _check(pieces, dig, base + fill, whole * spec.thickness + edge, level)
    return Earthwork(dig, cut, max(0.0, base), max(0.0, fill), edge, deepest)


def _check(pieces: Pieces, dig: float, filled: float, concrete: float, level: float) -> None:
    """What is dug less what is put in brings the mean of the ground to the top of the slab.

    That mean comes from the corners of the ground alone, whatever the shape of the concrete.
    """
    area = float(pieces.areas.sum())
    slack = AGREEMENT * (dig + abs(filled) + concrete) + area * (abs(level) + 1.0) * 1e-13
    if dig < -slack or filled < -slack:
        raise CheckError("a slab with less than no digging or gravel")
    if not abs(area * (pieces.mean - level) - (dig - filled - concrete)) <= slack:
        raise CheckError("digging less fill and concrete does not bring the ground to the top of the slab")
