"""What a plan says of its ground, held against a second road before anybody sees it.

Heights are asked of the surface again, triangle by triangle; volumes are taken by slices
(``earthwork.scan``). Whatever does not agree stops the run: a wrong figure is not printed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.clip import clip
from gradework.earthwork.scan import hold_against, scan
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.footprint import Footprint
    from gradework.earthwork.outline import Outline
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Piers
    from gradework.ground.surface import Surface
    from gradework.project.options import Foundations

SAME_HEIGHT = 1e-6
"""[m] Two ways to the height of one place agree within this."""


def hold_plan(surface: Surface, building: Outline, footprint: Footprint, found: Foundations) -> None:
    """Hold the ground under the building, pad and piers against the second road. Raises ``CheckError``."""
    under = clip(surface, building)
    _hold_heights(surface, under, "the ground under the building")
    ends = footprint.low, footprint.high
    if np.abs(np.array(ends) - (under.lowest, under.highest)).max() > SAME_HEIGHT:
        raise CheckError(f"the ground under the building is said to go from {ends[0]!r} to {ends[1]!r} m")
    seen = scan(surface, building, under.mean)
    hold_against(seen, "the ground under the building", area=under.area, ground=0.0)
    if "pad" in found.asked:
        _hold_pad(surface, found.pad)
    if found.piers is not None:
        _hold_piers(surface, found.piers)


def _hold_heights(surface: Surface, pieces: Pieces, what: str) -> None:
    places = pieces.corners.reshape(-1, 3)
    again = surface.elevation(places[:, :2] + pieces.origin)
    if not (np.abs(again - places[:, 2]) <= SAME_HEIGHT)[np.isfinite(again)].all():
        raise CheckError(f"{what} does not lie as high as the surface there")


def _hold_pad(surface: Surface, pad: Pad) -> None:
    """The pad's own ground, cut and fill, digging and gravel inside its outline."""
    chosen, spec, area = pad.chosen, pad.spec, pad.pieces.area
    _hold_heights(surface, pad.pieces, "the ground under the pad")
    moved = chosen.cut + chosen.fill
    plain = scan(surface, pad.outline, chosen.level)
    hold_against(plain, "the pad", moved, area=area, cut=chosen.cut, fill=chosen.fill)
    # the level is dug and filled like a plain one that lies higher by the strip and lower by the gravel
    again = scan(surface, pad.outline, chosen.level + spec.strip - spec.gravel)
    dug = chosen.excavation - chosen.edge_excavation - spec.strip * area
    placed = chosen.gravel + chosen.native - chosen.edge_gravel - spec.gravel * area
    hold_against(again, "digging and gravel of the pad", dug + placed, cut=dug, fill=placed)


def _hold_piers(surface: Surface, piers: Piers) -> None:
    """The digging of each hole, the ground in it, and what its bed takes."""
    for pier in piers.piers:
        what = f"the hole of pier {pier.name}"
        along, across = pier.hole_size
        found = scan(surface, pier.hole, pier.bottom)
        hold_against(found, what, pier.dig, area=along * across, cut=pier.dig, fill=0.0)
        if abs(pier.bed_volume - along * across * pier.bed) > SAME_HEIGHT:
            raise CheckError(f"{what} is said to take {pier.bed_volume!r} m³ of gravel")
        ring = surface.elevation(pier.hole.rings[0])
        if not pier.ground_low - SAME_HEIGHT <= float(np.nanmin(ring)) <= pier.ground_high + SAME_HEIGHT:
            raise CheckError(f"{what} has no ground where its corners are")
