"""Whether the stone of a pad is a tub: below the ground all round, in soil that lets no water go.

Stone fills the dig down to the subgrade min(g - s, L - t). What lies of it below the lowest ground along the
edge, and below the pad's own level, holds water that can neither run off nor soak away.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.led import LEAST, STAKE, Station, strips
from gradework.earthwork.grading.outlet import FALL, TRENCH, Outlet
from gradework.earthwork.volumes import cut_and_fill
from gradework.foundations.checks.check import COMMON, Check

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.grading.outlet import OutletGround
    from gradework.foundations.pad.spec import PadSpec

VOIDS = {"clean": 0.40}
VOIDS_GRADED = 0.15
"""Room between the stones [-]: clean stone 0.40, dense graded 0.10 to 0.20 (common practice)."""

TIGHT = ("clay",)
"""Soils that let no water go."""

SHALLOW = 0.0254
"""Water that stands no deeper than this at one corner does no harm [m] (judgement)."""


Floats = NDArray[np.float64]


class OutletPipe(NamedTuple):
    """The solid pipe that leads water out of the stone of a pad, as stakes and profiles ask for it
    (``Staked``): straight from the lowest corner to where it comes out."""

    outlet: Outlet

    @property
    def kind(self) -> Literal["outlet"]:
        """What it is."""
        return "outlet"

    def _every(self, step: float) -> Floats:
        """Places and bottoms (n, 3) from the corner every ``step`` [m], and its end."""
        start, end, long = np.array(self.outlet.start), np.array(self.outlet.end), self.outlet.length
        away = np.append(np.arange(0.0, max(long - LEAST * step, step / 1e3), step), long)
        places = start + (away / long)[:, None] * (end - start)
        return np.column_stack((places, self.outlet.bottom - FALL * away))

    @property
    def line(self) -> Floats:
        """(n, 3): its bottom every 5 ft, from the corner to where it comes out [m]."""
        return self._every(STAKE)

    @property
    def bends(self) -> tuple[Floats, ...]:
        """One stretch (2, 3): its two ends."""
        return (self.line[[0, -1]],)

    @property
    def bottoms(self) -> Floats:
        """The bottom of its trench (k, 3, 3)."""
        return strips(self.bends[0], TRENCH)

    def stations(self, step: float) -> Iterator[Station]:
        """Where to stake it, every ``step`` [m]; beside it, on the left as it falls."""
        way = np.array(self.outlet.end) - self.outlet.start
        east, north = (np.array([-way[1], way[0]]) / np.hypot(*way)).tolist()
        for x, y, bottom in self._every(step).tolist():
            yield Station((x, y, bottom), (east, north), ())


@dataclass(frozen=True, slots=True)
class Basin:
    """The tub under a pad: ``depth`` of water that can stand in its stone [m], ``water`` in it [m³].

    outlet : the pipe that leads it out, None where none is needed or found.  open : more shots may show one.
    """

    depth: float
    water: float
    outlet: Outlet | None
    open: bool

    @property
    def pipes(self) -> tuple[OutletPipe, ...]:
        """The pipe that leads it out, none where there is none."""
        return () if self.outlet is None else (OutletPipe(self.outlet),)

    @property
    def check(self) -> Check:
        """It holds where no water stands or a pipe leads it out; open where more shots may show a way out."""
        if self.outlet is None and self.open and self.depth > SHALLOW:
            return Check("stone drained", None, None, "m", COMMON)
        return Check("stone drained", 0.0 if self.outlet else self.depth, SHALLOW, "m", COMMON)


def water_held(pieces: Pieces, edge_low: float, spec: PadSpec, level: float) -> float:
    """Water that the stone holds below the lowest ground along the edge [m³], with no way out."""
    top, floor = min(edge_low, level), level - spec.gravel
    # ∫ max(0, top - min(g - s, floor)): in closed form as fill of the ground to a plain level
    [below] = cut_and_fill(pieces, min(top, floor) + spec.strip)
    stone = below.fill + max(0.0, top - floor) * pieces.area
    return stone * VOIDS.get(spec.material.key, VOIDS_GRADED)


def basin_at(ways: OutletGround, pieces: Pieces, edge_low: float, spec: PadSpec, level: float) -> Basin:
    """The tub under a pad at a level [m], in soil that lets no water go; ``ways`` out of its low corner."""
    bottom = min(edge_low - spec.strip, pieces.lowest - spec.strip, level - spec.gravel)
    depth = max(0.0, min(edge_low, level) - bottom)
    outlet = ways.way_out(bottom) if depth > SHALLOW else None
    return Basin(depth, water_held(pieces, edge_low, spec, level), outlet, ways.open)
