"""Coordinates of a published reference system turned into the local frame of a yard, in metres on the ground.

Always x east (or longitude), y north (or latitude). Degrees go through a transverse Mercator centred on the
site, so distances are those along the ellipsoid; projected coordinates lose their origin and their map scale,
keep their grid directions. The height of the site above the ellipsoid is left out: 1.6 mm in 10 m at 1000 m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj.network
from pyproj import CRS, Proj, Transformer
from pyproj.exceptions import CRSError, DataDirError

from gradework.errors import Faults, InputError, fault, visible
from gradework.survey.duplicates import WIDEST_SITE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from gradework.units.lengths import Unit

    Floats = NDArray[np.float64]


# Whether coordinates lie where their reference system is made for, and whether two of them were
# exchanged.
#
# Exchanged columns show where only the other order lies inside the area of the system; one exchanged row
# shows there too, or by lying among the other places only the other way round.

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
    faults.note(
        "coordinates-swapped",
        variant="all",
        line=lines[first],
        across=across,
        up=up,
        count=len(outer),
        system=visible(crs),
    )


def _row(
    system: Any, outer: Floats, index: int, names: Sequence[str], lines: Sequence[int], faults: Faults
) -> None:
    across, up = _pair(system)
    x, y = (f"{value:.10g}" for value in outer[index].tolist())
    name, line = names[index], lines[index]
    faults.note("coordinates-swapped", line=line, name=name, across=across, up=up, x=x, y=y)


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
    faults.note(
        "coordinates-outside-area",
        line=lines[first],
        count=int(lost.sum()),
        total=len(outer),
        system=visible(crs),
        area=where,
        x=f"{x:g}",
        y=f"{y:g}",
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
    if system.is_geographic:
        return outer
    there = Transformer.from_crs(system, system.geodetic_crs, always_xy=True)
    # as lists: an array of one point makes older sets of pyproj and numpy warn
    lon, lat = there.transform(outer[:, 0].tolist(), outer[:, 1].tolist(), errcheck=False)
    return np.column_stack([lon, lat])


UNIT_OF_AXIS = {0.3048: "ft", 1200 / 3937: "ftUS", 1.0: "m"}
"""Metres per unit of a coordinate axis, and our name of that unit."""


@dataclass(frozen=True, slots=True)
class GroundFrame:
    """How a site is placed in its reference system.

    ``crs`` its name; ``origin`` the local zero in the system's own unit (longitude and latitude, or east and
    north); ``metres`` per unit of that, on the map; ``scale`` the map scale there, 1 for degrees.
    """

    crs: str
    degrees: bool
    origin: tuple[float, float]
    metres: float
    scale: float

    def longitude_latitude(self, xy: ArrayLike) -> Floats:
        """Local places (m, 2) [m] as longitude and latitude (m, 2) [degrees] of the system's own datum."""
        at = np.asarray(xy, dtype=float).reshape(-1, 2)
        if self.degrees:
            plane = _site_plane(_system(self.crs), self.origin)
            lon, lat = plane(at[:, 0], at[:, 1], inverse=True, errcheck=True)
            return np.column_stack([lon, lat])
        outer = at * self.scale / self.metres + self.origin
        return to_degrees(_system(self.crs), outer)


def local_places(
    east: ArrayLike,
    north: ArrayLike,
    crs: str,
    *,
    unit: Unit = "m",
    names: Sequence[str] = (),
    lines: Sequence[int] = (),
    file: str = "",
) -> tuple[Floats, GroundFrame]:
    """Local x, y (n, 2) [m] of places given in a reference system, and how they are placed in it.

    ``east``, ``north`` (n,): longitude and latitude in degrees, or east and north in the unit of the system's
    axes; ``unit`` is the unit the notes declare and must be that of the axes (for degrees it does not
    matter); ``names`` serve the messages. Raises InputError: unknown system, no database, a system in
    another unit or not on a plane with axes east and north, columns or one row swapped, places outside the
    area the system is made for, a site too wide.
    """
    system = _system(crs)
    outer = np.column_stack([np.asarray(east, dtype=float), np.asarray(north, dtype=float)])
    rows = list(lines) or [0] * len(outer)
    called = [visible(name) for name in names] or [f"place {i + 1}" for i in range(len(outer))]
    faults = Faults(file)
    for index in np.flatnonzero(~np.isfinite(outer).all(axis=1)).tolist():
        faults.note("place-not-finite", line=rows[index], name=called[index])
    faults.raise_if_any()
    if len(outer) == 0:
        return outer, GroundFrame(crs, bool(system.is_geographic), (0.0, 0.0), 1.0, 1.0)
    _check_axes(system, crs, unit, faults)
    faults.raise_if_any()
    check_area(system, crs, outer, called, rows, faults)
    faults.raise_if_any()
    local, frame = _degrees(system, crs, outer) if system.is_geographic else _grid(system, crs, outer)
    width = float(np.ptp(local, axis=0).max())
    if width > WIDEST_SITE:
        far = int(np.argmax(np.hypot(*(local - np.median(local, axis=0)).T)))
        faults.halt(
            "site-too-wide",
            variant="places",
            line=rows[far],
            width=f"{width / 1000:.0f} km",
            widest=f"{WIDEST_SITE / 1000:.0f} km",
            name=called[far],
        )
    local.setflags(write=False)
    return local, frame


def _degrees(system: Any, crs: str, outer: Floats) -> tuple[Floats, GroundFrame]:
    origin = (float(np.median(outer[:, 0])), float(np.median(outer[:, 1])))
    plane = _site_plane(system, origin)
    x, y = plane(outer[:, 0], outer[:, 1], errcheck=True)
    return np.column_stack([x, y]), GroundFrame(crs, True, origin, math.nan, 1.0)


def _grid(system: Any, crs: str, outer: Floats) -> tuple[Floats, GroundFrame]:
    metres = float(system.axis_info[0].unit_conversion_factor)
    origin = (math.floor(outer[:, 0].min()), math.floor(outer[:, 1].min()))
    lon, lat = to_degrees(system, np.median(outer, axis=0)[None, :])[0]
    factors = Proj(system).get_factors(lon, lat)
    # Mean of both directions; they are one and the same in the conformal systems that surveys use.
    scale = math.sqrt(factors.meridional_scale * factors.parallel_scale)
    return (outer - origin) * (metres / scale), GroundFrame(crs, False, origin, metres, scale)


def _system(crs: str) -> Any:
    """The horizontal part of a reference system by name, or a fault that says how to find it."""
    try:
        # It would fetch grids, which nothing here needs; the type stub leaves the function out.
        pyproj.network.set_network_enabled(active=False)  # type: ignore[attr-defined]
        system = CRS.from_user_input(crs)
    except (CRSError, DataDirError) as error:
        said = str(error).lower()
        if isinstance(error, DataDirError) or "database" in said or "proj.db" in said:
            raise InputError([fault("crs-database-missing", about=("crs",))]) from None
        raise InputError([fault("crs-unknown", about=("crs",), system=visible(crs))]) from None
    if system.is_compound:
        system = system.sub_crs_list[0]
    return system


def _check_axes(system: Any, crs: str, unit: Unit, faults: Faults) -> None:
    name = visible(crs)
    axes = system.axis_info[:2]
    directions = {a.direction for a in axes}
    if not (system.is_geographic or system.is_projected) or directions != {"east", "north"}:
        shown = f"{name} ({visible(system.name)})"
        faults.note("crs-not-plane", system=shown, axes=", ".join(sorted(directions)))
        return
    if system.is_geographic:
        if any(a.unit_name != "degree" for a in axes):
            faults.note("crs-unit-differs", variant="degrees", system=name, axis=axes[0].unit_name)
        return
    factor = float(axes[0].unit_conversion_factor)
    axis_unit = next((u for f, u in UNIT_OF_AXIS.items() if abs(f - factor) < 1e-9), None)
    if axis_unit != unit:
        faults.note(
            "crs-unit-differs",
            variant="" if axis_unit else "other",
            unit=unit,
            system=name,
            axis=axes[0].unit_name,
            right=axis_unit,
        )


def _site_plane(system: Any, origin: tuple[float, float]) -> Any:
    """A transverse Mercator of scale 1 through the site, on the system's own ellipsoid."""
    shape = system.ellipsoid
    return Proj(
        proj="tmerc",
        lon_0=origin[0],
        lat_0=origin[1],
        a=shape.semi_major_metre,
        b=shape.semi_minor_metre,
        preserve_units=False,
    )
