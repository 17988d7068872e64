"""The strip of ground square to each wall: where it begins, where it ends, and why. Plan geometry only.

Along a wall u runs from its first corner to its second, t outward from it. A strip is cut into bays in which
both its ends are straight; it begins at the wall, or at the outer edge of what is built level before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.sides import STRAIGHT, Side, sides_of
from gradework.earthwork.rings import half_turns
from gradework.ground.locate import TOUCH

if TYPE_CHECKING:
    from gradework.earthwork.grading.planes import Shape
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

NUDGE = 1e-6
"""The ground before a wall is read this much inside both ends of its strip [m]: there it may step."""

_SAME = 1e-9
"""Places along a wall closer than this are one [m]."""

End = Literal["reach", "invert", "building", "barrier", "corner"]
"""Why a strip ends: how far the rule looks, a swale or drain that is led, the same building, what bars it; in
a notch that is led, where it comes nearer to the other wall, whose strip takes over."""

_ENDS: tuple[End, ...] = ("building", "building", "invert", "barrier", "corner")


@dataclass(frozen=True, slots=True)
class PadTop:
    """A finished pad or slab: ``level`` [m], ``outline``, what to call it; inside it the ground is level.

    ``ground`` is what lies round it once its side slopes are made, None where the ground stays as surveyed;
    ``room`` what the ground is dug down to, local, to build its edge, None where nothing is. ``roof`` [m²] is
    the plan of the roof over it, None where it is as large as the building. ``shown`` [m]: of its edge so
    much stays free of what is shaped beside it.
    """

    level: float
    outline: Outline
    name: str = "pad"
    ground: Surface | None = None
    room: Shape | None = None
    roof: float | None = None
    shown: float = 0.0


@dataclass(frozen=True, slots=True)
class Wall(Side):
    """A side of the outline with its name, site frame."""

    name: str

    def frame(self, places: Floats) -> Floats:
        """Give u and t (..., 2) [m] of places (..., 2) in the site frame."""
        arm = places - self.start
        framed: Floats = np.stack((arm @ self.along, arm @ self.outward), axis=-1)
        return framed

    def place(self, u: float, t: float) -> tuple[float, float]:
        """The place in the site frame [m] that far along the wall and out from it."""
        x, y = self.point(u, t).tolist()
        return x, y


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


MOST_WALLS_NAMED = 8
"""When more walls than this need something, one finding speaks for all and names the worst place."""


def walls_named(names: Sequence[str]) -> str:
    """Name walls together.

    >>> walls_named(["wall (corners 1-2)"]), walls_named(["wall (corners 3-4)", "wall (corners 4-1)"])
    ('wall (corners 1-2)', 'walls (corners 3-4 and 4-1)')
    """
    corners = [name.removeprefix("wall (corners ").removesuffix(")") for name in names]
    if len(corners) == 1:
        return names[0]
    if len(corners) > MOST_WALLS_NAMED:
        return f"{len(corners)} walls"
    return f"walls (corners {', '.join(corners[:-1])} and {corners[-1]})"


class Bay(NamedTuple):
    """A part of a strip between two u: its beginning ``near`` and its end ``far`` at both, t [m].

    ``covered``: what is built level reaches all the way, so there is no ground in it.
    """

    u: tuple[float, float]
    near: tuple[float, float]
    far: tuple[float, float]
    end: End
    covered: bool


def bays_of(
    wall: Wall,
    building: Outline,
    reach: float,
    *,
    pad: PadTop | None = None,
    inverts: Floats | None = None,
    barriers: Floats | None = None,
) -> tuple[Bay, ...]:
    """Cut the strip before a wall into bays, out to ``reach`` [m] or to what ends it sooner.

    ``inverts`` (n, 2, 2): stretches of the bottom of swales and drains that are led to an outlet, site frame;
    ``barriers`` (n, 2, 2): walls, fences and lot lines; what bars the way, or how near to it shots go.
    Another wing of the building, or of its pad, ends a strip too; beside an inward corner past which water is
    led, the middle line of the notch. What runs square to the wall ends nothing.
    """
    own = [_lines(building), np.empty((0, 2, 2)) if pad is None else _lines(pad.outline)]
    led = inverts is not None and len(inverts) > 0
    notch = _middle_lines(building, wall, reach) if led else None
    more = (inverts, barriers, notch)
    sets = [*own, *(np.empty((0, 2, 2)) if lines is None else lines for lines in more)]
    lines = [_in_strip(wall.frame(some), wall.length, reach) for some in sets]
    cuts = _cuts(np.concatenate(lines), wall.length, reach)
    bays = (_inside(first, last) for first, last in pairwise(cuts.tolist()))
    return tuple(_bay(wall, lines, reach, pad, first, last) for first, last in bays)


def _inside(first: float, last: float) -> tuple[float, float]:
    """A hair inside a bay: along its sides, too, the ground may step, where the other wing's pad begins."""
    hair = min(NUDGE, 0.25 * (last - first))
    return first + hair, last - hair


def _lines(outline: Outline) -> Floats:
    """All sides of an outline, holes too, (n, 2, 2) site [m]."""
    rings = [np.stack((ring, np.roll(ring, -1, axis=0)), axis=1) for ring in outline.rings]
    return np.concatenate(rings)


def _middle_lines(building: Outline, wall: Wall, reach: float) -> Floats:
    """From each inward corner of a wall the line as far from it as from the next one (n, 2, 2), site [m]."""
    ring = building.rings[0]
    sides, inward, found = sides_of(ring), half_turns(ring) < -STRAIGHT, []
    for k in np.flatnonzero(inward).tolist():
        if any(np.hypot(*(ring[k] - end)) < _SAME for end in (wall.start, wall.point(wall.length, 0.0))):
            out = sides[k - 1].outward + sides[k].outward
            found.append(np.stack((ring[k], ring[k] + 2.0 * reach * out)))
    return np.array(found).reshape(-1, 2, 2)


def _in_strip(lines: Floats, length: float, reach: float) -> Floats:
    """Those of ``lines`` (n, 2, 2), u and t, that a look from the wall may meet, from low u to high."""
    lines = np.where((lines[:, 0, 0] > lines[:, 1, 0])[:, None, None], lines[:, ::-1], lines)
    u, t = lines[:, :, 0], lines[:, :, 1]
    meets = (u[:, 1] - u[:, 0] > _SAME) & (u[:, 0] < length) & (u[:, 1] > 0.0)
    kept: Floats = lines[meets & (t.max(axis=1) > TOUCH) & (t.min(axis=1) < reach)]
    return kept


def _cuts(lines: Floats, length: float, reach: float) -> Floats:
    """The u at which a line begins or ends, or two of them, or one and the reach, cross."""
    whole = np.array([[[0.0, reach], [length, reach]]])
    every = np.concatenate((lines, whole))
    start, run = every[:, 0], every[:, 1] - every[:, 0]
    slope = run[:, 1] / run[:, 0]
    height = start[:, 1] - slope * start[:, 0]
    turn = slope[:, None] - slope
    cross = (height[None, :] - height[:, None])[turn != 0.0] / turn[turn != 0.0]
    cuts = np.concatenate(([0.0, length], lines[:, :, 0].reshape(-1), cross))
    cuts = np.unique(cuts[(cuts >= 0.0) & (cuts <= length)])
    return cuts[np.concatenate(([True], np.diff(cuts) > _SAME))]


def _bay(wall: Wall, sets: list[Floats], reach: float, pad: PadTop | None, first: float, last: float) -> Bay:
    """Between two cuts no lines cross, so what a look from the middle meets first ends all of it."""
    middle = 0.5 * (first + last)
    near, out = (0.0, 0.0), 0.0
    if pad is not None and pad.outline.contains(np.array([wall.place(middle, TOUCH)]))[0]:
        hits = _hits(sets[1], middle, TOUCH)
        if hits:
            out, row = hits[0]
            near = _heights(sets[1][row], first, last)
        else:
            near, out = (reach, reach), reach
    far, distance = (reach, reach), reach
    end: End = "reach"
    for number, lines in enumerate(sets):
        beyond = TOUCH if number in (0, 3, 4) else out + TOUCH
        for t, row in _hits(lines, middle, beyond)[:1]:
            if t < distance:
                far, distance, end = _heights(lines[row], first, last), t, _ENDS[number]
    return Bay((first, last), near, far, end, out > distance - TOUCH)


def _hits(lines: Floats, u: float, beyond: float) -> list[tuple[float, int]]:
    """How far out a look from ``u`` meets lines, beyond a distance, and which; the nearest first."""
    spans = np.flatnonzero((lines[:, 0, 0] < u) & (lines[:, 1, 0] > u))
    found = ((_heights(lines[row], u, u)[0], row) for row in spans.tolist())
    return sorted(hit for hit in found if hit[0] > beyond)


def _heights(line: Floats, first: float, last: float) -> tuple[float, float]:
    """The t of a line (2, 2) at two u."""
    (u, t), (u1, t1) = line.tolist()
    slope = (t1 - t) / (u1 - u)
    return t + slope * (first - u), t + slope * (last - u)
