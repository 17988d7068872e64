"""Cut and fill of one level on a 100-shot survey, against three other ways to the same volume."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator
from stopwatch import paired, told

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Stations

LEVEL = 0.85


def site() -> tuple[Surface, Outline]:
    """A hundred shots on rolling ground 30 m wide, and a turned outline of 12 x 9 m."""
    rng = np.random.default_rng(20)
    xy = rng.random((100, 2)) * 30
    z = 0.5 + 0.3 * np.sin(xy[:, 0] / 5) + 0.02 * xy[:, 1] + rng.normal(0, 0.02, 100)
    names = [f"S{k}" for k in range(100)]
    stations = Stations(
        names, np.column_stack([xy, z]), np.full(100, np.nan), np.arange(100) + 2, "made up", "m"
    )
    return build_surface(stations), Outline.rectangle((9, 9), (12, 9), 15)


def ours(surface: Surface, outline: Outline) -> tuple[float, float]:
    """Clip and integrate."""
    (result,) = cut_and_fill(clip(surface, outline), LEVEL)
    return result.cut, result.fill


def with_shapely(surface: Surface, outline: Outline) -> float:
    """Clip with shapely, and only take the areas: less work than a volume.

    As somebody who knows it would: the outline is prepared, triangles that it contains are taken whole, those
    that it misses are left out, and only the rest are cut, all in calls over whole arrays.
    """
    triangles = shapely.polygons(surface.vertices[surface.triangles][:, :, :2])
    polygon = shapely.polygons(outline.rings[0] - surface.origin)
    shapely.prepare(polygon)
    triangles = triangles[shapely.intersects(polygon, triangles)]
    whole = shapely.contains_properly(polygon, triangles)
    cut = shapely.intersection(polygon, triangles[~whole])
    return float(shapely.area(triangles[whole]).sum() + shapely.area(cut).sum())


def with_solids(surface: Surface, outline: Outline) -> float:
    """Cut volume as a boolean of solids: ground inside the outline and above the level."""
    ground = _prism(surface.vertices, surface.triangles, -5.0)
    ring = outline.rings[0] - surface.origin
    corners = np.column_stack([ring, np.full(len(ring), 5.0)])
    block = _prism(corners, np.array([[0, k, k + 1] for k in range(1, len(ring) - 1)]), LEVEL)
    return float(trimesh.boolean.intersection([ground, block], engine="manifold", check_volume=False).volume)


def _prism(top: NDArray[np.float64], faces: NDArray[np.integer], floor: float) -> trimesh.Trimesh:
    faces = np.asarray(faces, dtype=np.int64)
    under = top.copy()
    under[:, 2] = floor
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    both = {tuple(side) for side in sides.tolist()}
    rim = np.array([side for side in sides.tolist() if (side[1], side[0]) not in both])
    n = len(top)
    walls = np.concatenate(
        [
            np.column_stack([rim[:, 0], rim[:, 0] + n, rim[:, 1] + n]),
            np.column_stack([rim[:, 0], rim[:, 1] + n, rim[:, 1]]),
        ]
    )
    return trimesh.Trimesh(
        np.concatenate([top, under]), np.concatenate([faces, faces[:, ::-1] + n, walls]), process=False
    )


def sampled(surface: Surface, outline: Outline, step: float = 0.01) -> tuple[float, float]:
    """Heights by scipy's linear interpolation on a turned grid of ``step`` [m]: the midpoint rule."""
    corner, along, across = outline.rings[0][0], outline.rings[0][1], outline.rings[0][3]
    u = (np.arange(round(12 / step)) + 0.5) * step / 12
    v = (np.arange(round(9 / step)) + 0.5) * step / 9
    grid = corner + u[:, None, None] * (along - corner) + v[None, :, None] * (across - corner)
    xyz = surface.stations.xyz
    depth = LinearNDInterpolator(xyz[:, :2], xyz[:, 2])(grid.reshape(-1, 2)) - LEVEL
    return float(np.maximum(depth, 0).sum() * step**2), float(np.maximum(-depth, 0).sum() * step**2)


def exact(surface: Surface, outline: Outline) -> tuple[float, float]:
    """The same volumes in rational arithmetic: clip, split at the level, add up; no rounding at all."""
    ring = [tuple(map(Fraction, p)) for p in (outline.rings[0] - surface.origin).tolist()]
    level, cut, fill = Fraction(LEVEL), Fraction(0), Fraction(0)
    for triangle in surface.vertices[surface.triangles].tolist():
        piece = [(Fraction(x), Fraction(y), Fraction(z) - level) for x, y, z in triangle]
        for (ax, ay), (bx, by) in zip(ring, ring[1:] + ring[:1], strict=True):
            piece = _half(piece, [(bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax) for p in piece])
        cut += _volume(_half(piece, [p[2] for p in piece]))
        fill -= _volume(_half(piece, [-p[2] for p in piece]))
    return float(cut), float(fill)


Corner = tuple[Fraction, Fraction, Fraction]


def _half(piece: list[Corner], side: list[Fraction]) -> list[Corner]:
    kept: list[Corner] = []
    for k, (p, d) in enumerate(zip(piece, side, strict=True)):
        q, e = piece[k - 1], side[k - 1]
        if (d < 0) != (e < 0):
            t = e / (e - d)
            kept.append((q[0] + t * (p[0] - q[0]), q[1] + t * (p[1] - q[1]), q[2] + t * (p[2] - q[2])))
        if d >= 0:
            kept.append(p)
    return kept


def _volume(piece: list[Corner]) -> Fraction:
    total = Fraction(0)
    for b, c in itertools.pairwise(piece[1:]):
        a = piece[0]
        area = ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / 2
        total += area * (a[2] + b[2] + c[2]) / 3
    return total


def lines() -> Iterator[str]:
    """Print each ratio; above 1 means that the other way takes longer."""
    surface, outline = site()
    cut, fill = ours(surface, outline)
    true = exact(surface, outline)
    worst = max(abs(cut - true[0]) / true[0], abs(fill - true[1]) / true[1])
    yield f"cut {cut:.6f} m³, fill {fill:.6f} m³; off the exact rational answer by {worst:.1e} of it"
    area = with_shapely(surface, outline)
    yield f"shapely agrees on the area to {abs(area - outline.area) / outline.area:.1e} of it"
    yield told(
        "clipped with shapely (outline prepared, only its border cut), areas only",
        paired(lambda: ours(surface, outline), lambda: with_shapely(surface, outline)),
    )
    solid = with_solids(surface, outline)
    yield f"solids agree on the cut to {abs(solid - cut) / cut:.1e} of it"
    yield told(
        "solid-mesh boolean, cut alone",
        paired(lambda: ours(surface, outline), lambda: with_solids(surface, outline)),
    )
    rough = sampled(surface, outline)
    off = max(abs(rough[0] - true[0]) / true[0], abs(rough[1] - true[1]) / true[1])
    yield f"sampling at 1 cm is off by {off:.1e}"
    yield told(
        "sampling at 1 cm", paired(lambda: ours(surface, outline), lambda: sampled(surface, outline), runs=5)
    )
    levels = np.linspace(0, 1, 200)
    curve = paired(lambda: ours(surface, outline), lambda: cut_and_fill(clip(surface, outline), levels))
    yield told("a curve of 200 levels, clipping included", curve)
    pieces = clip(surface, outline)
    yield told(
        "a curve of 200 levels, integration alone",
        paired(lambda: cut_and_fill(pieces, LEVEL), lambda: cut_and_fill(pieces, levels)),
    )
