"""All that shapes the ground round a pad or slab together: its top, its side slopes, swales and drains."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.grading.finished import Finished, finished_ground
from gradework.earthwork.grading.planes import Highest, Lowest
from gradework.earthwork.grading.sides import batter_shapes

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface


def whole_ground(
    surface: Surface,
    outline: Outline,
    level: float,
    *,
    batter: float | None = None,
    beside: Sequence[Led] = (),
) -> Finished:
    """Shape the ground once everything is built.

    outline, level : of the pad or slab [m];  batter : the run of its side slopes per rise [-], None where
    boards hold it;  beside : what is dug beside this pad; where two meet the lower one counts.
    Raises CheckError as ``finished_ground`` does.
    """
    pad, *yards = outline.rings
    if beside:
        fills = tuple(one.shapes.fill for one in beside if one.shapes.fill is not None)
        cuts = tuple(one.shapes.cut for one in beside if one.shapes.cut is not None)
        cut, fill = Lowest(cuts) if cuts else None, Highest(fills) if fills else None
        lines = np.concatenate([one.dug for one in beside])
        return finished_ground(surface, pad, level, cut=cut, fill=fill, lines=lines, yards=yards)
    up, down = (None, None) if batter is None else batter_shapes(pad - surface.origin, level, batter)
    return finished_ground(surface, pad, level, cut=up, fill=down, yards=yards)
