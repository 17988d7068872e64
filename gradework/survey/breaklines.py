"""Breaklines on the stations: which they pass, which pairs of shots they part, how the ground creases there.

What the builder told is taken as it stands: nothing looks for breaks that nobody told.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, Finding, finding, visible
from gradework.survey.duplicates import SAME_ELEVATION, SAME_PLACE
from gradework.survey.stations import Breakline, Stations, name_key, number_of, numbered

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.columns import BreaklinePoint

    Floats = NDArray[np.float64]
    Truths = NDArray[np.bool_]


def with_breaklines(
    stations: Stations,
    points: Sequence[BreaklinePoint],
    file: str = "",
    *,
    kept: Mapping[str, str] | None = None,
) -> Stations:
    """Stations with the breaklines that run through ``points``, in their order; shots of their own are added.

    ``file``: where the points were written, for faults; ``kept``: by the names of shots that were merged, as
    ``name_key`` gives them, the station that stands for each. Lines are told apart by name, without regard to
    capitals. A shot of its own in the place of a station is that station. Raises ``InputError``:
    `breakline-unknown-station`. A line of a single point gets a warning (`breakline-short`).
    """
    if not points:
        return stations
    faults = Faults(file or stations.file)
    known = numbered(stations.names)
    added: dict[str, BreaklinePoint] = {}
    lines: dict[str, tuple[str, list[str]]] = {}
    for told in points:
        point = _where_known(told, stations, known, kept or {}, added.values())
        key, number = name_key(point.station), number_of(point.station, known)
        if point.at is None and number is None and key not in added:
            faults.note(
                "breakline-unknown-station",
                line=point.row,
                breakline=visible(point.line),
                name=visible(point.station),
            )
            continue
        if point.at is not None:
            shot = added.setdefault(key, point).at if number is None else stations.xyz[number]
            if not _same(point.at, shot):
                faults.note(
                    "breakline-unknown-station",
                    variant="two",
                    line=point.row,
                    breakline=visible(point.line),
                    name=visible(point.station),
                )
        lines.setdefault(name_key(point.line), (point.line, []))[1].append(point.station)
    faults.raise_if_any()
    found = tuple(Breakline(name, tuple(passed)) for name, passed in lines.values())
    stations = _with_shots(stations, added.values())
    known = numbered(stations.names)
    short = [_short(line) for line in found if len({number_of(name, known) for name in line.stations}) < 2]
    return replace(stations, breaklines=found, findings=(*stations.findings, *short))


def _where_known(
    point: BreaklinePoint,
    stations: Stations,
    known: Mapping[str, int],
    kept: Mapping[str, str],
    added: Collection[BreaklinePoint],
) -> BreaklinePoint:
    """The point by the name of the station that stands for it: its shot was merged, or one stands there."""
    if number_of(point.station, known) is not None or point.station in {one.station for one in added}:
        return point
    name = kept.get(name_key(point.station))
    if name is None and point.at is not None:
        own = [(one.station, one.at) for one in added if one.at is not None]
        places = np.vstack((stations.xyz, *(at for _, at in own)))[:, :2]
        away = np.hypot(*(places - point.at[:2]).T)
        names = (*stations.names, *(station for station, _ in own))
        name = names[int(away.argmin())] if away.min() <= SAME_PLACE else None
    return point if name is None else point._replace(station=name)


def _same(at: tuple[float, float, float], known: Iterable[float] | None) -> bool:
    apart = np.abs(np.subtract(at, np.asarray(known, dtype=np.float64)))
    return bool(apart[:2].max() <= SAME_PLACE and apart[2] <= SAME_ELEVATION)


def _short(line: Breakline) -> Finding:
    name = visible(line.name)
    return finding("breakline-short", "warning", name, 1.0, 2.0, name=name, station=visible(line.stations[0]))


def _with_shots(stations: Stations, added: Iterable[BreaklinePoint]) -> Stations:
    """The stations, and after them shots that only the table of breaklines holds."""
    shots = [(point.station, point.at) for point in added if point.at is not None]
    if not shots:
        return stations
    names = [*stations.names, *(name for name, _ in shots)]
    xyz = np.vstack((stations.xyz, [at for _, at in shots]))
    sd = np.append(stations.sd, np.full(len(shots), np.nan))
    lines = np.append(stations.lines, np.zeros(len(shots), dtype=np.int64))
    for array in (xyz, sd, lines):
        array.setflags(write=False)
    return replace(stations, names=names, xyz=xyz, sd=sd, lines=lines)


def lines_on_plan(stations: Stations) -> list[Floats]:
    """The breaklines as places (k, 2) [m] each; those of one station are left out."""
    known = numbered(stations.names)
    paths = [
        [known.get(name, known[name_key(name)]) for name in line.stations] for line in stations.breaklines
    ]
    return [stations.xyz[path, :2] for path in paths if len(set(path)) > 1]


# Pairs of shots that a breakline parts or joins: a steep step between them is what the line was told for.


def told_steep(stations: Stations, pairs: NDArray[np.int64]) -> Truths:
    """Which ``pairs`` (m, 2) of stations a breakline accounts for (m,).

    Those that stand on lines both, as on top and toe, and those between which a line passes.
    """
    on_line = np.zeros(len(stations), dtype=bool)
    told = {name_key(name) for line in stations.breaklines for name in line.stations}
    on_line[[k for k, name in enumerate(stations.names) if name_key(name) in told]] = True
    found = np.asarray(on_line[pairs].all(axis=1), dtype=bool)
    start, end = stations.xyz[pairs[:, 0], :2], stations.xyz[pairs[:, 1], :2]
    for line in lines_on_plan(stations):
        for a, b in pairwise(line):
            apart = _turn(a, b, start) * _turn(a, b, end) < 0.0
            across = _turn(start, end, a) * _turn(start, end, b) <= 0.0
            np.logical_or(found, apart & across, out=found)
    return found


def _turn(a: Floats, b: Floats, c: Floats) -> Floats:
    u, v = b - a, c - a
    turn: Floats = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    return turn


# How the ground may crease along a line: one shape for each line, of unknown height, beside the plane.


def creases(stations: Stations, places: Floats | None = None) -> Floats:
    """The shapes (m, h) [m] of creases along the breaklines, at ``places`` (m, 2) [m] or at every station.

    Of a line that closes, how far inside it a station stands, once with straight sides and once rounded; of
    any other, how far from it. With the plane that makes a fold of any steepness along the line, and of top
    and toe together a bank, a step or a ditch.
    """
    xy = stations.xyz[:, :2]
    at = xy if places is None else places
    shapes: list[Floats] = []
    for told in lines_on_plan(stations):
        line = told[np.append(True, np.hypot(*np.diff(told, axis=0).T) > 0.0)]
        if len(line) < 2:
            continue  # all of it in one place
        if len(line) > 3 and bool((line[0] == line[-1]).all()):
            shapes += [_away(at, ring, inside=True) for ring in (line, _rounded(line))]
        else:
            first, last = _beyond(xy, line[1], line[0]), _beyond(xy, line[-2], line[-1])
            shapes.append(_away(at, np.vstack((first, line, last))))
    return np.column_stack(shapes) if shapes else np.empty((len(at), 0))


_FREE = 5
"""So many shots are left beyond the trend, whatever creases are told."""

_OWN = 1e-4
"""A crease of which less than this part is its own is one of those before it."""


def own_shapes(trend: Floats, shapes: Floats) -> tuple[Floats, tuple[int, ...]]:
    """A trend (n, k), orthonormal, with the ``shapes`` (n, h) that say something besides, as far as shots
    allow, orthonormal too; and which shapes those are."""
    kept = []
    for number, shape in enumerate(shapes.T):
        own = shape - trend @ (trend.T @ shape)
        own -= trend @ (trend.T @ own)  # once more, for what rounding left of the first
        weight = float(np.linalg.norm(own))
        if weight > _OWN * float(np.linalg.norm(shape)) and trend.shape[1] + _FREE < len(trend):
            trend = np.column_stack((trend, own / weight))
            kept.append(number)
    return trend, tuple(kept)


_AHEAD = 2.5
"""A line that ends nearer to the last shot ahead of it than so many spacings runs out of the survey."""

_ROUND = np.linspace(0.0, 1.0, 8, endpoint=False)[:, None]


def _rounded(ring: Floats) -> Floats:
    """A closed line (k, 2) bent smoothly through its corners: cubic pieces, each corner's tangent along the
    chord past it (Catmull and Rom's)."""
    a, b, c, d = (np.roll(ring[:-1], step, axis=0)[:, None] for step in (1, 0, -1, -2))
    t = _ROUND
    bent = b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))
    bent = bent.reshape(-1, 2)
    return np.vstack((bent, bent[:1]))


def _away(xy: Floats, line: Floats, *, inside: bool = False) -> Floats:
    """How far each place (n, 2) is from a line; ``inside``: how far inside it, 0 outside."""
    away = np.full(len(xy), np.inf)
    odd = np.zeros(len(xy), dtype=bool)
    for a, b in pairwise(line):
        side = b - a
        length = float(side @ side)
        if length == 0.0:
            continue
        share = np.clip((xy - a) @ side / length, 0.0, 1.0)
        away = np.minimum(away, np.hypot(*(xy - a - share[:, None] * side).T))
        if a[1] != b[1]:
            spans = (a[1] > xy[:, 1]) != (b[1] > xy[:, 1])
            odd ^= spans & (xy[:, 0] < a[0] + (xy[:, 1] - a[1]) * side[0] / side[1])
    return np.where(odd, away, 0.0) if inside else away


def _beyond(xy: Floats, before: Floats, end: Floats) -> Floats:
    """Where a line goes on to past its ``end``: nowhere in the middle of the survey, far out at its edge."""
    along = (end - before) / np.hypot(*(end - before))
    arm = xy - end
    ahead = arm @ along
    off = np.abs(along[0] * arm[:, 1] - along[1] * arm[:, 0])
    spacing = float(np.hypot(*np.ptp(xy, axis=0))) / np.sqrt(len(xy))
    farthest = float(ahead[off < ahead].max(initial=0.0))
    reach = float(np.hypot(*np.ptp(xy, axis=0)))
    out: Floats = end + (reach if farthest < _AHEAD * spacing else 0.0) * along
    return out
