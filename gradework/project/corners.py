"""Block piers from four drops: a job made in memory for corners measured below a level line.

Ground between the corners is taken straight, and carried out beyond them by as much as holes reach there.
Where water runs, and what lies uphill, four drops do not say: the walls are not looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.outline import Outline
from gradework.foundations.piers.units import UNITS_ON_HAND, solid_mass
from gradework.ground.surface import Surface, build_surface
from gradework.project.job.read import check_tables
from gradework.project.plan import Plan, plan_on
from gradework.survey.stations import Stations
from gradework.units.amounts import M_PER_IN
from gradework.units.form import form_of
from gradework.units.lengths import METRIC_UNITS

if TYPE_CHECKING:
    from gradework.units.form import Form
    from gradework.units.lengths import Unit

Floats = NDArray[np.float64]


def most_out(unit: Unit) -> float:
    """How far the ground is carried out beyond the corners [m], no less than holes reach: 12 in, 300 mm."""
    return 0.3 if unit in METRIC_UNITS else 12.0 * M_PER_IN


LINE = {"ft": 30.48, "m": 100.0}
"""The level line counts as 100 ft, or 100 m: heights are told from it."""

_INSIDE = 0.001  # [m] so far inside a side the slope of the ground along it is taken
_SAME = 1e-9


class Point(NamedTuple):
    """A place measured besides the corners: along and across from the first corner, drop [m]."""

    along: float
    across: float
    drop: float


@dataclass(frozen=True)
class Measured:
    """What was measured. ``drops`` below the level line at corners 1 to 4, all [m].

    ``blocks`` are thicknesses of the blocks on hand [m]; none: the usual ones.
    """

    unit: Unit
    size: tuple[float, float]
    drops: tuple[float, float, float, float]
    points: tuple[Point, ...] = ()
    blocks: tuple[float, ...] = ()

    @property
    def sides(self) -> tuple[str, str]:
        """The sides along and across, as they are said back."""
        return _whole(self.size[0], self.unit), _whole(self.size[1], self.unit)

    @property
    def line(self) -> float:
        """The elevation that the level line counts as [m]."""
        return LINE["m" if self.unit in METRIC_UNITS else "ft"]

    @property
    def out(self) -> float:
        """How far the ground is carried out beyond the corners [m]."""
        return most_out(self.unit)


def plan_corners(measured: Measured) -> Plan:
    """Plan block piers under the building. Raises ``InputError`` for what cannot be built or believed."""
    show_ft = measured.unit not in METRIC_UNITS
    along, across = measured.size
    piers: dict[str, Any] = {"end_inset": _END[show_ft], "side_inset": _SIDE[show_ft]}
    if measured.blocks:
        piers["units"] = _units(measured, us=show_ft)
    job = check_tables(
        {
            "name": " x ".join(measured.sides),
            "units": measured.unit,
            "survey": {"notes": "drops"},
            "building": {"size": [f"{along} m", f"{across} m"], "corner": ["0 m", "0 m"]},
            "piers": piers,
        }
    )
    stations = stations_of(measured)
    return plan_on(job, stations, carried_out(stations, measured.size, measured.out))


_END = {True: "4 in", False: "110 mm"}
_SIDE = {True: "8 in", False: "220 mm"}
"""Half a block from the sides, so that the outer blocks stand flush with the building."""


def _whole(metres: float, unit: Unit) -> str:
    metric = unit in METRIC_UNITS
    return f"{round(metres if metric else metres / 0.3048, 2):g} {'m' if metric else 'ft'}"


def _units(measured: Measured, *, us: bool) -> list[dict[str, Any]]:
    """Blocks of which only the thickness is known: as long and wide as the usual solid one, and solid."""
    usual = UNITS_ON_HAND["US" if us else "UK"][1]
    made = []
    for thickness in measured.blocks:
        size = f"{round(thickness / M_PER_IN, 3):g} in" if us else f"{round(thickness * 1000.0, 1):g} mm"
        made.append(
            {
                "name": f"{size} block",
                "thickness": f"{thickness} m",
                "length": f"{usual.length} m",
                "width": f"{usual.width} m",
                "weight": f"{solid_mass(thickness, usual.length, usual.width):.3f} kg",
                "price": 0,
            }
        )
    return made


def stations_of(measured: Measured) -> Stations:
    """The corners, and the points between them, as stations; the level line is ``measured.line``."""
    along, across = measured.size
    places = [(0.0, 0.0), (along, 0.0), (along, across), (0.0, across)]
    xyz = [(x, y, measured.line - drop) for (x, y), drop in zip(places, measured.drops, strict=True)]
    xyz += [(point.along, point.across, measured.line - point.drop) for point in measured.points]
    names = [f"corner {n}" for n in range(1, 5)] + [f"point {n}" for n in range(1, len(measured.points) + 1)]
    return _stations(names, np.array(xyz), measured.unit)


def _stations(names: Sequence[str], xyz: Floats, unit: Unit) -> Stations:
    none, lines = np.full(len(names), np.nan), np.zeros(len(names), dtype=np.int64)
    # drops are measured with a tape, so all is said as a tape reads
    form: Form = form_of(unit) if unit in METRIC_UNITS else "inches"
    return Stations(tuple(names), xyz, none, lines, "drops", unit, form=form)


def carried_out(stations: Stations, size: Sequence[float], out: float) -> Surface:
    """Carry the ground out by ``out`` [m] beyond a rectangle from (0, 0) to ``size`` [m], plane by plane.

    Along each side the plane that meets it goes on; beyond a corner the planes of its two sides go on to the
    line in which they cut each other. With four corners these are exactly the planes between them.
    """
    inner = build_surface(stations)
    box = Outline.rectangle((0.0, 0.0), (size[0], size[1]))
    ring = [place for side in _sides(inner, box) for place in side.carried(out)]
    corners = _sides(inner, box)
    for before, after in zip([corners[-1], *corners[:-1]], corners, strict=True):
        ring += _beyond_corner(before, after, out)
    xyz = np.vstack([stations.xyz, ring])
    names = [*stations.names, *(f"beyond {n}" for n in range(1, len(ring) + 1))]
    return build_surface(_stations(names, xyz, stations.unit))


@dataclass(frozen=True)
class _Side:
    """One side, from corner to corner: the ends (2, 3), unit vectors along and outward (2,), the ground's
    slopes along and outward [-] at either end, and the stations on it between its ends (k, 3)."""

    ends: Floats
    along: Floats
    outward: Floats
    slopes: tuple[Floats, Floats]
    between: Floats

    def plane(self, end: int) -> tuple[Floats, Floats]:
        """The plane at an end: a point (3,) on it, and its slope in x and y (2,)."""
        by_along, by_outward = self.slopes[end]
        return self.ends[end], by_along * self.along + by_outward * self.outward

    def carried(self, out: float) -> list[Floats]:
        """The stations between the ends, carried straight out with the mean slope there."""
        slope = 0.5 * (self.slopes[0][1] + self.slopes[1][1])
        return [np.array([*(p[:2] + out * self.outward), p[2] + out * slope]) for p in self.between]


def _sides(surface: Surface, box: Outline) -> list[_Side]:
    corners = box.rings[0]
    found = []
    every = surface.stations.xyz
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.hypot(*(end - start)))
        along = (end - start) / length
        outward = np.array([along[1], -along[0]])
        local = (every[:, :2] - start) @ np.array([along, outward]).T
        on = (np.abs(local[:, 1]) < _INSIDE) & (local[:, 0] > _INSIDE) & (local[:, 0] < length - _INSIDE)
        places = np.concatenate([[0.0], np.sort(local[on, 0]), [length]])
        levels = surface.elevation(start + places[:, None] * along)
        slopes = []
        for a, b in ((0, 1), (-2, -1)):
            middle = start + 0.5 * (places[a] + places[b]) * along
            inside = surface.elevation(np.array([middle, middle - _INSIDE * outward]))
            slopes.append(
                np.array(
                    [(levels[b] - levels[a]) / (places[b] - places[a]), (inside[0] - inside[1]) / _INSIDE]
                )
            )
        ends = np.column_stack([np.array([start, end]), levels[[0, -1]]])
        found.append(_Side(ends, along, outward, (slopes[0], slopes[1]), every[on]))
    return found


def _beyond_corner(before: _Side, after: _Side, out: float) -> list[Floats]:
    """Places (3,) beyond the corner that two sides share: on the outward line in which their planes cut each
    other, and at the corner of the strip."""
    (corner, first), (_, second) = before.plane(1), after.plane(0)
    tip = corner[:2] + out * (before.outward + after.outward)
    apart = first - second
    if np.hypot(*apart) < _SAME:
        return [_on(corner, first, tip)]
    way = np.array([-apart[1], apart[0]]) / np.hypot(*apart)
    way = way if way @ (before.outward + after.outward) > 0.0 else -way
    reach = way @ before.outward, way @ after.outward
    if min(reach) <= _SAME:  # the planes part inside: neither of them alone goes on here
        return [0.5 * (_on(corner, first, tip) + _on(corner, second, tip))]
    crossing = corner[:2] + way * (out / max(reach))
    # the line leaves the strip through the side it is steeper to; the tip lies on the other one's plane
    return [_on(corner, first, crossing), _on(corner, first if reach[1] > reach[0] else second, tip)]


def _on(corner: Floats, slope: Floats, place: Floats) -> Floats:
    return np.array([*place, corner[2] + float(slope @ (place - corner[:2]))])
