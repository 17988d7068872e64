"""How sure the stone and the digging of a slab are: each likely ground filled and dug to the level chosen.

Base course and thickened edge are as planned. What changes is the fill below the base course, and the
digging: both are taken to change like those to a plain level below it, edges left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.likely import Band, band_of, figure_of
from gradework.earthwork.volumes import cut_and_fill

if TYPE_CHECKING:
    from gradework.earthwork.likely import Likely
    from gradework.foundations.slab.design import Slab
    from gradework.foundations.unsure import Unsure

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SlabSpread:
    """The 10, 50 and 90 % figures of a slab at its level: dig in place and stone compacted [m³].

    ``wanted`` [m³] of stone at the usual density suffices with the chance ``sure`` [-]; never less than the
    shots alone tell.
    """

    excavation: Band
    gravel: Band
    sure: float
    wanted: float


def slab_spread(slab: Slab, likely: Likely, unsure: Unsure) -> SlabSpread:
    """Dig and fill every likely ground to the level of the slab.

    Fill of earth takes no stone, whatever the ground is; none is taken from what the base course needs.
    """
    spec, count = slab.spec, len(likely.grounds)
    strip = unsure.strips(spec.strip, count)
    bottom = slab.level - spec.thickness - spec.base
    [shot] = cut_and_fill(slab.ground, bottom + spec.strip)
    cut, fill = likely.cut_and_fill(bottom + strip)
    stone = np.full(count, slab.gravel)
    if spec.fill == "gravel":
        stone = stone - slab.fill + _in_parts(slab.fill, fill, shot.fill)
    dug = slab.area * strip + _in_parts(slab.subsoil, cut, shot.cut)
    mass = stone * unsure.densities(count)  # at the usual density it is the volume
    wanted = max(figure_of(mass, unsure.chance), slab.gravel)
    return SlabSpread(band_of(dug), band_of(stone), unsure.sure, wanted)


def _in_parts(planned: float, likely: Floats, shot: float) -> Floats:
    """What is ``planned`` [m³] with the edges, changed as much as a plain level changes from ``shot`` [m³].

    The edge takes part of it, so no more than in its part; where there is none yet, all that comes.
    """
    part = min(1.0, planned / shot) if shot > 0.0 else 1.0
    changed: Floats = np.maximum(planned + (likely - shot) * part, 0.0)
    return changed
