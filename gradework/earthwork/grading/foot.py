"""The foot of a pad, where what is dug beside it begins, and the ground that both shape together.

A pad with side slopes has its foot where they meet the ground; one held by boards, at the boards.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.apron import highest_beside
from gradework.earthwork.grading.faces import Shapes
from gradework.earthwork.grading.finished import Finished, finished_ground
from gradework.earthwork.grading.planes import Highest, Lowest, Shape
from gradework.earthwork.grading.route import Edges
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
    """Where what is dug beside a pad begins: at the height ``start`` [m], along ``ring`` (k, 2), ``toe`` [m]
    out from its ``edge`` (k, 2), both local; ``slopes`` of the pad itself, dug and filled, None where boards
    hold it."""

    start: float
    toe: float
    ring: Floats
    edge: Floats
    batter: Batter | None
    slopes: tuple[Shape, Shape] | None


def pad_foot(
    surface: Surface,
    pad: Floats,
    level: float,
    needed: tuple[int, int],
    batter: Batter | None,
    *,
    shown: float = 0.0,
    start: float | None = None,
) -> Foot | None:
    """The foot of a pad (k, 2), site, on the sides ``needed`` (first, last); None of a round one, or
    where its slopes close a notch.

    It begins at ``start`` [m], else ``shown`` [m] below the level, or where the ground along those sides is
    highest if that is lower.
    """
    ring = pad - surface.origin
    if len(ring) > MOST_SIDES:
        return None
    slopes = None if batter is None else batter_shapes(ring, level, batter.run)
    if start is None:
        start = min(level - shown, highest_beside(Edges.of(surface), ring, needed))
    toe = 0.0 if batter is None else batter.run * (level - start)
    foot, keep = moved_ring(ring, max(toe, 0.0))
    if not keep.all():
        return None  # the slopes fill a notch
    return Foot(start, toe, foot, ring, batter, slopes)


def with_slopes(shapes: Shapes, foot: Foot, side: float) -> Shapes:
    """What is dug beside a pad and the pad's own slopes together; ``side`` [-]: its run per rise."""
    cut, fill = shapes
    if foot.batter is None or foot.slopes is None:
        return shapes
    up, down = foot.slopes
    if cut is None:
        return Shapes(up, down if fill is None else Highest((fill, down)))
    # a slope flatter than the sides of what is dug ends at its foot, it does not reach into it
    run = min(foot.batter.run, side)
    _, ends = batter_shapes(foot.edge, foot.start + foot.toe / run, run)
    cut = Lowest((Highest((cut, Lowest((down, ends)))), up))
    return Shapes(cut, down if fill is None else Highest((fill, down)))


@dataclass(frozen=True, eq=False)
class Beside:
    """What is dug and filled beside a pad (k, 2), site, at a ``level`` [m]; the ground with it is worked out
    when it is first asked for, since most of what is tried is passed over before that.

    ``shapes``: what the surface is dug down and filled up to, local, along ``lines`` (s, 2, 2), site;
    ``room``: what the ground beside it is dug down to, to build its edge, local; that is not dug again.
    """

    surface: Surface
    pad: Floats
    level: float
    foot: Foot
    shapes: Shapes
    lines: Floats
    room: Shape | None

    def _made(self, cut: Shape | None, fill: Shape | None = None) -> Finished:
        return finished_ground(self.surface, self.pad, self.level, cut=cut, fill=fill, lines=self.lines)

    @cached_property
    def ground(self) -> Finished:
        """The finished ground with it alone."""
        return self._made(*self.shapes)

    @property
    def _own(self) -> Batter:
        """The side slopes of the pad itself."""
        return self.foot.batter or Batter(0.0, 0.0, 0.0)

    @cached_property
    def cut(self) -> float:
        """Dug besides the pad, its side slopes or its room [m³]."""
        if self.room is None or self.shapes.cut is None:
            return self.ground.cut - self._own.cut
        return self._made(Lowest((self.shapes.cut, self.room))).cut - self._made(self.room).cut

    @property
    def fill(self) -> float:
        """Filled besides the side slopes of the pad [m³]."""
        return self.ground.fill - self._own.fill

    @property
    def bare(self) -> float:
        """The ground that is dug and filled, besides the side slopes of the pad [m²]."""
        return max(self.ground.cut_area + self.ground.fill_area - self._own.area, 0.0)


class DugBeside:
    """What everything that is dug ``beside`` a pad hands on of it."""

    beside: Beside

    @property
    def start(self) -> float:
        """The height at the edge of the pad where it begins [m], on the sides that it leads past."""
        return self.beside.foot.start

    @property
    def shapes(self) -> Shapes:
        """What the ground is dug down and filled up to with it, local."""
        return self.beside.shapes

    @property
    def dug(self) -> Floats:
        """The lines along which that counts (s, 2, 2): of a swale those that are dug, of a drain the outer
        edge of its stone."""
        return self.beside.lines
