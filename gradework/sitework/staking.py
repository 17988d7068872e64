"""Every stake of a foundation as it is set out: corners, piers, batter boards, with the levels worked to.

The sheet for setting out shows these, and the order buys as many.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.foundations.piers import Piers
from gradework.foundations.slab import Slab
from gradework.sitework.setout import (
    BATTER_BOARD_OFFSET,
    Stake,
    batter_board_stakes,
    corner_stakes,
    pier_stakes,
)

if TYPE_CHECKING:
    from gradework.earthwork import Outline
    from gradework.foundations.gravelpad import Pad
    from gradework.foundations.slab import SlabSpec
    from gradework.ground import Surface


def stakes_to_set(
    surface: Surface,
    building: Outline,
    built: Pad | Piers | Slab,
    level: float,
    *,
    string: float | None = None,
    offset: float = BATTER_BOARD_OFFSET,
) -> tuple[Stake, ...]:
    """Give the stakes of one foundation.

    Parameters
    ----------
    surface, building
        The ground, and the outline of what stands on the foundation.
    built
        The foundation.
    level
        The finished level [m]: top of the gravel, the piers or the slab.
    string
        The level of the strings [m]; the finished level where it is None.
    offset
        How far batter boards stand behind the corners [m].

    Returns
    -------
    tuple of Stake
        Corners of the building, then those of pad or slab, or the piers, then batter boards. A pad or slab as
        large as the building needs one stake at each corner.
    """
    corners = tuple(
        replace(stake, levels=(("finished level", level),))
        for stake in corner_stakes(surface, building, "building corner", grade=level)
    )
    strings = level if string is None else string
    if isinstance(built, Piers):
        boards = batter_board_stakes(surface, building, grade=strings, offset=offset)
        return (*corners, *pier_stakes(surface, built), *boards)
    outline = built.outline
    if isinstance(built, Slab):
        plain = corner_stakes(surface, outline, "slab corner", grade=level)
        own = tuple(_slab_corner(stake, level, built.spec) for stake in plain)
    else:
        plain = corner_stakes(surface, outline, "pad corner", grade=level)
        spec = built.spec
        own = tuple(_pad_corner(stake, level, strip=spec.strip, gravel=spec.gravel) for stake in plain)
    boards = batter_board_stakes(surface, outline, grade=strings, offset=offset)
    same = outline.area <= building.area * (1.0 + 1e-9)
    return (*(() if same else corners), *own, *boards)


def _pad_corner(stake: Stake, level: float, *, strip: float, gravel: float) -> Stake:
    """Mark a pad corner for its formation: stripped ground, or deeper where the gravel needs it."""
    if stake.ground is None:
        return replace(stake, levels=(("top of gravel", level),))
    formation = min(stake.ground - strip, level - gravel)
    return replace(stake, grade=formation, levels=(("formation", formation), ("top of gravel", level)))


def _slab_corner(stake: Stake, level: float, spec: SlabSpec) -> Stake:
    """Mark a slab corner for what is dug there, and give the levels of edge, base course and slab."""
    under = level - spec.thickness
    levels = [("top of base course", under), ("top of slab", level)]
    if spec.edge_depth > spec.thickness:
        levels.append(("bottom of edge", level - spec.edge_depth))
    formation = under - spec.base
    if stake.ground is not None:
        formation = min(stake.ground - spec.strip, formation)
    levels = sorted([("formation", formation), *levels], key=lambda pair: pair[1])
    return replace(stake, grade=formation, levels=tuple(levels))
