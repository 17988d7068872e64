"""Where water stands: each hollow of a surface full to its spill point, with depth, area and volume.

Between places the ground is straight, so what lies under a level is a closed form in each triangle.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.water.flow import FILM, Flow
from gradework.ground.water.ground import WaterGround

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

AGREEMENT = 1e-9
"""[-] A pond holds no more than its area times its depth."""


class Pond(NamedTuple):
    """One hollow, full: ``level``, ``depth`` at its lowest place [m], ``area`` [m²], ``volume`` [m³]; the
    places ``lowest`` and ``spill`` (x, y, elevation) [m], local, at the second of which it runs over;
    ``number``: of its bottom in the flood."""

    level: float
    depth: float
    area: float
    volume: float
    lowest: tuple[float, float, float]
    spill: tuple[float, float, float]
    number: int


def ponds(flow: Flow) -> tuple[Pond, ...]:
    """All hollows of a flow, the largest volume first.

    Raises CheckError where one holds more than its area is deep.
    """
    ground, flooded = flow.ground, flow.flood
    level, pond = _wet(flow)
    volume, area = under(ground.heights[ground.triangles], ground.areas, level)
    wet = pond >= 0
    count = len(flooded.lowest)
    volumes = np.bincount(pond[wet], volume[wet], minlength=count)
    areas = np.bincount(pond[wet], area[wet], minlength=count)
    bottoms = ground.heights[flooded.lowest]
    order = np.lexsort((bottoms, flooded.pond))
    first = order[np.diff(flooded.pond[order], prepend=-1) != 0]
    deepest = np.arange(count)
    deepest[flooded.pond[first]] = first
    depths = flooded.full - bottoms[deepest]
    depths[flooded.pond != np.arange(count)] = 0.0
    found: list[Pond] = []
    for number in np.flatnonzero((depths > FILM) & (areas > 0.0)).tolist():
        lowest = int(flooded.lowest[deepest[number]])
        held, wide, depth = float(volumes[number]), float(areas[number]), float(depths[number])
        if held > wide * depth * (1.0 + AGREEMENT):
            raise CheckError(f"a pond of {wide!r} m², {depth!r} m deep, holds {held!r} m³")
        spill = _place(ground, int(flooded.spill[number]))
        full = float(flooded.full[number])
        found.append(Pond(full, depth, wide, held, _place(ground, lowest), spill, number))
    return tuple(sorted(found, key=lambda one: -one.volume))


def _place(ground: WaterGround, number: int) -> tuple[float, float, float]:
    x, y = ground.places[number].tolist()
    return x, y, float(ground.heights[number])


def _wet(flow: Flow) -> tuple[Floats, Numbers]:
    """The level of water in each triangle (t,) and its pond, -1 of dry ones: those of its lowest corner,
    since a triangle lies in one water only."""
    ground, flooded = flow.ground, flow.flood
    corner = ground.triangles
    lowest = np.take_along_axis(corner, ground.heights[corner].argmin(axis=1)[:, None], axis=1)[:, 0]
    level = flooded.level[lowest]
    pond = flooded.pond[flooded.bottom[lowest]]
    return level, np.where(level > ground.heights[lowest], pond, -1)


def under(heights: Floats, areas: Floats, level: Floats) -> tuple[Floats, Floats]:
    """What stands on triangles under a level: volume (t,) [m³] and area (t,) [m²], closed form.

    heights : (t, 3) of the corners [m];  areas : (t,) [m²];  level : (t,) [m].

    >>> volume, area = under(np.array([[0.0, 1.0, 1.0]]), np.array([2.0]), np.array([0.5]))
    >>> [round(float(x), 9) for x in (volume[0], area[0])]
    [0.083333333, 0.5]
    """
    low, middle, high = np.sort(heights, axis=1).T
    rise, left = np.clip(level - low, 0.0, None), np.clip(high - level, 0.0, None)
    steps = (middle - low, high - middle)
    first, last = (np.where(step > 0.0, step * (high - low), np.inf) for step in steps)
    narrow = level <= middle
    full = left == 0.0
    volume = np.where(
        narrow, rise**3 / (3.0 * first), level - (low + middle + high) / 3.0 + left**3 / (3.0 * last)
    )
    area = np.where(narrow, rise**2 / first, 1.0 - left**2 / last)
    volume = np.where(full, level - (low + middle + high) / 3.0, volume)
    area = np.where(full, 1.0, area)
    dry = level <= low
    return np.where(dry, 0.0, volume * areas), np.where(dry, 0.0, area * areas)


def water_on(flow: Flow, pond: Pond) -> list[Floats]:
    """The wet part of each triangle of a pond, rings (3 or 4, 2) [m], local."""
    ground = flow.ground
    _, number = _wet(flow)
    rings = []
    for triangle in np.flatnonzero(number == pond.number).tolist():
        corner = ground.triangles[triangle]
        places, depth = ground.places[corner], pond.level - ground.heights[corner]
        ring: list[Floats] = []
        for k in range(3):
            here, beyond = depth[k], depth[(k + 1) % 3]
            if here >= 0.0:
                ring.append(places[k])
            if here * beyond < 0.0:
                ring.append(places[k] + here / (here - beyond) * (places[(k + 1) % 3] - places[k]))
        if len(ring) > 2:
            rings.append(np.array(ring))
    return rings
