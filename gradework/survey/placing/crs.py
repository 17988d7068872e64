"""Coordinates of a published reference system turned into the local frame of a yard, in metres on the ground.

Always x east (or longitude), y north (or latitude). Degrees go through a transverse Mercator centred on the
site, so distances are those along the ellipsoid; projected coordinates lose their origin and their map scale,
keep their grid directions. Where the elevation of the site is known, distances are then raised to it: by
(1 + h / R), 1.6 mm in 10 m at 1000 m, with the Gaussian radius of curvature R.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj.network
from pyproj import CRS, Proj, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info, query_utm_crs_info
from pyproj.enums import PJType
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
    north); ``metres`` per unit of that, on the map; ``scale`` a length on the map over that at sea level, 1
    for degrees; ``raised`` a length on the ground over that at sea level, 1 where the height is not known;
    ``zero`` [m] where x and y of the yard are zero, from the local zero.
    """

    crs: str
    degrees: bool
    origin: tuple[float, float]
    metres: float
    scale: float
    raised: float = 1.0
    zero: tuple[float, float] = (0.0, 0.0)

    def longitude_latitude(self, xy: ArrayLike) -> Floats:
        """Places of the yard (m, 2) [m] as longitude and latitude (m, 2) [degrees] of the system's datum."""
        at = (np.asarray(xy, dtype=float).reshape(-1, 2) + self.zero) / self.raised
        if self.degrees:
            plane = _site_plane(_system(self.crs), self.origin)
            lon, lat = plane(at[:, 0], at[:, 1], inverse=True, errcheck=True)
            return np.column_stack([lon, lat])
        outer = at * self.scale / self.metres + self.origin
        return to_degrees(_system(self.crs), outer)

    def into(self, system: str, xy: ArrayLike) -> Floats:
        """Places of the yard (m, 2) [m] in another system (m, 2), x east or longitude, in its own unit."""
        there = Transformer.from_crs(_system(self.crs).geodetic_crs, _system(system), always_xy=True)
        return np.column_stack(there.transform(*self.longitude_latitude(xy).T))

    def out_of(self, system: str, places: ArrayLike) -> Floats:
        """Places of another system (m, 2) in the yard (m, 2) [m]: the way back, as good as pyproj has it."""
        own = _system(self.crs)
        there = Transformer.from_crs(_system(system), own, always_xy=True)
        outer = np.column_stack(there.transform(*np.asarray(places, dtype=float).reshape(-1, 2).T))
        if self.degrees:
            at = np.column_stack(_site_plane(own, self.origin)(*outer.T))
        else:
            at = (outer - self.origin) * (self.metres / self.scale)
        local: Floats = at * self.raised - self.zero
        return local

    def world(self, xy: ArrayLike) -> Floats:
        """Places of the yard (m, 2) [m] as longitude and latitude (m, 2) [degrees] of WGS 84 (EPSG:4326).

        Without a grid of shifts between the two datums the best that is at hand is taken, as pyproj has it.
        """
        system = _system(self.crs)
        there = Transformer.from_crs(system.geodetic_crs, "EPSG:4326", always_xy=True)
        lon, lat = there.transform(*self.longitude_latitude(xy).T)
        return np.column_stack([lon, lat])


def local_places(
    east: ArrayLike,
    north: ArrayLike,
    crs: str,
    *,
    unit: Unit = "m",
    height: float | None = None,
    names: Sequence[str] = (),
    lines: Sequence[int] = (),
    file: str = "",
) -> tuple[Floats, GroundFrame]:
    """Local x, y (n, 2) [m] of places given in a reference system, and how they are placed in it.

    ``east``, ``north`` (n,): longitude and latitude in degrees, or east and north in the unit of the system's
    axes; ``unit`` is the unit the notes declare and must be that of the axes (for degrees it does not
    matter); ``height`` of the site above sea level [m], None for lengths at sea level; ``names`` serve the
    messages. Raises InputError: unknown system, no database, a system in another unit, of the web's maps or
    not on a plane with axes east and north, columns or one row swapped, places outside the area the system is
    made for, a site too wide.
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
    _refuse_web_map(system, crs, unit, np.median(outer, axis=0))
    _check_axes(system, crs, unit)
    check_area(system, crs, outer, called, rows, faults)
    faults.raise_if_any()
    local, frame = _degrees(system, crs, outer) if system.is_geographic else _grid(system, crs, outer)
    if height is not None:
        frame = replace(
            frame, raised=1.0 + height / _radius(system, frame.longitude_latitude(local[0])[0, 1])
        )
        local = local * frame.raised
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


def _radius(system: Any, latitude: float) -> float:
    """The Gaussian radius of curvature of the ellipsoid [m]: the mean over all directions."""
    shape = system.ellipsoid
    squeezed = 1.0 - (shape.semi_minor_metre / shape.semi_major_metre) ** 2  # e²
    sine = math.sin(math.radians(latitude))
    return float(shape.semi_minor_metre / (1.0 - squeezed * sine**2))


def axes_of(crs: str) -> tuple[Any, float | None]:
    """The horizontal part of a system, and metres per unit of its heights; None where it has none.

    Raises ``InputError`` for a system that is not known.
    """
    whole, flat = CRS.from_user_input(crs), _system(crs)
    upward = whole.sub_crs_list[-1].axis_info[-1:] if whole.is_compound else whole.axis_info[2:]
    return flat, float(upward[0].unit_conversion_factor) if upward else None


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


_ABOUT = ("crs",)
"""The key that faults of the system itself are about."""


def _check_axes(system: Any, crs: str, unit: Unit) -> None:
    """Refuse a system without axes east and north, or whose unit is not that of the notes."""
    name = visible(crs)
    axes = system.axis_info[:2]
    directions = {a.direction for a in axes}
    if not (system.is_geographic or system.is_projected) or directions != {"east", "north"}:
        shown = f"{name} ({visible(system.name)})"
        told = fault("crs-not-plane", about=_ABOUT, system=shown, axes=", ".join(sorted(directions)))
        raise InputError([told])
    if system.is_geographic:
        if any(a.unit_name != "degree" for a in axes):
            axis = axes[0].unit_name
            told = fault("crs-unit-differs", variant="degrees", about=_ABOUT, system=name, axis=axis)
            raise InputError([told])
        return
    factor = float(axes[0].unit_conversion_factor)
    axis_unit = next((u for f, u in UNIT_OF_AXIS.items() if abs(f - factor) < 1e-9), None)
    if axis_unit != unit:
        told = fault(
            "crs-unit-differs",
            variant="" if axis_unit else "other",
            about=_ABOUT,
            unit=unit,
            system=name,
            axis=axes[0].unit_name,
            right=axis_unit,
        )
        raise InputError([told])


# Systems that are no use for measuring: maps of the web, and others that squeeze one direction.

_WEB_MAP = "Popular Visualisation Pseudo Mercator"
"""The name of the method by which maps of the web are made, in the database of systems."""

_SQUEEZED = 1e-3
"""So far may the scales to the north and to the east be apart: 1 in 1,000. Systems made for surveying draw
both alike; a judgement."""


def _refuse_web_map(system: Any, crs: str, unit: Unit, middle: Floats) -> None:
    """Refuse a system that draws lengths at other scales to the north than to the east; name a better one."""
    operation = system.coordinate_operation if system.is_projected else None
    if operation is None:
        return
    lon, lat = to_degrees(system, middle[None, :])[0]
    if not (abs(lon) <= 180.0 and abs(lat) <= 90.0):
        return  # outside every area, which is told
    factors = Proj(system).get_factors(lon, lat)
    squeezed = abs(factors.meridional_scale / factors.parallel_scale - 1.0)
    if operation.method_name != _WEB_MAP and squeezed <= _SQUEEZED:
        return
    better = better_systems(lon, lat, unit)
    told = fault(
        "crs-web-map",
        about=_ABOUT,
        system=f"{visible(crs)} ({visible(system.name)})",
        stretch=f"{math.sqrt(factors.meridional_scale * factors.parallel_scale):.3g}",
        better=" or ".join(f"{code} ({name})" for code, name in better),
        first=better[0][0],
    )
    raise InputError([told])


def better_systems(lon: float, lat: float, unit: Unit) -> list[tuple[str, str]]:
    """Code and name of systems for surveying at a place: in feet that of the state, else the zone of UTM, and
    always longitude and latitude.

    The database of pyproj tells them; of the systems of a state the newest that was made for the least area.
    """
    here = AreaOfInterest(lon, lat, lon, lat)
    zones = query_utm_crs_info("WGS 84", here, contains=True)
    found = [(f"EPSG:{one.code}", one.name) for one in zones[:1]]
    if unit in ("ft", "ftUS"):
        states = query_crs_info("EPSG", PJType.PROJECTED_CRS, here, contains=True)
        feet = f"({unit})"
        own = [one for one in states if one.name.startswith("NAD83(2011) / ") and one.name.endswith(feet)]
        own.sort(key=lambda one: one.area_of_use.east - one.area_of_use.west if one.area_of_use else 360.0)
        found = [(f"EPSG:{one.code}", one.name) for one in own[:1]]
    return [*found, ("EPSG:4326", "longitude and latitude")]


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
