"""Places in plan from a baseline and from angles and distances; level distances from slopes.

The site frame is right-handed, x and y in metres; turns are degrees anticlockwise from +x.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.errors import Faults, visible

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gradework.errors import Finding
    from gradework.fieldnotes.places import Offset, Ray, Tie
    from gradework.survey.placing.crs import GroundFrame
    from gradework.units.lengths import Unit

    Point = tuple[float, float]
    Floats = NDArray[np.float64]


TAPE_SD = 0.006
"""Standard error of a taped distance in a yard [m]: 1/4 in; common practice, no source."""


class TieCheck(NamedTuple):
    """One tie of a station with ties to spare: its level length and its residual, taped minus computed
    [m]."""

    station: str
    mark: str
    length: float
    residual: float
    line: int


@dataclass(frozen=True, slots=True)
class Places:
    """``n`` named places: ``xy`` (n, 2) and ``sd`` (n,) [m], read-only; ``sd`` along the worst direction.

    ``sd`` is NaN where nothing is known about it. ``lines``: the first line of the notes about each.
    ``ties``: every tie of the stations that have more than two, in the order of the notes. ``frame``: where
    on earth they are, if a reference system says so.
    """

    names: tuple[str, ...]
    xy: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: tuple[int, ...]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()
    ties: tuple[TieCheck, ...] = ()
    frame: GroundFrame | None = None


def make_places(
    names: Sequence[str],
    xy: Sequence[Point] | NDArray[np.float64],
    sd: Sequence[float],
    lines: Sequence[int],
    *,
    file: str,
    unit: Unit,
    findings: Sequence[Finding] = (),
    ties: tuple[TieCheck, ...] = (),
) -> Places:
    """Places with read-only arrays."""
    points = np.array(xy, dtype=float).reshape(-1, 2)
    spread = np.array(sd, dtype=float)
    points.setflags(write=False)
    spread.setflags(write=False)
    return Places(tuple(names), points, spread, tuple(lines), file, unit, tuple(findings), ties)


def level_distance(slope: float, rise: float) -> float:
    """Level distance [m] of a tape held on the slope, from the rise between its ends [m].

    NAVEDTRA 14069 ch. 12. Raises ValueError where the rise is not less than the tape.

    >>> round(level_distance(15.0, 1.8), 3)
    14.892
    """
    if not abs(rise) < slope:
        raise ValueError(f"a rise of {rise:g} m is not less than the slope distance {slope:g} m")
    return math.sqrt((slope - rise) * (slope + rise))


def direction(degrees: float) -> Point:
    """Unit vector of a turn; exact at whole quarter turns."""
    quarter = degrees / 90.0
    if quarter == math.floor(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(degrees)), math.sin(math.radians(degrees))


def offset_places(
    offsets: Sequence[Offset],
    start: Point,
    end: Point,
    *,
    file: str = "",
    unit: Unit = "m",
    sd: float = TAPE_SD,
) -> Places:
    """Places by station and offset from the baseline ``start`` to ``end`` (x, y) [m].

    Raises InputError for a baseline without length and for values that are not finite.

    >>> from gradework.fieldnotes.places import Offset
    >>> offset_places([Offset("A", 3.0, 1.0)], (0, 0), (0, 10)).xy.tolist()
    [[-1.0, 3.0]]
    """
    faults = Faults(file)
    length = math.dist(start, end)
    if not (math.isfinite(length) and length > 0):
        faults.note("baseline-unusable")
    for o in offsets:
        _finite(faults, o.station, o.line, o.along, o.offset)
    faults.raise_if_any()
    ahead = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    xy = [
        (
            start[0] + o.along * ahead[0] - o.offset * ahead[1],
            start[1] + o.along * ahead[1] + o.offset * ahead[0],
        )
        for o in offsets
    ]
    return make_places(
        [o.station for o in offsets], xy, [sd] * len(offsets), [o.line for o in offsets], file=file, unit=unit
    )


def ray_places(
    rays: Sequence[Ray],
    seat: Point,
    zero: float,
    *,
    clockwise: bool = True,
    file: str = "",
    unit: Unit = "m",
    angle_sd: float = 0.25,
) -> Places:
    """Places by angle and distance from the instrument at ``seat`` (x, y) [m].

    ``zero``: where the circle reads 0, in degrees anticlockwise from +x (``bearing`` gives it from two
    marks). ``clockwise``: the circle counts clockwise, as circles on instruments do. ``angle_sd`` [degrees]:
    a builder's level read to the nearest degree; common practice, no source. Distances with a rise
    are reduced to level. Raises InputError with every line that cannot be used.
    """
    faults = Faults(file)
    for r in rays:
        _finite(faults, r.station, r.line, r.angle, r.distance, r.rise or 0.0)
    lengths = reduced_lengths(rays, faults)
    faults.raise_if_any()
    xy, sd = [], []
    for r, length in zip(rays, lengths, strict=True):
        ux, uy = direction(zero - r.angle if clockwise else zero + r.angle)
        xy.append((seat[0] + length * ux, seat[1] + length * uy))
        sd.append(max(TAPE_SD, length * math.radians(angle_sd)))
    return make_places([r.station for r in rays], xy, sd, [r.line for r in rays], file=file, unit=unit)


def bearing(start: Point, end: Point) -> float:
    """Direction from one place to another, degrees anticlockwise from +x, 0 up to 360.

    >>> bearing((0, 0), (0, 2))
    90.0
    """
    return math.degrees(math.atan2(end[1] - start[1], end[0] - start[0])) % 360.0


def reduced_lengths(measured: Sequence[Ray | Tie], faults: Faults) -> list[float]:
    """Level distances [m] of records with ``distance`` and ``rise``; a fault for each that has none."""
    lengths: list[float] = []
    for m in measured:
        slope, rise = m.distance, m.rise
        if rise is None and slope >= 0:
            lengths.append(slope)
        elif rise is not None and abs(rise) < slope:
            lengths.append(level_distance(slope, rise))
        else:
            faults.note("distance-unusable", line=m.line, name=visible(m.station))
            lengths.append(math.nan)
    return lengths


def _finite(faults: Faults, station: str, line: int, *values: float) -> None:
    if not all(math.isfinite(v) for v in values):
        faults.note("place-not-finite", line=line, name=visible(station))
