"""How sure the digging, the bed and the stack of each pier are: each likely ground dug to the plan.

The top stays, since it is what is set out, and so does the stack. Where the ground in a hole is lower than
the shots tell, the hole goes down with it and the bed gets thicker; over its greatest thickness the stack
needs another unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.likely import Band, band_of, figure_of

if TYPE_CHECKING:
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.foundations.unsure import Unsure

Floats = NDArray[np.float64]

SHAVING = 1e-6
"""[m] A bed this much over its greatest thickness is not over it."""


@dataclass(frozen=True, slots=True)
class PierSpread:
    """One pier: dig in place [m³] and bed [m]; the chance [-] that the stack does not suffice as planned."""

    name: str
    dig: Band
    bed: Band
    taller: float


@dataclass(frozen=True, slots=True)
class PiersSpread:
    """All piers: dig in place and compacted stone of the beds [m³].

    ``wanted`` [m³] of stone at the usual density suffices with the chance ``sure`` [-].
    """

    piers: tuple[PierSpread, ...]
    excavation: Band
    gravel: Band
    sure: float
    wanted: float


def hole_points(piers: Piers) -> Floats:
    """The places at which the ground of each hole counts: its corners, pier after pier (4 n, 2) [m]."""
    return np.concatenate([pier.hole.rings[0] for pier in piers.piers])


def piers_spread(piers: Piers, grounds: Floats, unsure: Unsure) -> PiersSpread:
    """Dig every likely ground (g, 4 n) [m] at ``hole_points``."""
    corners = grounds.reshape(len(grounds), len(piers.piers), -1)
    found = [_dug(pier, corners[:, n], piers.spec.bed_most) for n, pier in enumerate(piers.piers)]
    dig, stone = np.sum([one[0] for one in found], axis=0), np.sum([one[2] for one in found], axis=0)
    mass = stone * unsure.densities(len(grounds))  # at the usual density it is the volume
    planned = sum(pier.bed_volume for pier in piers.piers)
    return PiersSpread(
        tuple(
            PierSpread(pier.name, band_of(own), band_of(bed), float(taller.mean()))
            for pier, (own, bed, _, taller) in zip(piers.piers, found, strict=True)
        ),
        band_of(dig),
        band_of(stone),
        unsure.sure,
        max(figure_of(mass, unsure.chance), planned),
    )


def _dug(pier: Pier, corners: Floats, most: float) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Dig (g,) [m³], bed (g,) [m], stone (g,) [m³], and whether the bed is over ``most`` [m].

    A pier that the plan digs deeper than it must has that much to spare. The stone fills the hole.
    """
    lower = np.maximum(pier.ground_low - corners.min(axis=1) - pier.deeper, 0.0)
    area = pier.hole_size[0] * pier.hole_size[1]
    bed = pier.bed + lower
    dig = area * np.maximum(corners.mean(axis=1) - pier.bottom + lower, 0.0)
    return dig, bed, area * bed, bed > max(most, pier.bed) + SHAVING
