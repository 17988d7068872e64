"""What the site says: its high point, its low point, and the relief between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gradework.ground.surface import Surface


@dataclass(frozen=True)
class Spot:
    """One station: its name, place [m] in the site frame, and elevation [m]."""

    station: str
    x: float
    y: float
    elevation: float


@dataclass(frozen=True)
class SiteShape:
    """The highest and the lowest station and the relief [m] between them."""

    high: Spot
    low: Spot
    relief: float


def site_shape(surface: Surface) -> SiteShape:
    """High point, low point and relief; where several stations tie, the one farthest left, then lowest down.

    The surface is straight between stations, so its highest and lowest points are stations.
    """
    xyz = surface.stations.xyz
    # sorted by place first, so that a tie does not hang on the order of the rows
    by_place = np.lexsort((xyz[:, 1], xyz[:, 0]))
    z = xyz[by_place, 2]
    high, low = _spot(surface, int(by_place[np.argmax(z)])), _spot(surface, int(by_place[np.argmin(z)]))
    return SiteShape(high, low, high.elevation - low.elevation)


def _spot(surface: Surface, i: int) -> Spot:
    x, y, z = surface.stations.xyz[i].tolist()
    return Spot(surface.stations.names[i], x, y, z)
