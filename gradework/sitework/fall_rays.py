"""How the ground falls away from each wall: exact profiles along rays square to the walls.

Between the edges of the triangles the ground is straight, so a profile needs only the places where the ray
crosses an edge; nothing is sampled. Along a wall the fall over the full reach is straight between the places
where the wall or the line one reach farther out crosses an edge: the ray of least fall stands on one of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.sides import Side, sides_of
from gradework.ground.locate import TOUCH
from gradework.ground.profile import crossings, edges_once

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface


Floats = NDArray[np.float64]
Verdict = Literal["away", "too little", "toward", "survey too short"]

HUMP = 0.003
"""One reading [m], 1/8 in: ground higher than at the wall by no more than this does not turn water back, and
a fall that is short of the rule by no more than this is no finding."""


@dataclass(frozen=True, slots=True)
class PadTop:
    """A finished pad or slab: ``level`` [m], ``outline``, what to call it; inside it the profile is level."""

    level: float
    outline: Outline
    name: str = "pad"


@dataclass(frozen=True, slots=True)
class Ray:
    """One look square to a wall, site frame [m].

    ``length`` is the reach looked at (shorter where another wall of the building stands in the way),
    ``known`` how far the survey goes; ``fall`` [m] from the wall to ``end`` is positive away from the
    building, NaN where the survey stops short; ``rise`` [m] is how much the highest ground along the known
    part stands above the wall, ``rise_at`` [m] how far out; ``needed`` [m] the least fall over ``length``.
    """

    wall: str
    start: tuple[float, float]
    end: tuple[float, float]
    length: float
    known: float
    fall: float
    rise: float
    rise_at: float
    needed: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Wall(Side):
    """A side of the outline with its name, site frame."""

    name: str


@dataclass(frozen=True)
class EdgesNear:
    """Edges of the triangles near the building (e, 2, 3): both ends, LOCAL x, y and elevation [m]."""

    surface: Surface
    ends: Floats

    @classmethod
    def of(cls, surface: Surface, outline: Outline, reach: float) -> EdgesNear:
        """Gather every edge whose box comes within ``reach`` [m] of the outline's box."""
        box = np.array(outline.bounds) - np.tile(surface.origin, 2)
        ends = edges_once(surface)
        low, high = ends[:, :, :2].min(axis=1), ends[:, :, :2].max(axis=1)
        reach += TOUCH
        return cls(surface, ends[((high >= box[:2] - reach) & (low <= box[2:] + reach)).all(axis=1)])

    def crossings(self, start: Floats, direction: Floats, length: float) -> Floats:
        """Distances from ``start`` (site) where a line meets an edge, and elevations: (k, 2) [m], sorted."""
        found = crossings(self.ends, start - self.surface.origin, direction)
        return found[(found[:, 0] >= 0.0) & (found[:, 0] <= length)]

    def profile(self, start: Floats, direction: Floats, length: float) -> tuple[Floats, float]:
        """Ground along a ray: distance and elevation at every bend (k, 2) [m], and how far it is known [m].

        Begins at the wall; with no ground there, no rows and 0.
        """
        bends = self.crossings(start, direction, length)
        bends = bends[(bends[:, 0] > 0.0) & (bends[:, 0] < length)]
        at = np.concatenate([[0.0], bends[:, 0], [length]])
        # ends and bends can lie on the hull; only the middle of a stretch tells whether it has ground
        middles = (at[1:] + at[:-1]) / 2.0
        where = np.concatenate([[0.0, length], middles])
        ground = self.surface.elevation(start + where[:, None] * direction)
        if math.isnan(ground[0]):
            return np.empty((0, 2)), 0.0
        rows = np.column_stack([at, np.concatenate([ground[:1], bends[:, 1], ground[1:2]])])
        unknown = np.isnan(ground[2:]) & (np.diff(at) > TOUCH)
        if not unknown.any():
            # an end just over the hull's millimetre: the last bend, within a millimetre, stands for it
            return (rows, length) if not math.isnan(ground[1]) else (rows[:-1], float(at[-2]))
        last = int(np.argmax(unknown))
        return rows[: last + 1], float(at[last])


def walls_of(outline: Outline) -> tuple[Wall, ...]:
    """Give the outside walls of a building in the order of its corners; courtyards are not looked at."""
    names = [name.removeprefix("corner ") for name in outline.names]
    return tuple(
        Wall(
            side.start, side.along, side.outward, side.length,
            f"wall (corners {names[k]}-{names[(k + 1) % len(outline.rings[0])]})",
        )
        for k, side in enumerate(sides_of(outline.rings[0]))
    )  # fmt: skip


def wall_rays(
    edges: EdgesNear, wall: Wall, building: Outline, *, reach: float, fall: float, spacing: float,
    pad: PadTop | None = None,
) -> tuple[Ray, ...]:  # fmt: skip
    """Look out from a wall at both ends, at stations up to ``spacing`` [m] apart, and at the least fall.

    ``reach`` [m] is how far out, ``fall`` [-] the least slope. ``pad`` levels the ground inside it; looks
    that run along the next wall at an inward corner, inside its strip of the pad all the way, are left out.
    """
    rays = tuple(
        _ray(edges, wall, building, along=s, reach=reach, fall=fall, pad=pad)
        for s in _stations(edges, wall, reach, spacing, pad)
    )
    if pad is None:
        return rays
    leaving = tuple(ray for ray in rays if _pad_ends(pad, np.array(ray.start), wall.outward) < ray.length)
    return leaving or rays


def _stations(edges: EdgesNear, wall: Wall, reach: float, spacing: float, pad: PadTop | None) -> list[float]:
    """Regular stations along a wall [m] and, when it is not one of them, the place of the least fall."""
    regular = np.linspace(0.0, wall.length, 1 + max(1, math.ceil(wall.length / spacing - 1e-9)))
    # along the wall and along the line one reach out the ground bends only at edges: least fall is at a bend
    outer = wall.start + wall.outward * reach
    bends = [edges.crossings(p, wall.along, wall.length)[:, 0] for p in (wall.start, outer)]
    every = np.unique(np.concatenate([regular, *bends]))
    at_wall = edges.surface.elevation(wall.start + every[:, None] * wall.along)
    fall = (at_wall if pad is None else pad.level) - edges.surface.elevation(
        outer + every[:, None] * wall.along
    )
    if np.isnan(fall).all():
        return [float(s) for s in regular]
    worst = float(every[int(np.nanargmin(fall))])
    if np.abs(regular - worst).min() > TOUCH:
        regular = np.sort(np.append(regular, worst))
    return [float(s) for s in regular]


def _ray(
    edges: EdgesNear, wall: Wall, building: Outline, *, along: float, reach: float, fall: float,
    pad: PadTop | None,
) -> Ray:  # fmt: skip
    start = wall.start + wall.along * along
    # at an inward corner the ray runs along the next wall: a millimetre aside it does not count as a hit
    aside = start + wall.along * math.copysign(TOUCH, wall.length / 2.0 - along)
    length = min(reach, _first_hit(building, aside, wall.outward))
    rows, known = edges.profile(start, wall.outward, length)
    if pad is not None and len(rows):
        rows = _with_pad(rows, pad, start, wall.outward)
    end = start + wall.outward * length
    needed = fall * length
    complete = len(rows) > 0 and known >= length - TOUCH
    drop = float(rows[0, 1] - rows[-1, 1]) if complete else math.nan
    rises = rows[:, 1] - rows[0, 1] if len(rows) else np.zeros(1)
    top = int(np.argmax(rises))
    rise, rise_at = float(rises[top]), float(rows[top, 0]) if len(rows) else 0.0
    return Ray(
        wall.name,
        (float(start[0]), float(start[1])),
        (float(end[0]), float(end[1])),
        length,
        known,
        drop,
        rise,
        rise_at,
        needed,
        _verdict(drop, rise, needed),
    )


def _verdict(drop: float, rise: float, needed: float) -> Verdict:
    if rise > HUMP:
        return "toward"
    if math.isnan(drop):
        return "survey too short"
    return "away" if drop >= needed - HUMP else "too little"


def _with_pad(rows: Floats, pad: PadTop, start: Floats, outward: Floats) -> Floats:
    """Put the pad's level over the ground as far as the pad goes; at its edge the profile steps."""
    edge = _pad_ends(pad, start, outward)
    beyond = rows[rows[:, 0] >= edge]
    if not len(beyond):
        return np.array([[0.0, pad.level], [float(rows[-1, 0]), pad.level]])
    at_edge = np.interp(edge, rows[:, 0], rows[:, 1])  # two rows at one distance: the step at the edge
    return np.vstack([[0.0, pad.level], [edge, pad.level], [edge, at_edge], beyond])


def _pad_ends(pad: PadTop, start: Floats, outward: Floats) -> float:
    """How far out from a wall the pad goes [m]."""
    inside = bool(pad.outline.contains(start + outward * TOUCH)[0])
    return _first_hit(pad.outline, start, outward) if inside else 0.0


def _first_hit(outline: Outline, start: Floats, outward: Floats) -> float:
    """Distance [m] at which a ray meets a side of the outline, but for the one it starts on; inf for none."""
    best = math.inf
    for ring in outline.rings:
        a = ring - start
        b = np.roll(a, -1, axis=0)
        off_a = a[:, 1] * outward[0] - a[:, 0] * outward[1]
        off_b = b[:, 1] * outward[0] - b[:, 0] * outward[1]
        meets = np.flatnonzero((off_a * off_b <= 0.0) & (off_a != off_b))
        share = off_a[meets] / (off_a[meets] - off_b[meets])
        at = (a[meets] + share[:, None] * (b[meets] - a[meets])) @ outward
        best = min([best, *(float(t) for t in at if t > TOUCH)])
    return best
