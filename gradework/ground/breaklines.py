"""Breaklines laid on the whole-number grid: which stations they pass, where they cross, how high there.

A breakline runs straight from station to station, and the ground may break along it: no triangle reaches
across. Where two of them cross without a station, the surface gets a vertex there, as high as the weighted
mean of both; lines that contradict each other there are refused.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError, Faults, visible
from gradework.ground.triangulation import GridPlaces, interleaved, side_keys
from gradework.survey.stations import Stations, number_of, numbered

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

ON_LINE = 0.003048
"""[m] 0.01 ft: a station this close to a breakline stands on it; no stake is set closer (judgement)."""

SHOT_SD = 0.003048
"""[m] 0.01 ft: standard error of a shot that has none of its own, a rod's hundredth (common practice)."""

APART_MOST = 3.0
"""Two lines agree where they cross when they differ by at most so many standard errors."""

_ROUNDS = 40
"""Each round adds all crossings of the last; lines that still cross then are tangled."""


class LaidLine(NamedTuple):
    """A breakline in the surface: its ``name``, and the ``vertices`` (k,) it runs along, in its order."""

    name: str
    vertices: Numbers


class Broken(NamedTuple):
    """Stations and the crossings of breaklines after them.

    ``places`` of all; ``z`` (m,) [m] their elevations; ``edges`` (e, 2) their numbers at the ends of each
    side that a breakline runs along; ``lines`` the same line by line.
    """

    places: GridPlaces
    z: Floats
    edges: Numbers
    lines: tuple[LaidLine, ...]


def lay_breaklines(stations: Stations, places: GridPlaces) -> Broken:
    """Node the breaklines of ``stations`` on the grid of their ``places``.

    Each passes every station within 3 mm of it. Raises ``InputError``: `breakline-unknown-station`,
    `breaklines-disagree` for two lines that cross more than three standard errors apart in height, and
    `breaklines-tangled` for lines that cross near one place so often that the grid cannot part them.
    """
    work = _Work(stations, places)
    if not work.paths:
        return Broken(places, stations.xyz[:, 2], np.empty((0, 2), dtype=np.int64), ())
    for _ in range(_ROUNDS):
        work.pass_stations()
        work.refuse_tangled()
        if not work.add_crossings():
            return work.laid(places)
    raise CheckError("breaklines cross each other again and again")


class _Work:
    """Nodes so far (stations, then crossings) and the path of each line through them."""

    def __init__(self, stations: Stations, places: GridPlaces) -> None:
        self.stations = stations
        self.count = len(stations)
        self.whole, self.local, self.quantum = places.whole, places.local, places.quantum
        self.origin = places.origin
        # what `lay_grid` took off, so that a crossing is rounded onto the same grid
        self.least = np.rint(places.local[0] / places.quantum).astype(np.int64) - places.whole[0]
        self.z = np.array(stations.xyz[:, 2])
        known = np.isfinite(stations.sd) & (stations.sd > 0.0)
        self.variance = np.where(known, stations.sd, SHOT_SD) ** 2
        self.paths = _paths(stations)
        self.told = [len(path) - 1 for _, path in self.paths]
        self.made: dict[int, tuple[int, int]] = {}

    def refuse_tangled(self) -> None:
        """Refuse lines that pass the same nodes again and again, or nodes that share a place of the grid.

        A line passes each node once at most between two of the stations that it was told to pass.
        """
        twisted = [
            name
            for (name, path), told in zip(self.paths, self.told, strict=True)
            if len(path) - 1 > told * (len(self.z) - 1)
        ]
        _, first, times = np.unique(self.whole, axis=0, return_index=True, return_counts=True)
        twice = first[times > 1]
        if not twisted and not len(twice):
            return
        node = int(twice[0]) if len(twice) else len(self.z) - 1
        through = twisted or [name for name, path in self.paths if node in path]
        faults, show = Faults(self.stations.file), self.stations.show
        place = show.place(*(self.local[node] + self.origin).tolist())
        faults.halt("breaklines-tangled", place=place, lines=", ".join(map(visible, through)))

    def pass_stations(self) -> None:
        """Lead each path through the nodes that stand on it."""
        order = np.argsort(self.whole[:, 0], kind="stable")
        across = self.whole[order, 0]
        for _, path in self.paths:
            passed = [path[0]]
            for start, end in pairwise(path):
                passed += [*self._between(start, end, order, across), end]
            path[:] = passed

    def _between(self, start: int, end: int, order: Numbers, across: Numbers) -> list[int]:
        near = ON_LINE / self.quantum
        low, high = sorted((int(self.whole[start, 0]), int(self.whole[end, 0])))
        some = order[np.searchsorted(across, low - near) : np.searchsorted(across, high + near, "right")]
        some = some[(some != start) & (some != end)]
        side, arm = self.whole[end] - self.whole[start], self.whole[some] - self.whole[start]
        along = (arm @ side).astype(np.float64)
        off = np.abs(side[0] * arm[:, 1] - side[1] * arm[:, 0])
        length = float(np.hypot(*side))
        on = (along > 0) & (along < length**2) & (off <= near * length)
        found: list[int] = some[on][np.argsort(along[on], kind="stable")].tolist()
        for node in found:
            if node >= self.count and (start, end) != self.made[node]:
                self._refuse_apart((start, end), self.made[node], self.local[node])
        return found

    def add_crossings(self) -> bool:
        """Add a node where two sides cross; say whether there was any."""
        sides = np.array([pair for _, path in self.paths for pair in pairwise(path)], dtype=np.int64)
        pairs = _crossing(self.whole, sides)
        if not pairs:
            return False
        found: dict[tuple[int, int], list[tuple[tuple[int, int], tuple[int, int], Floats]]] = {}
        for i, j in pairs:
            one, other = (tuple(sides[k].tolist()) for k in (i, j))
            at = self._where(one, other)
            whole = np.rint(at / self.quantum).astype(np.int64) - self.least
            found.setdefault((int(whole[0]), int(whole[1])), []).append((one, other, at))
        faults = Faults(self.stations.file)
        for crossed in found.values():
            for one, other, at in crossed:
                self._refuse_apart(one, other, at, faults)
        faults.raise_if_any()
        for place, crossed in sorted(found.items()):
            self._add(place, crossed)
        return True

    def _add(
        self, place: tuple[int, int], crossed: list[tuple[tuple[int, int], tuple[int, int], Floats]]
    ) -> None:
        _, _, at = crossed[0]
        sides = sorted({side for one, other, _ in crossed for side in (one, other)})
        levels = [self._level(side, at) for side in sides]
        weight = np.array([1.0 / variance for _, variance in levels])
        self.made[len(self.z)] = sides[0]
        self.whole = np.vstack((self.whole, place))
        self.local = np.vstack((self.local, at))
        self.z = np.append(self.z, weight @ np.array([z for z, _ in levels]) / weight.sum())
        self.variance = np.append(self.variance, 1.0 / weight.sum())

    def _where(self, one: tuple[int, int], other: tuple[int, int]) -> Floats:
        a, b, c, d = self.local[[*one, *other]]
        p, q, r = b - a, d - c, c - a
        base = p[0] * q[1] - p[1] * q[0]
        share = 0.5 if base == 0 else float(np.clip((r[0] * q[1] - r[1] * q[0]) / base, 0.0, 1.0))
        at: Floats = a + share * p
        return at

    def _level(self, side: tuple[int, int], at: Floats) -> tuple[float, float]:
        """Elevation [m] and its variance [m²] of a line between two nodes, at a place on it."""
        start, end = side
        arm = self.local[end] - self.local[start]
        share = float(np.clip((at - self.local[start]) @ arm / (arm @ arm), 0.0, 1.0))
        level = (1.0 - share) * self.z[start] + share * self.z[end]
        spread = (1.0 - share) ** 2 * self.variance[start] + share**2 * self.variance[end]
        return float(level), float(spread)

    def _refuse_apart(
        self, one: tuple[int, int], other: tuple[int, int], at: Floats, faults: Faults | None = None
    ) -> None:
        (first, spread), (second, more) = self._level(one, at), self._level(other, at)
        most = APART_MOST * float(np.sqrt(spread + more))
        if abs(first - second) <= most:
            return
        show = self.stations.show
        held = faults or Faults(self.stations.file)
        a, b, c, d = self._named(one, other)
        held.note(
            "breaklines-disagree",
            a=a,
            b=b,
            c=c,
            d=d,
            place=show.place(*(at + self.origin).tolist()),
            first=show.elevation(first),
            second=show.elevation(second),
            apart=show.length(abs(first - second)),
            most=show.length(most),
        )
        if faults is None:
            held.raise_if_any()

    def _named(self, one: tuple[int, int], other: tuple[int, int]) -> list[str]:
        """The stations at the ends of two sides; of a crossing, the next station along that line."""
        named = []
        for start, end in (one, other):
            for node, step in ((start, -1), (end, 1)):
                here = node
                for _, path in self.paths:
                    places = [k for k in range(len(path) - 1) if (path[k], path[k + 1]) == (start, end)]
                    if places:
                        k = places[0] + (step > 0)
                        while path[k] >= self.count:
                            k += step
                        here = path[k]
                if here >= self.count:  # of a side that was parted since: the nearest station
                    away = np.hypot(*(self.local[: self.count] - self.local[here]).T)
                    here = int(away.argmin())
                named.append(visible(self.stations.names[here]))
        return named

    def laid(self, places: GridPlaces) -> Broken:
        """What the triangulation takes."""
        pairs = np.array([pair for _, path in self.paths for pair in pairwise(path)], dtype=np.int64)
        edges = pairs[np.unique(side_keys(*pairs.T), return_index=True)[1]]
        if len(self.z) > self.count:
            order = np.argsort(interleaved(self.whole))
            places = places._replace(whole=self.whole, local=self.local, order=order)
        lines = tuple(LaidLine(name, _locked(np.array(path, dtype=np.int64))) for name, path in self.paths)
        return Broken(places, self.z, edges, lines)


def _locked(values: Numbers) -> Numbers:
    values.setflags(write=False)
    return values


def _paths(stations: Stations) -> list[tuple[str, list[int]]]:
    """The stations of each line by their numbers, none twice in a row; lines of one station are left out."""
    if not stations.breaklines:
        return []
    known = numbered(stations.names)
    faults = Faults(stations.file)
    paths: list[tuple[str, list[int]]] = []
    for line in stations.breaklines:
        path: list[int] = []
        for name in line.stations:
            at = number_of(name, known)
            if at is None:
                faults.note(
                    "breakline-unknown-station", line=0, name=visible(name), breakline=visible(line.name)
                )
            elif not path or path[-1] != at:
                path.append(at)
        if len(path) > 1:
            paths.append((line.name, path))
    faults.raise_if_any()
    return paths


def _crossing(whole: Numbers, sides: Numbers) -> list[tuple[int, int]]:
    """Pairs of sides (s, 2) that cross between their ends, exactly on the whole numbers."""
    start, end = whole[sides[:, 0]], whole[sides[:, 1]]
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.argsort(low[:, 0], kind="stable")
    left = low[order, 0]
    found: list[tuple[int, int]] = []
    for rank, i in enumerate(order.tolist()):
        some = order[rank + 1 : np.searchsorted(left, high[i, 0], "right")]
        some = some[(low[some, 1] <= high[i, 1]) & (high[some, 1] >= low[i, 1])]
        some = some[~np.isin(sides[some], sides[i]).any(axis=1)]
        if not len(some):
            continue
        mine = np.sign(_turn(start[i], end[i], start[some])) * np.sign(_turn(start[i], end[i], end[some]))
        theirs = np.sign(_turn(start[some], end[some], start[i])) * np.sign(
            _turn(start[some], end[some], end[i])
        )
        found += [(i, j) for j in some[(mine < 0) & (theirs < 0)].tolist()]
    return found


def _turn(a: Numbers, b: Numbers, c: Numbers) -> Numbers:
    u, v = b - a, c - a
    turn: Numbers = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    return turn
