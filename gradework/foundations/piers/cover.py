"""What goes back beside the blocks, and what covers the ground under the floor: soil, fabric, clean stone.

The hole beside a stack is filled with the soil that came out of it, tamped as firm as it lay. The cover lies
on the mowed grass. Only where it would come too near to the skids is the sod stripped, to a level plane that
stays open on the low side: never deeper than the stone that goes back, so that no basin is made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.earthwork.volumes import cut_and_fill
from gradework.errors import InputError
from gradework.units.amounts import M_PER_FT, M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline

COVER_DEPTH, COVER_DEPTH_METRIC = 2.0 * M_PER_IN, 0.05
"""Clean stone on fabric under an open floor [m]: 1 to 2 in (common practice, no source)."""

COVER_BEYOND, COVER_BEYOND_METRIC = 1.0 * M_PER_FT, 0.3
"""Fabric and stone reach so far beyond the walls [m] (common practice, no source)."""

COVER_AIR = 2.0 * M_PER_IN
"""Air between stone and skids for which sod is stripped [m], as piers have it without a cover (judgement)."""


@dataclass(frozen=True, eq=False)
class Cover:
    """Fabric and stone under a floor on piers: ``outline`` of both, ``depth`` of the stone [m].

    ``clear`` is the air between stone and skids where the ground is highest [m]; ``strip`` the sod that
    comes off there first [m³ in place], ``stripped`` its deepest [m]. ``tight``: stripping would make a
    basin, since no side of the ground is low enough; so none comes off and the skids lie close to the stone.
    """

    outline: Outline
    depth: float
    clear: float
    strip: float
    stripped: float
    tight: bool

    @property
    def stone(self) -> float:
        """Give the stone, compacted [m³]; what the stacks take up of it is left in as waste."""
        return self.outline.area * self.depth


def cover_under(under: Pieces, building: Outline, top: float, clearance: float, *, us: bool) -> Cover:
    """Lay the cover under a floor on piers with their ``top`` [m]; ``under`` is the ground of the building.

    ``clearance`` [m] is how high the piers at least stand above the ground: no more air is asked for below
    the skids. Where a notch is too narrow to reach into, the cover ends at the walls.
    """
    depth = COVER_DEPTH if us else COVER_DEPTH_METRIC
    try:
        outline = building.grown(COVER_BEYOND if us else COVER_BEYOND_METRIC)
    except InputError:
        outline = building
    clear, air = top - under.highest, min(clearance, COVER_AIR)
    floor = max(top - air - depth, under.highest - depth)  # the sod comes off down to here
    if floor >= under.highest:
        return Cover(outline, depth, clear - depth, 0.0, 0.0, tight=False)
    if floor <= under.lowest:
        return Cover(outline, depth, clear - depth, 0.0, 0.0, tight=True)
    (sod,) = cut_and_fill(under, floor)
    return Cover(outline, depth, top - floor - depth, sod.cut, under.highest - floor, tight=False)


def beside(hole: float, plan: float, depth: float) -> float:
    """Give the room [m³] in a hole beside a stack: their plans [m²], how deep the stack stands [m]."""
    return max(0.0, hole - plan) * max(0.0, depth)
