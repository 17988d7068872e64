"""Volumes of many likely grounds at once: a mesh under an outline, cut and fill of a level on each ground.

The mesh does not follow the shots: a likely ground is curved between them, and straight only from one corner
of the mesh to the next. What lies between a level and the ground of a triangle is the same closed form as for
the ground that was surveyed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import CLOSURE, cut_region, half_planes, signed_areas
from gradework.earthwork.rings import convex_parts
from gradework.earthwork.volumes import split_depths
from gradework.errors import CheckError
from gradework.ground.spread.draws import likely_ground
from gradework.ground.spread.roughness import roughness_of
from gradework.survey.one_thread import one_thread

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

SQUARES = 90
"""The squares of the mesh are so large that about so many of them would fill the outline."""

AT_ONCE = 1 << 16
"""So many (ground, triangle) pairs are worked at a time; they then stay in the processor's cache."""

SAME = 6
"""Corners of the mesh count as one where they agree to so many digits of a metre."""


CHANCES = (10.0, 50.0, 90.0)
"""[%] The figures told of each quantity: as many of the likely grounds ask for no more."""


@dataclass(frozen=True, slots=True)
class Band:
    """What a quantity is exceeded by in nine, five and one of ten likely grounds."""

    p10: float
    p50: float
    p90: float


def band_of(values: Floats) -> Band:
    """The 10, 50 and 90 % figures of a quantity (g,) over the likely grounds.

    >>> band_of(np.arange(101.0))
    Band(p10=10.0, p50=50.0, p90=90.0)
    """
    return Band(*(figure_of(values, chance) for chance in CHANCES))


def figure_of(values: Floats, chance: float) -> float:
    """What ``chance`` [%] of the values (g,) do not exceed, straight between two of them."""
    ordered = np.sort(values)  # numpy's own percentile loads its masked arrays
    place = chance / 100.0 * (len(ordered) - 1)
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    return float(ordered[low] + (place - low) * (ordered[high] - ordered[low]))


class Mesh(NamedTuple):
    """An outline in small triangles: ``points`` (m, 2) [m], site; ``corners`` (k, 3) numbers of points;
    ``areas`` (k,) [m²]."""

    points: Floats
    corners: NDArray[np.intp]
    areas: Floats


def mesh_of(outline: Outline, squares: int = SQUARES) -> Mesh:
    """Lay squares over an outline (convex or not, with holes), each in two triangles, cut at the outline.

    Raises CheckError where the triangles do not add up to the outline.
    """
    origin = outline.rings[0].min(axis=0)
    rings = [ring - origin for ring in outline.rings]
    parts = [rings[0]] if outline.is_convex else convex_parts(rings)
    triangles = _squares(rings[0].max(axis=0), float(np.sqrt(outline.area / squares)))
    corners = np.concatenate([cut_region(triangles, half_planes(part))[0] for part in parts])
    areas = np.abs(signed_areas(corners))
    if not abs(float(areas.sum()) - outline.area) <= CLOSURE * outline.area:
        raise CheckError(f"the mesh covers {areas.sum()!r} m², the outline {outline.area!r} m²")
    places = corners[:, :, :2].reshape(-1, 2).round(SAME) + 0.0  # no minus zero, which would be another place
    points, number = np.unique(places, axis=0, return_inverse=True)
    return Mesh(points + origin, number.reshape(-1, 3), areas)


def _squares(far: Floats, side: float) -> Floats:
    """Triangles (k, 3, 3) over the rectangle from 0, 0 to ``far`` [m] in squares of ``side`` or less."""
    x, y = (np.linspace(0.0, end, int(np.ceil(end / side)) + 1) for end in far.tolist())
    grid = np.zeros((len(x), len(y), 3))
    grid[:, :, 0], grid[:, :, 1] = x[:, None], y
    a, b, c, d = grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]
    lower, upper = np.stack((a, b, c), axis=2), np.stack((a, c, d), axis=2)
    return np.concatenate((lower, upper), axis=2).reshape(-1, 3, 3)


class Likely(NamedTuple):
    """The likely grounds under an outline: their mesh, and elevations (g, m) [m] at its points.

    ``error`` [m] is what one more reading would be off by.
    """

    mesh: Mesh
    grounds: Floats
    error: float = 0.005

    def cut_and_fill(self, levels: float | Floats) -> tuple[Floats, Floats]:
        """Cut and fill (g,) [m³] of each ground against its level, one for all or (g,) [m]."""
        return cut_and_fill_of(self.mesh, self.grounds, levels)


def likely_under(surface: Surface, outline: Outline) -> Likely:
    """The likely grounds under an outline, as the shots of the surface tell; drawn once for each outline.

    Ground that was tilted takes the draws of the ground before it was, tilted too: a plane is what the trend
    takes out.
    """
    if surface.before is not None:
        level, tilt = surface.before
        flat = likely_under(level, outline)
        return flat._replace(grounds=flat.grounds + tilt.rise(flat.mesh.points, np.zeros(2)))
    key = ("likely", *(ring.tobytes() for ring in outline.rings))
    found = surface.looked_at.get(key)
    if not isinstance(found, Likely):
        mesh = mesh_of(outline)
        known = roughness_of(surface.stations, mesh.points)
        grounds = likely_ground(known, mesh.points)
        found = surface.looked_at[key] = Likely(mesh, grounds, known.reading_error)
    return found


def likely_at(surface: Surface, points: Floats) -> Floats:
    """Elevations (g, m) [m] of the likely grounds at ``points`` (m, 2) [m], site."""
    return likely_ground(roughness_of(surface.stations, points), points)


@dataclass(frozen=True, slots=True)
class PlainSpread:
    """The 10, 50 and 90 % figures of plain cut and fill to a level: cut, fill and cut less fill [m³]."""

    cut: Band
    fill: Band
    net: Band


def plain_spread(surface: Surface, outline: Outline, levels: Iterable[float]) -> tuple[PlainSpread, ...]:
    """Cut and fill of every likely ground under an outline to each level [m]."""
    likely = likely_under(surface, outline)
    found = []
    for level in levels:
        cut, fill = likely.cut_and_fill(level)
        found.append(PlainSpread(band_of(cut), band_of(fill), band_of(cut - fill)))
    return tuple(found)


@one_thread()
def cut_and_fill_of(mesh: Mesh, grounds: Floats, levels: float | Floats) -> tuple[Floats, Floats]:
    """Cut and fill (g,) [m³] of each ground (g, m) [m] against its level, one for all or (g,) [m].

    Raises CheckError where cut less fill is not the mean depth times the area.
    """
    above = grounds - np.reshape(levels, (-1, 1))
    low, high = above.min(axis=0)[mesh.corners], above.max(axis=0)[mesh.corners]
    # most of the mesh lies on one side of the level whatever ground is drawn: there the sum is a plain one
    cut = above @ _shares(mesh, low.min(axis=1) >= 0.0)
    fill = -(above @ _shares(mesh, high.max(axis=1) <= 0.0))
    mixed = np.flatnonzero((low.min(axis=1) < 0.0) & (high.max(axis=1) > 0.0))
    step = max(1, AT_ONCE // max(1, len(mixed)))
    for start in range(0, len(grounds) if len(mixed) else 0, step):
        block = slice(start, start + step)
        dug, filled = _volumes(above[block], mesh.corners[mixed], mesh.areas[mixed])
        cut[block] += dug
        fill[block] += filled
    net = above @ _shares(mesh, np.ones(len(mesh.areas), dtype=bool))
    if not (np.abs(cut - fill - net) <= CLOSURE * (cut + fill) + 1e-12).all():
        raise CheckError("cut less fill of a likely ground differs from its net volume")
    return cut, fill


def _shares(mesh: Mesh, kept: NDArray[np.bool_]) -> Floats:
    """Area (m,) [m²] that the height of each point counts for, over the triangles kept."""
    thirds = np.repeat(mesh.areas[kept] / 3.0, 3)
    shares = np.bincount(mesh.corners[kept].reshape(-1), thirds, len(mesh.points))
    return np.asarray(shares, dtype=np.float64)


def _volumes(above: Floats, corners: NDArray[np.intp], areas: Floats) -> tuple[Floats, Floats]:
    """Cut and fill (g,) of heights above the level (g, m) over these triangles (k, 3)."""
    count = len(above)
    heights = above[:, corners].reshape(-1, 3)
    low = np.minimum(np.minimum(heights[:, 0], heights[:, 1]), heights[:, 2])
    high = np.maximum(np.maximum(heights[:, 0], heights[:, 1]), heights[:, 2])
    total = heights[:, 0] + heights[:, 1] + heights[:, 2]
    cut, fill = np.maximum(total, 0.0) / 3.0, np.maximum(-total, 0.0) / 3.0
    split = np.flatnonzero((low < 0.0) & (high > 0.0))
    if len(split):
        low, high = low[split], high[split]
        middle = total[split] - low - high
        middle = np.clip(middle, low, high)  # rounding may have put it a digit beyond
        dug, filled, *_ = split_depths(low, middle, high, np.zeros(len(split)))
        cut[split], fill[split] = dug, filled
    return cut.reshape(count, -1) @ areas, fill.reshape(count, -1) @ areas
