"""Heights of ground in a raster, GeoTIFF and no other: its sizes are checked before a cell is read."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.io import MemoryFile
from rasterio.windows import Window

from gradework.survey.airborne.source import MOST_READ, Box, broken

Floats = NDArray[np.float64]

MOST_CELLS = 2_000_000_000
"""So many cells may a raster have: a tile of 10 km at 1 m has 0.1 thousand million, a county at 1 m some."""

MOST_BLOCK = 512 * 2**20
"""[bytes] A block is unpacked whole: a tile has some hundred kB, a raster in one strip some hundred MB."""

_HEIGHTS = ("float32", "float64", "int16", "uint16", "int32", "uint32")
"""What heights are stored as; bytes are a picture."""

_UNIT_WORDS = {
    "metre": 1.0, "meter": 1.0, "metres": 1.0, "meters": 1.0, "m": 1.0,
    "foot": 0.3048, "feet": 0.3048, "ft": 0.3048, "international foot": 0.3048,
    "us survey foot": 1200.0 / 3937.0, "us survey feet": 1200.0 / 3937.0, "ftus": 1200.0 / 3937.0,
    "us-ft": 1200.0 / 3937.0, "foot_us": 1200.0 / 3937.0,
}  # fmt: skip
"""How the unit of a band is written, and what it is long [m]."""


class TifFile:
    """One raster of heights, its sizes checked; see ``AirborneFile``."""

    def __init__(self, data: bytes, file: str) -> None:
        """Raises ``InputError``: no raster of heights, too large, in no place."""
        self.file, self._data = file, data
        with self._reading() as raster:
            self._check(raster)
            self.system = raster.crs.to_wkt() if raster.crs else ""
            self.heights = _UNIT_WORDS.get(str(raster.units[0] or "").strip().casefold())
            x, y = _moved(raster.transform, *np.array(_corners(raster.width, raster.height)).T)
        self.extent = Box(float(x.min()), float(y.min()), float(x.max()), float(y.max()))

    def _check(self, raster: Any) -> None:
        """Raises ``InputError`` where it cannot be what it says."""
        wide, high, kind = raster.width, raster.height, raster.dtypes[0]
        if wide * high > MOST_CELLS:
            raise broken(self.file, "cells", wide=f"{wide:,}", high=f"{high:,}", most=f"{MOST_CELLS:,}")
        if kind not in _HEIGHTS or raster.count > 4:
            raise broken(self.file, "picture", kind=f"{raster.count} bands of {kind}")
        rows, columns = raster.block_shapes[0]
        block = rows * columns * np.dtype(kind).itemsize * raster.count
        if block > MOST_BLOCK:
            raise broken(self.file, "block", size=f"{block / 2**20:,.0f}", most=f"{MOST_BLOCK / 2**20:,.0f}")
        place = raster.transform
        if not np.isfinite(tuple(place)).all() or place.is_identity or abs(place.determinant) < 1e-300:
            raise broken(self.file, "nowhere")

    def within(self, box: Box) -> Floats:
        """Read the cells whose middle lies in a box (n, 3), none that has no height."""
        corners = [(box.west, box.south), (box.east, box.south), (box.east, box.north), (box.west, box.north)]
        with self._reading() as raster:
            at = np.column_stack(_moved(~raster.transform, *np.array(corners).T))
            low = np.maximum(np.floor(at.min(axis=0)), 0.0)
            high = np.minimum(np.ceil(at.max(axis=0)), (raster.width, raster.height))
            if (high <= low).any():
                return np.empty((0, 3))
            wide, tall = (int(one) for one in high - low)
            step = math.ceil(math.sqrt(max(wide * tall / MOST_READ, 1.0)))
            shape = (math.ceil(tall / step), math.ceil(wide / step))
            window = Window(int(low[0]), int(low[1]), wide, tall)
            cells = raster.read(1, window=window, out_shape=shape, masked=True).astype(np.float64)
            scale, offset = raster.scales[0], raster.offsets[0]
            rows, columns = np.indices(shape) + 0.5
            columns, rows = low[0] + columns * (wide / shape[1]), low[1] + rows * (tall / shape[0])
            x, y = _moved(raster.transform, columns.reshape(-1), rows.reshape(-1))
        heights = np.ma.filled(cells, np.nan).reshape(-1) * scale + offset
        known = box.holds(x, y) & np.isfinite(heights)
        found: Floats = np.column_stack((x, y, heights))[known]
        return found

    @contextmanager
    def _reading(self) -> Iterator[Any]:
        """The raster, as nothing but a GeoTIFF, whatever is raised of it told as a damaged file."""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # that it lies nowhere is told as a fault
                with (
                    rasterio.Env(GDAL_DISABLE_READDIR_ON_OPEN="EMPTY_DIR", GDAL_NUM_THREADS="1"),
                    MemoryFile(self._data) as held,
                    held.open(driver="GTiff") as raster,
                ):
                    yield raster
        except Exception as problem:  # of rasterio and numpy: all mean the same
            if hasattr(problem, "faults"):
                raise
            raise broken(self.file, "damaged") from None


def _moved(by: Any, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Columns and rows as places, or back: written out, since releases of affine differ in it."""
    a, b, c, d, e, f = tuple(by)[:6]
    return a * x + b * y + c, d * x + e * y + f


def _corners(wide: int, high: int) -> list[tuple[float, float]]:
    return [(0.0, 0.0), (float(wide), 0.0), (float(wide), float(high)), (0.0, float(high))]


open_file = TifFile
