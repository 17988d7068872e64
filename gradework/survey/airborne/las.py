"""Ground points of a laser scan, LAS or LAZ: the header is held against the file before laspy reads it.

A file of 5 kB whose header claims four thousand million points made laspy take all memory. So what a header
claims is checked first, and points are read in parts, of which only those in the window are kept.
"""

from __future__ import annotations

import logging
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from typing import Any

import laspy
import numpy as np
from numpy.typing import NDArray

from gradework.survey.airborne.source import MOST_READ, Box, broken

Floats = NDArray[np.float64]

GROUND = 2
"""The class of ground (ASPRS, LAS Specification 1.4, Table 9 and 17)."""

MOST_POINTS = 500_000_000
"""So many points at most are looked through: a county's tile of a square mile has some tens of millions."""

PART = 500_000
"""So many points are read at once: 15 to 30 MB."""

TIGHTEST = 10_000.0
"""[-] LAZ takes a point down to a tenth of its record, one of an even plane to a thousandth (measured)."""

_HEADERS = {0: 227, 1: 227, 2: 227, 3: 235, 4: 375}
"""The size of the header by the minor version (LAS Specification 1.0 to 1.4)."""

_RECORDS = (20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67)
"""The least size of a record by the point format, 0 to 10."""

_VERTICAL_UNIT, _UNIT_CODES = 4099, {9001: 1.0, 9002: 0.3048, 9003: 1200.0 / 3937.0}
"""The key of the unit of heights (GeoTIFF 1.0, 6.2.4), and its codes for metre, foot and US survey foot."""


class LasFile:
    """One file of a laser scan, its header checked; see ``AirborneFile``."""

    def __init__(self, data: bytes, file: str) -> None:
        """Raises ``InputError``: no LAS, cut off, a header that claims what the file cannot hold."""
        self.file, self.count = file, _checked(data, file)
        self._data = data
        with self._reading() as reader:
            header = reader.header
            if header.point_count != self.count:
                raise broken(file, "damaged")
            self.system, self.heights = _system(header), _heights(header)
            west, south = header.mins[:2]
            east, north = header.maxs[:2]
        self.extent = Box(float(west), float(south), float(east), float(north))

    def within(self, box: Box) -> Floats:
        """Read the points of ground in a box (n, 3), none that is marked as withheld."""
        kept: list[Floats] = []
        seen, inside, found = 0, 0, 0
        with self._reading() as reader:
            while seen < self.count:
                part = reader.read_points(min(PART, self.count - seen))
                if not len(part):
                    raise broken(self.file, "cut-off", count=f"{self.count:,}", seen=f"{seen:,}")
                seen += len(part)
                x, y, z = (np.asarray(part[axis], dtype=np.float64) for axis in "xyz")
                near = box.holds(x, y)
                inside += int(near.sum())
                near &= (np.asarray(part.classification) == GROUND) & (np.asarray(part.withheld) == 0)
                kept.append(np.column_stack((x, y, z))[near])
                found += len(kept[-1])
                if found > MOST_READ:
                    raise broken(self.file, "dense", most=f"{MOST_READ:,}")
        if inside and not found:
            raise broken(self.file, "no-ground", count=f"{inside:,}")
        return np.concatenate(kept) if kept else np.empty((0, 3))

    @contextmanager
    def _reading(self) -> Iterator[Any]:
        """The reader of laspy, whatever it raises told as a damaged file; what it logs is told so, too."""
        log = logging.getLogger("laspy")
        level = log.level
        log.setLevel(logging.CRITICAL + 1)
        try:
            with laspy.open(BytesIO(self._data), laz_backend=laspy.LazBackend.Lazrs) as reader:
                yield reader
        except Exception as problem:  # of laspy, lazrs, struct, numpy and pyproj: all mean the same
            if hasattr(problem, "faults"):
                raise
            raise broken(self.file, "damaged") from None
        finally:
            log.setLevel(level)


def _checked(data: bytes, file: str) -> int:
    """How many points there are; raises ``InputError`` where the file cannot hold what its header claims."""
    if len(data) < _HEADERS[0] or data[:4] != b"LASF":
        raise broken(file, "short", size=len(data))
    major, minor = data[24], data[25]
    if major != 1 or minor not in _HEADERS or len(data) < _HEADERS[minor]:
        raise broken(file, "version", version=f"{major}.{minor}")
    header, start, extras, kind, record, count = struct.unpack_from("<HIIBHI", data, 94)
    squeezed, form = bool(kind & 0x80), kind & 0x3F
    if minor == 4:
        (count,) = struct.unpack_from("<Q", data, 247)
        first, more = struct.unpack_from("<QI", data, 235)
        if more and (first + 60 * more > len(data) or first < start):
            raise broken(file, "damaged")
    if header < _HEADERS[minor] or header + 54 * extras > start or start > len(data):
        raise broken(file, "damaged")
    if form >= len(_RECORDS) or record < _RECORDS[form]:
        raise broken(file, "damaged")
    scales = struct.unpack_from("<12d", data, 131)
    if not np.isfinite(scales).all() or not all(scales[:3]):
        raise broken(file, "damaged")
    room, told = len(data) - start, f"{count:,}"
    if count > MOST_POINTS:
        raise broken(file, "many", count=told, most=f"{MOST_POINTS:,}")
    if count * record > room * (TIGHTEST if squeezed else 1.0):
        raise broken(
            file, "claims", count=told, record=record, needed=f"{count * record:,}", size=f"{room:,}"
        )
    if count == 0:
        raise broken(file, "empty")
    return int(count)


def _system(header: Any) -> str:
    """How its system is written; "" where it is not."""
    found = header.parse_crs()
    return "" if found is None else str(found.to_wkt())


def _heights(header: Any) -> float | None:
    """Metres per unit of its heights, where its keys say so apart from the system."""
    for one in header.vlrs.get("GeoKeyDirectoryVlr"):
        for key in one.geo_keys:
            if key.id == _VERTICAL_UNIT:
                return _UNIT_CODES.get(key.value_offset)
    return None


open_file = LasFile
