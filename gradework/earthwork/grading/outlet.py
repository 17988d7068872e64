"""Where a pipe from the lowest corner of a dig comes out on lower ground: the shortest straight way, its cut.

It is looked for over the surveyed ground only, every ten degrees and every 0.1 m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.rings import contains

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

FALL = 0.01
"""Fall of a solid pipe [-]: 1 in per 10 ft is usual, 0.5 to 1 % (quoted)."""

TRENCH = 0.3048
"""Width of its trench [m]: 8 to 12 in (common practice)."""

_STEP, _REACH = 0.1, 30.0
_BEARINGS = 36
_ROUND = 1e-6

FALLING = 0.01
"""Ground that still falls by this [-] or more where the survey ends may lead out beyond it."""


class Outlet(NamedTuple):
    """A pipe from ``start`` to ``end`` (x, y), ``length`` in plan, its bottom at ``bottom`` where it starts
    [m]; ``cut`` dug for it in place [m³], all of which goes back over it."""

    start: tuple[float, float]
    end: tuple[float, float]
    length: float
    bottom: float
    cut: float


@dataclass(frozen=True, eq=False)
class OutletGround:
    """The ground along every way out from a corner: ``xy`` (bearings, steps, 2), ``land`` (bearings, steps)
    [m], NaN beyond the survey and where the way leads under the pad, ``away`` (steps,) from it [m]."""

    start: tuple[float, float]
    xy: Floats
    land: Floats
    away: Floats
    found: dict[int, Outlet | None] = field(default_factory=dict, repr=False)
    """Ways out by their bottom in steps of a thousandth of a millimetre: many levels ask for the same."""

    @property
    def open(self) -> bool:
        """Whether the ground still falls where the survey ends, so that more shots may show a way out."""
        for land in self.land:
            seen = land[np.isfinite(land)][-11:]  # the last metre of it
            if len(seen) > 2 and (seen[0] - seen[-1]) / ((len(seen) - 1) * _STEP) >= FALLING:
                return True
        return False

    def way_out(self, bottom: float) -> Outlet | None:
        """The shortest way from ``bottom`` [m] at the corner to ground as low as the pipe; None for none."""
        step = round(bottom / _ROUND)
        if step not in self.found:
            self.found[step] = self._look(bottom)
        return self.found[step]

    def _look(self, bottom: float) -> Outlet | None:
        pipe = bottom - FALL * self.away
        out = self.land <= pipe
        first = np.where(out.any(axis=1), out.argmax(axis=1), len(self.away))
        # a way that leaves the survey before it comes out is none
        gap = np.isnan(self.land)
        lost = np.where(gap.any(axis=1), gap.argmax(axis=1), len(self.away))
        first = np.where(first < lost, first, len(self.away))
        best = int(first.argmin())
        if first[best] == len(self.away):
            return None
        last = int(first[best])
        deep = np.maximum(self.land[best, : last + 1] - pipe[: last + 1], 0.0)
        cut = float(np.trapezoid(deep, self.away[: last + 1])) * TRENCH
        x, y = self.xy[best, last].tolist()
        return Outlet(self.start, (x, y), float(self.away[last]), bottom, cut)


def outlet_ground(surface: Surface, outline: Outline, start: tuple[float, float]) -> OutletGround:
    """The ground along every way out from ``start`` (x, y) [m], a place on the edge of an outline."""
    away = np.arange(0.0, _REACH, _STEP)
    turns = np.arange(_BEARINGS) * (2.0 * math.pi / _BEARINGS)
    ways = np.stack((np.cos(turns), np.sin(turns)), axis=1)
    xy = np.asarray(start) + ways[:, None, :] * away[None, :, None]
    flat = xy.reshape(-1, 2)
    land = surface.elevation(flat)
    under = contains(outline.rings[0], flat).reshape(len(ways), len(away))
    under[:, 0] = False  # the corner itself is on the edge
    land = np.where(under, np.nan, land.reshape(under.shape))
    return OutletGround(start, xy, land, away)
