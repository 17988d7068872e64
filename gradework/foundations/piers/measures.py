"""What is built so that piers carry and stay, as measures; the money for the piers holds them.

Base pads under stacks that need one, ground anchors against wind, fabric and stone under the floor.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.materials import COVER_STONE, Gravel
from gradework.foundations.checks.gate import Measure
from gradework.foundations.piers.stacks import pieces_in_course

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.foundations.piers.plan import Piers


def pier_measures(piers: Piers, clean: Gravel = COVER_STONE) -> Iterator[Measure]:
    """Give base pads, each on its bed, anchors, at the level of the skids that they tie, and the cover.

    The cover has the level of its stone where the ground is highest; it follows the ground.
    """
    if piers.top is None:
        return
    based = [pier for pier in piers.piers if pier.laid[0].only_base]
    if based:
        line = np.array([(pier.x, pier.y, pier.bottom + pier.bed) for pier in based])
        money = sum(pier.laid[0].price * pieces_in_course(pier.laid[0], pier.across) for pier in based)
        yield Measure("base_pad", line, 0.0, cost=money, counted=True)
    if piers.anchors is not None:
        line = _at(piers.anchors.places, piers.top)
        yield Measure("anchor", line, 0.0, cost=len(line) * piers.prices.anchor, counted=True)
    if (cover := piers.cover) is not None:
        ring = cover.outline.rings[0]
        line = _at(np.concatenate((ring, ring[:1])), piers.top - cover.clear)
        stone = cover.stone * clean.compacted.value
        yield Measure("cover", line, cover.strip, stone=stone, cost=piers.cover_cost, counted=True)


def _at(places: NDArray[np.float64], level: float) -> NDArray[np.float64]:
    """Places (n, 2) at one level [m]: (n, 3)."""
    return np.column_stack((places, np.full(len(places), level)))
