"""A straight grade between control stakes: the level of a drain, a wall or a ramp at every stake along a
line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.errors import Faults, Finding, visible

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import ArrayLike, NDArray

    from gradework.fieldnotes.places import Offset, Ray, Tie
    from gradework.units.lengths import Unit

    Point = tuple[float, float]
    Floats = NDArray[np.float64]


# Places in plan from a baseline, from angles and distances, and between frames; level distances from
# slopes.
#
# The site frame is right-handed, x and y in metres; turns are degrees anticlockwise from +x.

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
    ``ties``: every tie of the stations that have more than two, in the order of the notes.
    """

    names: tuple[str, ...]
    xy: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: tuple[int, ...]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()
    ties: tuple[TieCheck, ...] = ()


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


def corner_angle(first: float, second: float, diagonal: float) -> float:
    """Angle [degrees] of the corner between two sides, from the diagonal across it; all [m]. 90 is square.

    Raises ValueError where the three make no triangle.

    >>> corner_angle(3, 4, 5)
    90.0
    """
    if not (first > 0 and second > 0 and abs(first - second) < diagonal < first + second):
        raise ValueError(f"sides {first:g} m and {second:g} m have no diagonal of {diagonal:g} m")
    return math.degrees(math.acos((first**2 + second**2 - diagonal**2) / (2 * first * second)))


@dataclass(frozen=True, slots=True)
class LocalFrame:
    """A frame with its zero at ``origin`` [m] of an outer frame and its +x turned by ``turn`` degrees
    there."""

    origin: Point
    turn: float = 0.0

    def _axes(self) -> NDArray[np.float64]:
        return np.array([direction(self.turn), direction(self.turn + 90.0)])

    def inward(self, xy: ArrayLike) -> NDArray[np.float64]:
        """Outer coordinates (m, 2) [m] as seen in this frame.

        >>> LocalFrame((10, 5), 90).inward([[10, 7]]).tolist()
        [[2.0, 0.0]]
        """
        return np.asarray((np.asarray(xy, dtype=float) - self.origin) @ self._axes().T, dtype=float)

    def outward(self, xy: ArrayLike) -> NDArray[np.float64]:
        """Coordinates in this frame (m, 2) [m] as seen from the outer one."""
        return np.asarray(np.asarray(xy, dtype=float) @ self._axes() + self.origin, dtype=float)


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
        faults.add(
            "baseline-unusable",
            "a baseline that starts and ends at one place",
            "a baseline between two different places",
            "give two known places, as far apart as the yard allows",
        )
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
            faults.add(
                "distance-unusable",
                f"the distance to {visible(m.station)}",
                "a distance above 0 and, on a slope, above its rise",
                "check the distance and the rise",
                line=m.line,
            )
            lengths.append(math.nan)
    return lengths


def _finite(faults: Faults, station: str, line: int, *values: float) -> None:
    if not all(math.isfinite(v) for v in values):
        faults.add(
            "place-not-finite",
            f"a value at {visible(station)} that is not a number",
            "plain numbers",
            "write the measurement, or leave the line out",
            line=line,
        )


@dataclass(frozen=True, slots=True)
class GradeLine:
    """``grade`` (n,) [m] elevation of the line at each stake; ``cut`` (n,) [m] ground above it, minus for
    fill; ``falls`` (k-1,) [-] fall over run of each stretch between control stakes, positive downhill.
    Read-only."""

    grade: Floats
    cut: Floats
    falls: Floats


def straight_grade(along: ArrayLike, ground: ArrayLike, control: Mapping[int, float]) -> GradeLine:
    """The line that is straight between control stakes.

    ``along`` (n,) [m] distance of each stake from the first, rising; ``ground`` (n,) [m] elevations;
    ``control`` gives the cut [m] wanted at some stakes (by number from 0), the first and the last among them.
    Raises ValueError where the first or last stake has no control or the distances do not rise.

    >>> straight_grade([0, 10, 20], [5.0, 4.9, 4.0], {0: 0.5, 2: 0.5}).cut.round(3).tolist()
    [0.5, 0.9, 0.5]
    """
    at = np.asarray(along, dtype=float)
    level = np.asarray(ground, dtype=float)
    fixed = sorted(control)
    if not fixed or fixed[0] != 0 or fixed[-1] != len(at) - 1:
        raise ValueError("the first and the last stake need a cut to hold")
    if np.any(np.diff(at) <= 0):
        raise ValueError("the distances of the stakes must rise")
    held = np.array([level[i] - control[i] for i in fixed])
    grade = np.interp(at, at[fixed], held)
    falls = -np.diff(held) / np.diff(at[fixed])
    cut = level - grade
    for array in (grade, cut, falls):
        array.setflags(write=False)
    return GradeLine(grade, cut, falls)
