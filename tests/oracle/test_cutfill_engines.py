"""Two other ways to cut and fill: scipy's triangulation with shapely's overlay, and solid meshes."""

from __future__ import annotations

from collections.abc import Callable

import manifold3d
import numpy as np
import pytest
import shapely
from scipy.spatial import Delaunay

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]


def shots(seed: int, count: int = 60) -> np.ndarray:
    """A random yard without four shots on a circle, so that there is only one Delaunay triangulation."""
    rng = np.random.default_rng(seed)
    return np.column_stack((rng.random((count, 2)) * 20, 100 + 1.5 * rng.random(count)))


SHAPES = [
    Outline.rectangle((7, 7), (5, 4), turn=17),
    Outline.polygon([(6, 6), (13, 7), (12, 13), (9, 9), (6, 12)]),
    Outline.polygon([[(6, 6), (14, 6), (14, 14), (6, 14)], [(8, 8), (11, 9), (9, 12)]]),
]


def overlay(points: np.ndarray, outline: Outline, level: float) -> tuple[float, float]:
    """Cut and fill with scipy's Delaunay and shapely's intersections, split at the level by shapely too."""
    triangles = points[Delaunay(points[:, :2]).simplices]
    area = shapely.Polygon(outline.rings[0], outline.rings[1:])
    totals = [0.0, 0.0]
    for corners in triangles:
        part = shapely.Polygon(corners[:, :2]).intersection(area)
        if part.is_empty:
            continue
        gradient = np.linalg.solve(corners[1:, :2] - corners[0, :2], corners[1:, 2] - corners[0, 2])
        steep = float(np.hypot(*gradient))
        # a half-plane of the ground above the level, as a big square
        on_level = corners[0, :2] + gradient / steep**2 * (level - corners[0, 2])
        up, along = gradient / steep, np.array([-gradient[1], gradient[0]]) / steep
        far = 100.0
        upper = shapely.Polygon(
            [
                on_level - far * along,
                on_level + far * along,
                on_level + far * (along + up),
                on_level + far * (up - along),
            ]
        )
        for index, region in enumerate((part.intersection(upper), part.difference(upper))):
            if region.area > 0:
                middle = np.array(region.centroid.coords[0])
                totals[index] += region.area * abs(
                    corners[0, 2] + gradient @ (middle - corners[0, :2]) - level
                )
    return totals[0], totals[1]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("shape", range(len(SHAPES)))
def test_scipy_and_shapely_agree(ground: Ground, seed: int, shape: int) -> None:
    points, outline, level = shots(seed), SHAPES[shape], 100.7
    [ours] = cut_and_fill(clip(ground(points), outline), level)
    cut, fill = overlay(points, outline, level)
    assert ours.cut == pytest.approx(cut, rel=1e-9)
    assert ours.fill == pytest.approx(fill, rel=1e-9)


def column(triangles: np.ndarray, floor: float) -> manifold3d.Manifold:
    """The solid between a floor and the ground: every triangle of ground is a prism, side by side."""
    parts = []
    for corners in triangles:
        bottom = corners.copy()
        bottom[:, 2] = floor
        points = np.concatenate((bottom, corners)).astype(np.float32)
        faces = [(0, 2, 1), (3, 4, 5), (0, 1, 4), (0, 4, 3), (1, 2, 5), (1, 5, 4), (2, 0, 3), (2, 3, 5)]
        parts.append(manifold3d.Manifold(manifold3d.Mesh(points, np.array(faces, dtype=np.uint32))))
    return manifold3d.Manifold.batch_boolean(parts, manifold3d.OpType.Add)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_solid_mesh_agrees(ground: Ground, seed: int) -> None:
    """Cut is the ground's solid less everything under the level; the mesh engine keeps single precision."""
    points = shots(seed, 40)
    points[:, 2] -= 100
    outline, level = SHAPES[0], 0.7
    surface = ground(points)
    solid = column(surface.vertices[surface.triangles] + np.array([*surface.origin, 0.0]), -1.0)
    section = manifold3d.CrossSection([outline.rings[0].tolist()])
    above = manifold3d.Manifold.extrude(section, 10.0).translate((0.0, 0.0, level))
    below = manifold3d.Manifold.extrude(section, level + 1.0).translate((0.0, 0.0, -1.0))
    [ours] = cut_and_fill(clip(surface, outline), level)
    assert ours.cut == pytest.approx((solid ^ above).volume(), rel=1e-4)
    assert ours.fill == pytest.approx((below - solid).volume(), rel=1e-4)
