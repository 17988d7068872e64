"""The foot of a pad, where what is dug beside it begins, and the ground that both shape together.

A pad with side slopes has its foot where they meet the ground; one held by boards, at the boards.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.faces import Shapes
from gradework.earthwork.grading.finished import Finished, finished_ground
from gradework.earthwork.grading.planes import Highest, Lowest, Shape
from gradework.earthwork.grading.route import Edges, highest_beside
from gradework.earthwork.grading.sides import batter_shapes
from gradework.earthwork.outline import moved_ring

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

MOST_SIDES = 12
"""A pad of more sides is round: nothing follows it side by side."""


class Batter(NamedTuple):
    """The side slopes of a pad with nothing beside it: ``run`` per rise [-], what they take outside it [m³],
    and the ``area`` that they cover [m²]."""

    run: float
    cut: float
    fill: float
    area: float = 0.0


class Foot(NamedTuple):
    """Where what is dug beside a pad begins: at the height ``start`` [m], along ``ring`` (k, 2), local,
    ``toe``
    [m] out; ``slopes`` of the pad itself, dug and filled, None where boards hold it."""

    start: float
    toe: float
    ring: Floats
    batter: Batter | None
    slopes: tuple[Shape, Shape] | None


def pad_foot(
    surface: Surface,
    pad: Floats,
    level: float,
    needed: tuple[int, int],
    batter: Batter | None,
    *,
    start: float | None = None,
) -> Foot | None:
    """The foot of a pad (k, 2), site, on the sides ``needed`` (first, last); None of a round one,
    or where its slopes close a notch.

    A pad that stands above the ground begins at ``start`` [m], else where the ground along those sides is
    highest.
    """
    ring = pad - surface.origin
    if len(ring) > MOST_SIDES:
        return None
    slopes = None if batter is None else batter_shapes(ring, level, batter.run)
    start = min(level, highest_beside(Edges.of(surface), ring, needed) if start is None else start)
    toe = 0.0 if batter is None else batter.run * (level - start)
    foot, keep = moved_ring(ring, max(toe, 0.0))
    if not keep.all():
        return None  # the slopes fill a notch
    return Foot(start, toe, foot, batter, slopes)


def with_slopes(shapes: Shapes, foot: Foot, side: float) -> Shapes:
    """What is dug beside a pad and the pad's own slopes together; ``side`` [-]: its run per rise."""
    cut, fill = shapes
    if foot.batter is None or foot.slopes is None:
        return shapes
    up, down = foot.slopes
    # a slope flatter than the sides of what is dug ends at its foot, it does not reach into it
    _, ends = batter_shapes(foot.ring, foot.start, min(foot.batter.run, side))
    cut = Lowest((Highest((cut, Lowest((down, ends)))), up))
    return Shapes(cut, down if fill is None else Highest((fill, down)))


def shaped_beside(
    surface: Surface,
    pad: Floats,
    level: float,
    foot: Foot,
    shapes: Shapes,
    lines: Floats,
    room: Shape | None,
) -> tuple[Finished, Batter]:
    """The ground with ``shapes`` dug along ``lines`` (s, 2, 2), site, and of it the share of the pad itself.

    ``room``: what the ground beside it is dug down to, to build its edge, local; that is not dug again.
    """
    ground = finished_ground(surface, pad, level, cut=shapes.cut, fill=shapes.fill, lines=lines)
    own = foot.batter or Batter(0.0, 0.0, 0.0)
    if room is None:
        return ground, own
    alone, both = (
        finished_ground(surface, pad, level, cut=one, lines=lines).cut
        for one in (room, Lowest((shapes.cut, room)))
    )
    return ground, own._replace(cut=ground.cut - (both - alone))
