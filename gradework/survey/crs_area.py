"""Whether coordinates lie where their reference system is made for, and whether two of them were exchanged.

Exchanged columns show where only the other order lies inside the area of the system; one exchanged row shows
there too, or by lying among the other places only the other way round.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from gradework.errors import Faults, visible
from gradework.survey.spread import WIDEST_SITE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_EDGE = 1e-6

_METRES_PER_DEGREE = 111_000.0
"""[m] A degree of latitude, to a per cent; only to tell a yard from a continent."""


def check_area(
    system: Any, crs: str, outer: Floats, names: Sequence[str], lines: Sequence[int], faults: Faults
) -> None:
    """Add a fault for places (n, 2) outside the area of ``system`` and for rows or columns exchanged.

    ``outer``: longitude and latitude, or east and north, in the unit of the system.
    """
    inside, turned = _inside(system, outer), _inside(system, outer[:, ::-1])
    out = ~inside
    if 2 * out.sum() > len(outer) and turned.all():
        _columns(system, crs, outer, int(np.flatnonzero(out)[0]), lines, faults)
        return
    exchanged = (out & turned) if inside.any() else np.zeros(len(outer), dtype=bool)
    exchanged |= inside & _among_the_others_when_turned(system, outer, inside)
    for index in np.flatnonzero(exchanged).tolist():
        _row(system, outer, index, names, lines, faults)
    lost = out & ~exchanged
    if lost.any():
        _outside(system, crs, outer, lost, lines, faults)


def _among_the_others_when_turned(system: Any, outer: Floats, inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Places that lie within a yard's width of the middle one only with their two numbers exchanged."""
    if inside.sum() < 3:
        return np.zeros(len(outer), dtype=bool)
    metres = _METRES_PER_DEGREE if system.is_geographic else float(system.axis_info[0].unit_conversion_factor)
    middle = np.median(outer[inside], axis=0)
    away, turned = (np.abs(at - middle).max(axis=1) * metres for at in (outer, outer[:, ::-1]))
    return np.asarray((away > WIDEST_SITE) & (turned <= WIDEST_SITE))


def _pair(system: Any) -> tuple[str, str]:
    return ("longitude", "latitude") if system.is_geographic else ("east", "north")


def _columns(system: Any, crs: str, outer: Floats, first: int, lines: Sequence[int], faults: Faults) -> None:
    across, up = _pair(system)
    faults.add(
        "coordinates-swapped",
        f"{up} where {across} should be: all {len(outer)} places fit {visible(crs)} only the other way round",
        f"{across} and {up} each under its own name",
        f"exchange the words {across} and {up} in the header: the names of the columns decide, not their "
        "order",
        line=lines[first],
    )


def _row(
    system: Any, outer: Floats, index: int, names: Sequence[str], lines: Sequence[int], faults: Faults
) -> None:
    across, up = _pair(system)
    x, y = outer[index].tolist()
    faults.add(
        "coordinates-swapped",
        f"{names[index]} at {across} {x:.10g}, {up} {y:.10g}, which fits the other places only the other way "
        "round",
        f"{across} {y:.10g}, {up} {x:.10g}",
        "exchange the two numbers of this row",
        line=lines[index],
    )


def _outside(
    system: Any,
    crs: str,
    outer: Floats,
    lost: NDArray[np.bool_],
    lines: Sequence[int],
    faults: Faults,
) -> None:
    area = system.area_of_use
    where = visible(area.name, 60) if area is not None else "the earth"
    first = int(np.flatnonzero(lost)[0])
    x, y = outer[first]
    faults.add(
        "coordinates-outside-area",
        f"{int(lost.sum())} of {len(outer)} places outside the area of {visible(crs)} ({where}), first "
        f"{x:g}, {y:g}",
        "places inside the area the system is made for",
        "check the code of the system, the unit, and the sign of the longitude (west is negative)",
        line=lines[first],
    )


def _inside(system: Any, outer: Floats) -> NDArray[np.bool_]:
    lonlat = to_degrees(system, outer)
    lon, lat = lonlat[:, 0], lonlat[:, 1]
    fine = np.isfinite(lonlat).all(axis=1) & (np.abs(lat) <= 90) & (np.abs(lon) <= 360)
    area = system.area_of_use
    if area is None:
        return np.asarray(fine)
    across = (lon >= area.west - _EDGE) & (lon <= area.east + _EDGE)
    if area.west > area.east:  # the area lies across the 180th meridian
        across = (lon >= area.west - _EDGE) | (lon <= area.east + _EDGE)
    return np.asarray(fine & across & (lat >= area.south - _EDGE) & (lat <= area.north + _EDGE))


def to_degrees(system: Any, outer: Floats) -> Floats:
    """Longitude and latitude (m, 2) on the system's own datum; infinite where the projection has no
    answer."""
    from pyproj import Transformer  # heavy; only sites with a reference system need it

    if system.is_geographic:
        return outer
    there = Transformer.from_crs(system, system.geodetic_crs, always_xy=True)
    # as lists: an array of one point makes older sets of pyproj and numpy warn
    lon, lat = there.transform(outer[:, 0].tolist(), outer[:, 1].tolist(), errcheck=False)
    return np.column_stack([lon, lat])
