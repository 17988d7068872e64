"""Geotextile under and around the gravel: strips from a roll, laps, the direction that needs least."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.sitework.cutting import CuttingPlan, cut_stock

if TYPE_CHECKING:
    from numpy.typing import NDArray


SLIGHT = 1e-4
"""Fabric is not laid to a tenth of a millimetre [m]: that much over a width takes no further strip."""

SAME_ANGLE = 1e-8


@dataclass(frozen=True, slots=True)
class FabricRoll:
    """A roll as sold: ``width``, ``length`` and the least ``overlap`` of neighbouring strips [m]."""

    width: float
    length: float
    overlap: float
    mass_per_m2: float = 0.15

    @property
    def mass(self) -> float:
        """Mass of a roll [kg]."""
        return self.width * self.length * self.mass_per_m2


@dataclass(frozen=True, slots=True)
class FabricPlan:
    """Strips laid along ``direction`` [deg anticlockwise from +x] with their lengths [m], and the rolls.

    ``covered`` is the area lined once [m²]; ``lap`` the overlap as laid [m], below the roll's
    least by no more than `SLIGHT`.
    """

    roll: FabricRoll
    direction: float
    strips: tuple[float, ...]
    lap: float
    covered: float
    cutting: CuttingPlan

    @property
    def laid(self) -> float:
        """Fabric laid, laps and trimmed corners counted [m²]."""
        return self.roll.width * math.fsum(self.strips)


def fabric_plan(
    corners: NDArray[np.float64], roll: FabricRoll, sides: NDArray[np.float64] | None = None
) -> FabricPlan:
    """Lay strips over a plan ``corners`` (k, 2) [m], along or square to the side that needs least fabric.

    The plan is the area to line, already grown by what is turned up the sides; ``sides`` (n, 2) is the ring
    whose sides give the directions, where that is another one. Each strip runs from the first
    to the last place where its band meets the plan; a strip longer than a roll is joined with one more lap.
    A tenth of a millimetre decides nothing. Ties go to fewer strips, then to the smaller angle. Raises
    ``ValueError`` for a lap as wide as the roll.
    """
    if not 0.0 <= roll.overlap < roll.width:
        raise ValueError("the overlap must be narrower than the roll")
    x, y = corners[:, 0], corners[:, 1]
    covered = abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2.0
    best = min(
        (_strips(corners, roll, angle) for angle in _directions(corners if sides is None else sides)),
        key=_need,
    )
    angle, lap, strips = best
    pieces = [piece for strip in strips for piece in _pieces(strip, roll)]
    return FabricPlan(roll, math.degrees(angle), strips, lap, covered, cut_stock(pieces, [roll.length]))


def joined_ring(ring: NDArray[np.float64], others: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """The outside of a ring (k, 2) and all ``others`` that touch it, islands left bare filled in [m]."""
    import shapely  # only a battered pad needs it

    whole = shapely.union_all([shapely.Polygon(one) for one in (ring, *others)])
    parts = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
    return np.asarray(max(parts, key=lambda part: part.area).exterior.coords)[:-1]


def _need(laid: tuple[float, float, tuple[float, ...]]) -> tuple[float, int, float]:
    angle, _, strips = laid
    return (round(math.fsum(strips), 6), len(strips), angle)


def _directions(corners: NDArray[np.float64]) -> list[float]:
    """Give the directions of all sides and their normals, in [0, pi), each once."""
    along = np.roll(corners, -1, axis=0) - corners
    angles = np.arctan2(along[:, 1], along[:, 0])
    both = np.mod(np.concatenate([angles, angles + math.pi / 2]), math.pi)
    both[both > math.pi - SAME_ANGLE] = 0.0
    _, first = np.unique(np.round(both / SAME_ANGLE), return_index=True)
    return [float(both[i]) for i in first]


def _strips(
    corners: NDArray[np.float64], roll: FabricRoll, angle: float
) -> tuple[float, float, tuple[float, ...]]:
    """Give angle, lap and strip lengths for one direction; strips are spread evenly across."""
    c, s = math.cos(angle), math.sin(angle)
    turned = corners @ np.array([[c, -s], [s, c]])
    low, high = float(turned[:, 1].min()), float(turned[:, 1].max())
    across = high - low
    if across <= roll.width + SLIGHT:
        return (angle, 0.0, (_extent(turned, low, high),))
    count = 1 + math.ceil((across - roll.width - SLIGHT) / (roll.width - roll.overlap))
    pitch = (across - roll.width) / (count - 1)
    starts = [low + i * pitch for i in range(count)]
    lengths = tuple(_extent(turned, start, start + roll.width) for start in starts)
    return (angle, roll.width - pitch, lengths)


def _extent(turned: NDArray[np.float64], low: float, high: float) -> float:
    """Measure along x how far the plan reaches inside the band low <= y <= high."""
    low, high = low + SLIGHT, high - SLIGHT  # a side that only borders the band does not lengthen its strip
    ends: list[float] = []
    for (x0, y0), (x1, y1) in zip(turned, np.roll(turned, -1, axis=0), strict=True):
        if max(y0, y1) < low or min(y0, y1) > high:
            continue
        if y0 == y1:
            ends += [float(x0), float(x1)]
            continue
        levels = (min(max(y, low), high) for y in (y0, y1))
        ends += [float(x0 + (x1 - x0) * (level - y0) / (y1 - y0)) for level in levels]
    return max(ends) - min(ends)


def _pieces(strip: float, roll: FabricRoll) -> tuple[float, ...]:
    """Split a strip longer than a roll into full rolls and a rest, each join lapped."""
    pieces = []
    while strip > roll.length + 5e-5:
        pieces.append(roll.length)
        strip -= roll.length - roll.overlap
    return (*pieces, strip)
