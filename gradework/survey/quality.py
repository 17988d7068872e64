"""Where shots are missing for a building: inside it, on its pad, over the ground around, and uphill of it.

The ground within a strip around the pad is sampled finely; wherever the next shot is farther than a given
reach, or the place lies outside all shots, there is a gap. Shots to take next are chosen one by one, the
worst gap first, on the yard's own grid where its stations are named after one, and never close together.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from gradework.errors import Finding, finding, visible
from gradework.fieldnotes.lettered import row_and_column

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from numpy.typing import ArrayLike, NDArray

    from gradework.survey.stations import Stations
    from gradework.units.display import Display

    Floats = NDArray[np.float64]
    Marks = Mapping[str, tuple[float, float]]
    Measurable = Callable[[Floats], NDArray[np.bool_]]


# Can the survey be trusted? One word and its reasons, each of them a finding.

Grade = Literal["good", "fair", "poor"]

POOR = frozenset(
    {
        "misclosure-too-large",
        "routes-disagree",
        "shot-misread",
        "shot-off-the-ground",
        "instrument-moved",
        "reading-misread",
        "ties-disagree",
        "tie-other-hand",
        "page-check-fails",
        "booked-elevation-differs",
        "rod-reading-long",
    }
)
"""Something is wrong, and quantities made from the survey are too."""

FAIR = frozenset(
    {
        "levels-not-closed",
        "survey-not-checked",
        "misclosure-without-rule",
        "shots-disagree",
        "reading-error",
        "double-shot-averaged",
        "shots-missing",
        "ties-cross-flat",
        "string-not-level",
        "string-sag-unknown",
        "sights-not-straightened",
        "only-three-shots",
        "gnss-plan-coarse",
        "place-far-off",
        "place-sign",
        "steep-pair",
        "notes-unit-in-title",
        "elevations-like-readings",
        "blunder-check-left-out",
        "station-without-place",
        "station-without-height",
    }
)
"""Something was not checked, or is weaker than it should be."""

UNCHECKED = "survey-not-checked"
"""Nothing was checked at all. Without this finding there was a check, so a good survey has passed one."""


@dataclass(frozen=True, slots=True)
class Trust:
    """``grade`` and the findings that led to it, the weightiest first; none for a good survey."""

    grade: Grade
    reasons: tuple[Finding, ...]

    @property
    def summary(self) -> str:
        """One line: the grade, and because of what.

        >>> Trust("good", ()).summary
        'Survey check: good. All checks agree'
        """
        told = list(
            dict.fromkeys(
                f"{r.code.replace('-', ' ')} ({r.where})" for r in self.reasons if r.code != UNCHECKED
            )
        )
        rest = f" and {len(told) - 4} more" if len(told) > 4 else ""
        because = ["; ".join(told[:4]) + rest] if told else []
        because += [f"nothing checks {r.where}" for r in self.reasons if r.code == UNCHECKED]
        parts = [f"survey check: {self.grade}", *(because or ["all checks agree"])]
        return ". ".join(part[:1].upper() + part[1:] for part in parts)


def judge(findings: Iterable[Finding]) -> Trust:
    """The grade that the findings of a survey add up to: one of ``POOR`` is poor, one of ``FAIR`` is fair.

    Findings of other codes, and notes, say nothing about trust.
    """
    known = [f for f in findings if f.severity != "note"]
    poor = [f for f in known if f.code in POOR or (f.severity == "stop" and f.code not in FAIR)]
    fair = [f for f in known if f.code in FAIR]
    if poor:
        return Trust("poor", (*poor, *fair))
    return Trust("fair", tuple(fair)) if fair else Trust("good", ())


# The grid that stations named A1, A2 ... B1 ... stand on, told by their names and places, so that a shot
# that is missing can be asked for by the name it will have.

MOST_NAMED_STATIONS = 5000
_FEWEST = 4
_OFF = 0.15  # of the spacing: a station farther off its place was named for another reason
_MOST_STRAY = 0.2


@dataclass(frozen=True, slots=True)
class NamedGrid:
    """Where row and column (from 0) stand: ``origin`` (2,) of A1, ``along`` (2, 2) the steps of a row and of
    a column, all [m]."""

    origin: Floats
    along: Floats

    def near(self, xy: tuple[float, float], shots: Floats) -> tuple[tuple[float, float], str | None]:
        """The free station of the grid nearest to ``xy`` [m] and its name; where that is taken, the middle
        between two; where the grid has no name for it (before A or 1), ``xy`` itself and None."""
        at = np.linalg.solve(self.along.T, np.asarray(xy) - self.origin)
        for step in (1.0, 0.5):
            row, column = (np.round(at / step) * step).tolist()
            place = self.origin + row * self.along[0] + column * self.along[1]
            free = float(np.hypot(*(shots - place).T).min()) > 0.3
            if free and min(row, column) >= 0 and row < 26 * 27 and column < 9999:
                return (float(place[0]), float(place[1])), _name(row, column)
        return xy, None


def named_grid(stations: Stations) -> NamedGrid | None:
    """The grid of stations named after one; None where the names or the places are others.

    At least four stations, in two rows and two columns, and no more than one in five off its place.
    """
    if not _FEWEST <= len(stations) <= MOST_NAMED_STATIONS:
        return None
    spots = [(row_and_column(name), i) for i, name in enumerate(stations.names)]
    named = [(at, i) for at, i in spots if at is not None]
    if len(named) < max(_FEWEST, (1 - _MOST_STRAY) * len(stations)):
        return None
    cells = np.array([at for at, _ in named], dtype=float)
    xy = np.asarray(stations.xyz[[i for _, i in named], :2])
    if (np.ptp(cells, axis=0) == 0).any():
        return None
    design = np.column_stack([np.ones(len(cells)), cells])
    fit, _, rank, _ = np.linalg.lstsq(design, xy, rcond=1e-9)
    if rank < 3:
        return None
    along = np.asarray(fit[1:])
    step = float(np.sqrt(abs(np.linalg.det(along))))
    off = np.hypot(*(design @ fit - xy).T)
    if step == 0 or float(np.mean(off > _OFF * step)) > _MOST_STRAY:
        return None
    return NamedGrid(np.asarray(fit[0]), along)


def _name(row: float, column: float) -> str:
    """The name of a station; of a place half way, the two stations it lies between."""
    low, high = (int(row), int(column)), (int(np.ceil(row)), int(np.ceil(column)))
    if low == high:
        return _station(*low)
    return f"midway between {_station(*low)} and {_station(*high)}"


def _station(row: int, column: int) -> str:
    letters, rest = "", row + 1
    while rest:
        rest, letter = divmod(rest - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{column + 1}"


# Where shots are missing, and where to take the next.

AROUND = 10 * 0.3048
"""The ground around the pad that matters for water [m]: 10 ft, as the drainage rules have it."""

REACH_INSIDE, REACH_AROUND = 6 * 0.3048, 10 * 0.3048
"""A place without a shot this near is a gap: 6 ft under the pad, 10 ft around it [m]; shots every 5 to 10 ft
for a backyard pad, a judgement without a published figure."""

FLATTEST = 20.0
"""Tapes that cross at less [degrees] fix a place too badly to be asked for; as ties that cross too flat."""

NO_MARKS: Marks = MappingProxyType({})

MOST_NEXT = 8
"""More shots than this are not listed at once; a few of them close most gaps."""

APART = 0.8
"""Shots asked for stand at least this share of the reach apart [-], corners of the building aside."""

EDGE = 2 * 0.3048
"""Ground around the pad that lies outside all shots by less is let pass [m]; under the pad nothing is."""


@dataclass(frozen=True, slots=True)
class NextShot:
    """A place to shoot next: ``xy`` [m], why, and in the yard's own words where."""

    xy: tuple[float, float]
    why: str
    where: str


def shoot_next(
    stations: Stations,
    outline: ArrayLike,
    *,
    margin: float = 0.0,
    marks: Marks = NO_MARKS,
    built: str = "pad",
    measurable: Measurable | None = None,
) -> tuple[NextShot, ...]:
    """Places to shoot next for a building, the most needed first; empty when nothing is missing.

    ``outline`` (k, 2) [m] the corners of the building in order; ``margin`` [m] how far the pad reaches
    beyond; ``marks`` (x, y) [m] by name, where the yard is taped from such; ``built`` the word for what is
    built there; ``measurable`` tells of places (m, 2) [m] which one can get to with a rod, None for all of
    them. Corners of the building come first, then gaps under the pad, then the ground around, uphill
    before downhill. Raises ValueError for an outline of fewer than three corners.
    """
    corners = np.asarray(outline, dtype=float).reshape(-1, 2)
    if len(corners) < 3:
        raise ValueError(f"an outline has at least three corners, found {len(corners)}")
    samples, weight, inside = _samples(corners, margin, _uphill(stations))
    corner = np.arange(len(samples)) < len(corners)
    if measurable is not None:
        kept = measurable(samples)
        samples, weight, inside, corner = samples[kept], weight[kept], inside[kept], corner[kept]
    shots = np.asarray(stations.xyz[:, :2], dtype=float)
    grid = named_grid(stations)
    far = _distance(samples, shots)
    reach = np.where(inside, REACH_INSIDE, REACH_AROUND)
    served = np.zeros(len(samples), dtype=bool)
    found: list[NextShot] = []
    while len(found) < min(MOST_NEXT, len(samples)):
        # A place outside all shots has no ground at all, however near one of them is.
        bare = (_outside_hull(samples, shots) > np.where(inside, 1e-6, EDGE)) & (far > 0.3)
        need = np.where(bare, np.maximum(far / reach, 1.0) + 0.5, far / reach) * weight
        need[((far <= reach) & ~bare) | served] = 0.0
        best = int(np.argmax(need))
        if need[best] <= 0:
            break
        place = (float(samples[best, 0]), float(samples[best, 1]))
        xy, name = (place, None) if corner[best] or grid is None else grid.near(place, shots)
        if name is not None and measurable is not None and not measurable(np.array([xy]))[0]:
            xy, name = place, None
        why = _why(built, bool(inside[best]), bool(bare[best]), float(weight[best]))
        found.append(NextShot(xy, why, _words(xy, name, stations, marks)))
        shots = np.vstack([shots, xy])
        away = np.hypot(*(samples - xy).T)
        far = np.minimum(far, away)
        served |= (away < APART * reach) & ~corner
        served[best] = True
    return tuple(found)


def coverage_findings(
    stations: Stations,
    outline: ArrayLike,
    *,
    margin: float = 0.0,
    marks: Marks = NO_MARKS,
    built: str = "pad",
    measurable: Measurable | None = None,
) -> list[Finding]:
    """One warning that lists the places to shoot next, if any; see ``shoot_next``."""
    wanted = shoot_next(stations, outline, margin=margin, marks=marks, built=built, measurable=measurable)
    if not wanted:
        return []
    reasons = dict.fromkeys(s.why for s in wanted)
    listed = ". ".join(
        f"{why[0].upper()}{why[1:]}: {'; '.join(s.where for s in wanted if s.why == why)}" for why in reasons
    )
    return [
        finding(
            "shots-missing",
            "warning",
            wanted[0].where,
            float(len(wanted)),
            0.0,
            variant="more" if len(wanted) == MOST_NEXT else "",
            places=listed,
        )
    ]


def best_tapes(xy: tuple[float, float], marks: Marks) -> tuple[str, str] | None:
    """The two marks from which tapes to a place cross nearest to square, in the order they are named.

    None where no two cross at more than ``FLATTEST`` degrees.
    """
    best, most = None, math.sin(math.radians(FLATTEST))
    for first, second in itertools.combinations(marks, 2):
        (ax, ay), (bx, by) = ((marks[m][0] - xy[0], marks[m][1] - xy[1]) for m in (first, second))
        lengths = math.hypot(ax, ay) * math.hypot(bx, by)
        square = abs(ax * by - ay * bx) / lengths if lengths > 0 else 0.0
        if square > most:
            best, most = (first, second), square
    return best


def _uphill(stations: Stations) -> Floats:
    """Unit vector up the slope of the plane through all shots; zero where there is none."""
    xyz = stations.xyz - stations.xyz.mean(axis=0)
    if len(xyz) < 3:
        return np.zeros(2)
    rise, *_ = np.linalg.lstsq(xyz[:, :2], xyz[:, 2], rcond=1e-9)
    steep = float(np.hypot(*rise))
    return np.asarray(rise / steep) if steep > 0.005 else np.zeros(2)


def _samples(corners: Floats, margin: float, uphill: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Places to look at, how much each counts, and which lie on the pad: corners, then a grid of about 1
    m."""
    low = corners.min(axis=0) - margin - AROUND
    high = corners.max(axis=0) + margin + AROUND
    count = np.clip(np.ceil((high - low) / 0.6).astype(int), 2, 120) + 1
    gx, gy = np.meshgrid(np.linspace(low[0], high[0], count[0]), np.linspace(low[1], high[1], count[1]))
    grid = np.column_stack([gx.ravel(), gy.ravel()])
    off = np.where(_within(grid, corners), 0.0, _edge_distance(grid, corners))
    grid, off = grid[off <= margin + AROUND], off[off <= margin + AROUND]
    samples = np.vstack([corners, grid])
    inside = np.concatenate([np.ones(len(corners), dtype=bool), off <= margin])
    above = (samples - corners.mean(axis=0)) @ uphill > 0
    weight = np.where(inside, 2.0, np.where(above, 1.2, 1.0))
    weight[: len(corners)] = 4.0
    return samples, weight, inside


def _why(built: str, inside: bool, bare: bool, weight: float) -> str:
    if weight >= 4.0:
        return "corner of the building" + (", outside all shots" if bare else "")
    if inside:
        return f"under the {built}" + (", outside all shots" if bare else "")
    return f"uphill of the {built}" if weight > 1.0 else f"around the {built}"


def _words(xy: tuple[float, float], name: str | None, stations: Stations, marks: Marks) -> str:
    """A place by its name on the grid, else by its coordinates and two tapes, or from the nearest station."""
    show: Display = stations.show
    if name is not None:
        return f"{name} ({show.place(*xy)})"
    tapes = best_tapes(xy, marks)
    if tapes is not None:
        taped = " and ".join(f"{show.taped(math.dist(xy, marks[m]))} from {visible(m)}" for m in tapes)
        return f"{show.place(*xy)}, {taped}"
    away = np.hypot(*(stations.xyz[:, :2] - xy).T)
    near = int(np.argmin(away))
    nearest = visible(stations.names[near])
    text = show.place(*xy)
    if away[near] < 0.3:
        return f"{text}, at {nearest}"
    bearing = math.degrees(math.atan2(xy[1] - stations.xyz[near, 1], xy[0] - stations.xyz[near, 0]))
    side = ("+x", "+x +y", "+y", "-x +y", "-x", "-x -y", "-y", "+x -y")[round(bearing / 45) % 8]
    return f"{text}, {show.distance(float(away[near]))} from {nearest} towards {side}"


def _distance(samples: Floats, shots: Floats) -> Floats:
    """Distance of each sample to the nearest shot (m,) [m], a block at a time."""
    if len(shots) == 0:
        return np.full(len(samples), np.inf)
    block = max(1, 2_000_000 // len(shots))
    parts: list[Floats] = [
        np.hypot(s[:, None, 0] - shots[:, 0], s[:, None, 1] - shots[:, 1]).min(axis=1)
        for s in (samples[i : i + block] for i in range(0, len(samples), block))
    ]
    return np.concatenate(parts)


def _within(points: Floats, corners: Floats) -> NDArray[np.bool_]:
    """Even-odd rule, corners in either order; on the edge is either."""
    x, y = points[:, 0], points[:, 1]
    odd = np.zeros(len(points), dtype=bool)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if a[1] == b[1]:
            continue
        spans = (a[1] > y) != (b[1] > y)
        odd ^= spans & (x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0])
    return odd


def _edge_distance(points: Floats, corners: Floats) -> Floats:
    """Distance of each point to the outline [m]."""
    best = np.full(len(points), np.inf)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        side = b - a
        length = float(side @ side)
        t = np.clip((points - a) @ side / length, 0, 1) if length > 0 else np.zeros(len(points))
        best = np.minimum(best, np.hypot(*(points - a - t[:, None] * side).T))
    return best


def _outside_hull(points: Floats, shots: Floats) -> Floats:
    """How far each point lies outside the convex hull of the shots (m,) [m]; 0 inside."""
    hull = shapely.MultiPoint(shots).convex_hull
    if hull.geom_type != "Polygon":  # all on one line: no ground at all
        return np.full(len(points), np.inf)
    return np.asarray(shapely.distance(shapely.points(points), hull))
