"""What is dug and filled for a slab on real ground, in closed form, its thickened edge and all.

Ground g, strip s, top of slab L, thickness t, base course b, concrete below the slab e(x, y): the underside
is u = L - t - e, the base course reaches down to f = min(L - t - b, u), and

    digging = s area + ∫ max(0, g - s - f),   fill = ∫ max(0, f - (g - s)),   base course = ∫ (u - f).

So nothing is dug where there is no ground, and no fill lies where there is concrete. In every zone of the
slab f is a plane, and on every triangle of ground cut by a zone so is g - s - f.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import halfplane, prism
from gradework.earthwork.clip import CLOSURE, cut_region
from gradework.earthwork.cutfill import AGREEMENT
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork import Pieces
    from gradework.foundations.slab_spec import SlabSpec
    from gradework.foundations.slab_zones import Zone

Floats = NDArray[np.float64]


class Earthwork(NamedTuple):
    """Volumes [m³]: ``dig`` in place, ``subsoil`` the part of it below the strip, ``base`` and ``fill``
    compacted, ``edge`` the concrete below the slab where there is ground. ``fill_most`` [m] is the deepest
    fill.
    """

    dig: float
    subsoil: float
    base: float
    fill: float
    edge: float
    fill_most: float


def slab_earthwork(pieces: Pieces, zones: Sequence[Zone], spec: SlabSpec, level: float) -> Earthwork:
    """Work out digging, base course and fill below a slab whose top is at ``level`` [m].

    Raises ``CheckError`` where zones leave ground out, or where soil, stone and concrete do not add up.
    """
    cut = fill = edge = taken = covered = deepest = 0.0
    under = level - spec.thickness
    for zone in zones:
        corners, _ = cut_region(pieces.corners, zone.planes)
        areas = halfplane.signed_areas(corners)
        concrete = corners[:, :, 0] * zone.depth[0] + corners[:, :, 1] * zone.depth[1] + zone.depth[2]
        above = corners[:, :, 2] - spec.strip - (under - np.maximum(concrete, spec.base))
        sums = prism.sums(np.sort(above, axis=1), areas, np.zeros(1))
        cut += float(sums.cut[0])
        fill += float(sums.fill[0])
        edge += float(areas @ concrete.mean(axis=1))
        taken += float(areas @ np.minimum(concrete, spec.base).mean(axis=1))
        covered += float(areas.sum())
        deepest = max(deepest, -float(above.min(initial=0.0)))
    whole = float(pieces.areas.sum())
    if not abs(covered - whole) <= CLOSURE * whole:
        raise CheckError(f"the zones of the slab cover {covered!r} m² of {whole!r} m²")
    base = spec.base * whole - taken
    dig = spec.strip * whole + cut
    _check(pieces, dig, base + fill, whole * spec.thickness + edge, level)
    return Earthwork(dig, cut, max(0.0, base), max(0.0, fill), edge, deepest)


def _check(pieces: Pieces, dig: float, filled: float, concrete: float, level: float) -> None:
    """What is dug less what is put in brings the mean of the ground to the top of the slab.

    That mean comes from the corners of the ground alone, whatever the shape of the concrete.
    """
    area = float(pieces.areas.sum())
    slack = AGREEMENT * (dig + abs(filled) + concrete) + area * (abs(level) + 1.0) * 1e-13
    if dig < -slack or filled < -slack:
        raise CheckError("a slab with less than no digging or gravel")
    if not abs(area * (pieces.mean - level) - (dig - filled - concrete)) <= slack:
        raise CheckError("digging less fill and concrete does not bring the ground to the top of the slab")
