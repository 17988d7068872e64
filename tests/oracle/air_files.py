"""Small files of airborne ground, invented: each made of numbers by a library that writes such files."""

from __future__ import annotations

import io
from typing import Any

import laspy
import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS
from rasterio.io import MemoryFile
from rasterio.transform import Affine

Floats = NDArray[np.float64]

UTM = "EPSG:26915+5703"
"""UTM zone 15 north in metres, heights in metres."""

EAST, NORTH = 500_000.0, 4_400_000.0


def las_bytes(
    xyz: ArrayLike,
    crs: str | None = UTM,
    *,
    squeezed: bool = False,
    kinds: ArrayLike = 2,
    step: float = 0.001,
) -> bytes:
    """A scan as LAS 1.4, or LAZ: points (n, 3) in the units of the system, each of a class (n,)."""
    points = np.asarray(xyz, dtype=np.float64)
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales, header.offsets = [step, step, 0.001], [*np.floor(points[0, :2]), 0.0]
    if crs is not None:
        header.add_crs(CRS(crs))
    made = laspy.LasData(header)
    made.x, made.y, made.z = points.T
    made.classification = np.broadcast_to(np.asarray(kinds, dtype=np.uint8), len(points)).copy()
    held = io.BytesIO()
    made.write(held, do_compress=squeezed)
    return held.getvalue()


def tif_bytes(
    heights: ArrayLike,
    corner: tuple[float, float],
    cell: float = 1.0,
    crs: str | None = UTM,
    *,
    turn: float = 0.0,
    **more: Any,
) -> bytes:
    """A raster of heights, the row of the least y first, the middle of its first cell at ``corner``; a whole
    one, turned about there by ``turn`` degrees."""
    rows = np.asarray(heights)
    north_up = Affine.translation(0.0, (len(rows) - 1) * cell) @ Affine.translation(-0.5 * cell, 0.5 * cell)
    place = Affine.translation(*corner) @ Affine.rotation(turn) @ north_up @ Affine.scale(cell, -cell)
    kind = more.pop("dtype", "float64")
    told = {"driver": "GTiff", "height": rows.shape[0], "width": rows.shape[1], "count": 1, "dtype": kind}
    if crs is not None:
        told["crs"] = CRS(crs).to_wkt()
    with MemoryFile() as held:
        with held.open(**told, transform=place, **more) as raster:
            raster.write(rows[::-1].astype(kind), 1)
        return bytes(held.read())


def grid(low: float, high: float, step: float = 1.0) -> tuple[Floats, Floats]:
    """x and y (r, c) of a square grid of places."""
    x, y = np.meshgrid(*(np.arange(low, high + 0.5 * step, step),) * 2)
    return x, y
