"""Which load comes down where: floor, walls, gables and roof of a small building, on rows and on piers.

The path, for rafters or trusses from eave to eave: the walls under the eaves carry their own weight and the
roof by half its span plus the eave; the gables carry themselves; each stretch of wall stands on the piers
nearest to it, so the roof comes to the outer rows and the gables to the end piers. A ridge beam takes half of
what spans to it and sets it down in the middle of the two gables. The floor goes to the rows by tributary
width. Spreading everything evenly would be wrong in both directions.

Distances are along the rows (u) and across them (v) [m], loads kilonewtons and kilopascals of plan. Two ways
agree on a rectangle, which the tests hold: ``row_loads`` from widths alone, before any pier is placed, and
``loads_on_piers`` for any outline and any places.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.foundations.timber.spans import LineLoad
from gradework.units.amounts import M_PER_FT, M_PER_IN

Floats = NDArray[np.float64]

_CLOSES = 1e-9
_FLAT = 1e-9


class AreaLoads(NamedTuple):
    """Loads per area [kPa]: of floor and roof per area of plan, of ``wall`` per area of its face.

    ``roof_live`` is the larger of the live load of the roof and the snow on it. All of them are taken to act
    at once and in full (D + L + S): published combinations take three quarters of two live loads together.
    """

    floor_live: float
    floor_dead: float
    roof_live: float
    roof_dead: float
    wall: float

    @property
    def floor(self) -> float:
        """Give floor live and dead [kPa]."""
        return self.floor_live + self.floor_dead

    @property
    def roof(self) -> float:
        """Give roof live and dead [kPa]."""
        return self.roof_live + self.roof_dead


class Shell(NamedTuple):
    """Walls and roof: ``wall_height`` and ``overhang`` of the eaves [m], ``pitch`` rise over run [-].

    ``roof`` is "rafters" (or trusses) from eave to eave, or "ridge beam". ``ridge_along`` says that the ridge
    runs along the rows, so that the eaves are over the outer ones.
    """

    wall_height: float = 8.0 * M_PER_FT
    overhang: float = 12.0 * M_PER_IN
    roof: Literal["rafters", "ridge beam"] = "rafters"
    ridge_along: bool = True
    pitch: float = 4.0 / 12.0


class RowLoads(NamedTuple):
    """What a rectangular building puts on its rows, (r,) each: ``along`` [kN/m], ``ends`` [kN] at both.

    ``side`` [kN/m] is the part of the outer rows that comes down through the walls beside them.
    """

    along: tuple[LineLoad, ...]
    ends: tuple[float, ...]
    side: float


def row_loads(length: float, width: float, rows: Sequence[float], loads: AreaLoads, shell: Shell) -> RowLoads:
    """Share the load of a building, ``length`` along and ``width`` across, among ``rows`` [m across].

    Raises ``CheckError`` when the shares do not close with floor, roof, walls and gables.
    """
    middles = [0.5 * (a + b) for a, b in pairwise(rows)]
    edges = [0.0, *middles, width]
    shares = [b - a for a, b in pairwise(edges)]
    span, bearing = (width, length) if shell.ridge_along else (length, width)
    over, ridge = _roof_of(span, shell)
    eave = loads.wall * shell.wall_height + over * loads.roof
    gable = loads.wall * (shell.wall_height + _gable_rise(span, shell))
    sides, ends = (eave, gable) if shell.ridge_along else (gable, eave)
    live = over * loads.roof_live if shell.ridge_along else 0.0
    along = [LineLoad(share * loads.floor, share * loads.floor_live) for share in shares]
    at_ends = [ends * share for share in shares]
    post = ridge * loads.roof * bearing / 2.0
    for row in (0, len(rows) - 1):  # one row alone carries both sides
        along[row] = LineLoad(along[row].total + sides, along[row].live + live)
    if shell.ridge_along:
        at_ends = [end + post * part for end, part in zip(at_ends, _beside(rows, width / 2.0), strict=True)]
    found = RowLoads(tuple(along), tuple(at_ends), sides)
    posts = 0.0 if shell.ridge_along else 2.0 * post  # right on a pier, not along a row nor at its end
    total = sum(load.total for load in along) * length + 2.0 * sum(at_ends) + posts
    whole = loads.floor * length * width + loads.roof * bearing * (span + 2.0 * shell.overhang)
    whole += loads.wall * (2.0 * (length + width) * shell.wall_height + 2.0 * span * _gable_rise(span, shell))
    _close(total, whole)
    return found


def _roof_of(span: float, shell: Shell) -> tuple[float, float]:
    """Give the widths of roof [m] that come down on each eave wall and, with a ridge beam, on the ridge."""
    half = span / 2.0
    return (half + shell.overhang, 0.0) if shell.roof == "rafters" else (half / 2.0 + shell.overhang, half)


def _gable_rise(span: float, shell: Shell) -> float:
    """Give how much higher a gable is than the wall under an eave, on average [m]: half of its rise."""
    return shell.pitch * span / 4.0


def _beside(rows: Sequence[float], place: float) -> list[float]:
    """Share what stands at ``place`` [m across] among the nearest rows, equally where they are as near."""
    away = [abs(row - place) for row in rows]
    near = [distance < min(away) + 1e-6 for distance in away]
    return [one / sum(near) for one in near]


def _close(total: float, whole: float) -> None:
    if abs(total - whole) > _CLOSES * abs(whole):
        raise CheckError(f"the loads come down as {total} kN, the building brings {whole} kN")


class PierLoading(NamedTuple):
    """What comes down on each pier (n,) [kN]: ``spread`` along its skid, ``live`` of that, and ``ends``: the
    walls across the rows, and the posts of a ridge beam, which have to stand right on a pier."""

    spread: Floats
    live: Floats
    ends: Floats

    @property
    def total(self) -> Floats:
        """Give all that a pier carries (n,) [kN]."""
        return self.spread + self.ends


class _Piece(NamedTuple):
    """A straight stretch of wall, and the load on it [kN]: all, live; whether it stands across the rows."""

    start: tuple[float, float]
    end: tuple[float, float]
    load: float
    live: float
    across: bool


def loads_on_piers(
    rings: Sequence[Floats], places: Floats, floor: Floats, loads: AreaLoads, shell: Shell
) -> PierLoading:
    """Share the load of a building among piers at ``places`` (n, 2) [m: along, across].

    ``rings`` (k, 2) are its outside and its holes; ``floor`` (n,) [m²] is the floor that each pier carries.
    Each stretch of wall stands on the pier nearest to it, with the roof that bears on it. Raises
    ``CheckError`` when the shares do not close with floor, roof, walls and gables.
    """
    count = len(places)
    spread, live, ends = floor * loads.floor, floor * loads.floor_live, np.zeros(count)
    for piece in _pieces(rings, loads, shell):
        if not piece.across:
            for pier, part in _nearest(piece, places):
                spread[pier] += part * piece.load
                live[pier] += part * piece.live
    for pier, _, load in walls_across(rings, places, loads, shell):
        ends[pier] += load
    post = sum(_ridge_shares(rings, shell)) * loads.roof / 2.0
    for at in ridge_posts(rings, shell):
        ends = ends + np.array(_beside(np.hypot(*(places - at).T).tolist(), 0.0)) * post
    found = PierLoading(spread, live, ends)
    _close(float(found.total.sum()), _whole(rings, float(floor.sum()), loads, shell))
    for array in found:
        array.setflags(write=False)
    return found


def walls_across(
    rings: Sequence[Floats], places: Floats, loads: AreaLoads, shell: Shell
) -> Iterator[tuple[int, float, float]]:
    """Give each stretch of wall across the rows: its pier, where it stands [m along], its load [kN]."""
    for piece in _pieces(rings, loads, shell):
        if piece.across:
            for pier, part in _nearest(piece, places):
                yield pier, piece.start[0], part * piece.load


def ridge_posts(rings: Sequence[Floats], shell: Shell) -> tuple[Floats, ...]:
    """Give where the posts of a ridge beam stand (2,) [m: along, across]: in the middle of the two gables."""
    if shell.roof != "ridge beam":
        return ()
    corners = np.vstack(rings)
    low, high = corners.min(axis=0), corners.max(axis=0)
    along, across = (low + high) / 2.0
    if shell.ridge_along:
        return np.array([low[0], across]), np.array([high[0], across])
    return np.array([along, low[1]]), np.array([along, high[1]])


def ridge_misses(rings: Sequence[Floats], places: Floats, shell: Shell) -> list[float]:
    """Give how far each post of a ridge beam stands beside the nearest of the ``places`` (n, 2) [m].

    Square to the ridge only: how far wall and post stand beyond the last pier of a row is another check.
    """
    side = 1 if shell.ridge_along else 0
    return [
        float(np.abs(places[np.hypot(*(places - at).T).argmin()] - at)[side])
        for at in ridge_posts(rings, shell)
    ]


def _whole(rings: Sequence[Floats], area: float, loads: AreaLoads, shell: Shell) -> float:
    """Add up what the building brings [kN], from its area and its sides alone."""
    sides = np.vstack([np.roll(ring, -1, axis=0) - ring for ring in rings])
    eaves, gables = np.abs(sides).sum(axis=0) if shell.ridge_along else np.abs(sides).sum(axis=0)[::-1]
    size = np.ptp(np.vstack(rings), axis=0)[1 if shell.ridge_along else 0]
    walls = np.hypot(*sides.T).sum() * shell.wall_height + gables * _gable_rise(float(size), shell)
    return (
        area * loads.floor + loads.wall * float(walls) + loads.roof * (area + float(eaves) * shell.overhang)
    )


def _ridge_shares(rings: Sequence[Floats], shell: Shell) -> Iterator[float]:
    """Give the plan of roof [m²] that a ridge beam takes: half of all between the eaves."""
    for band in _bands(rings, shell):
        _, ridge = _roof_of(band.span, shell)
        yield ridge * band.length


class _Band(NamedTuple):
    """A strip across the ridge between two walls, ``length`` along it; ``span`` is its mean width [m]."""

    length: float
    span: float
    walls: tuple[tuple[tuple[float, float], tuple[float, float]], ...]


def _bands(rings: Sequence[Floats], shell: Shell) -> Iterator[_Band]:
    """Cut the building across its ridge at every corner; between two cuts widths change evenly."""
    own = rings if shell.ridge_along else [ring[:, ::-1] for ring in rings]
    cuts = np.unique(np.concatenate([ring[:, 0] for ring in own]))
    for low, high in zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True):
        if high - low < _FLAT:
            continue
        walls = sorted(_walls_between(own, low, high), key=lambda wall: wall[0][1] + wall[1][1])
        for one, two in zip(walls[::2], walls[1::2], strict=True):
            span = (two[0][1] + two[1][1] - one[0][1] - one[1][1]) / 2.0
            yield _Band(high - low, span, (one, two))


def _walls_between(
    rings: Sequence[Floats], low: float, high: float
) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Give the stretch of each wall from ``low`` to ``high`` along the ridge."""
    for ring in rings:
        for (u, v), (x, y) in zip(ring.tolist(), np.roll(ring, -1, axis=0).tolist(), strict=True):
            if min(u, x) <= low + _FLAT and max(u, x) >= high - _FLAT:
                rise = (y - v) / (x - u)
                yield (low, v + rise * (low - u)), (high, v + rise * (high - u))


def _pieces(rings: Sequence[Floats], loads: AreaLoads, shell: Shell) -> Iterator[_Piece]:
    """Give every wall with its own weight, and what of the roof bears on it."""
    size = np.ptp(np.vstack(rings), axis=0)
    higher = _gable_rise(float(size[1 if shell.ridge_along else 0]), shell)
    for ring in rings:
        for start, end in zip(ring.tolist(), np.roll(ring, -1, axis=0).tolist(), strict=True):
            du, dv = abs(end[0] - start[0]), abs(end[1] - start[1])
            gable = dv if shell.ridge_along else du
            weight = loads.wall * (math.hypot(du, dv) * shell.wall_height + gable * higher)
            yield _Piece(tuple(start), tuple(end), weight, 0.0, du < _FLAT)
    for band in _bands(rings, shell):
        over, _ = _roof_of(band.span, shell)
        roof, live = (over * band.length * load for load in (loads.roof, loads.roof_live))
        for wall in band.walls:
            one, two = wall if shell.ridge_along else (end[::-1] for end in wall)
            yield _Piece(one, two, roof, live, abs(two[0] - one[0]) < _FLAT)


def _nearest(piece: _Piece, places: Floats) -> Iterator[tuple[int, float]]:
    """Give which piers are nearest along a stretch of wall, and each one's part of it [-].

    Along a line the squared distance to a place, less what is common to all, is a straight line; the nearest
    place is the lowest of these lines.
    """
    start, end = np.array(piece.start), np.array(piece.end)
    way = end - start
    height = ((start - places) ** 2).sum(axis=1)
    slope = 2.0 * (start - places) @ way
    here, t = int(np.lexsort((slope, height))[0]), 0.0
    while t < 1.0:
        steeper = slope < slope[here] - _FLAT
        meets = np.full(len(places), math.inf)
        meets[steeper] = (height[steeper] - height[here]) / (slope[here] - slope[steeper])
        after = float(np.clip(meets.min(initial=math.inf), t, 1.0))
        yield here, after - t
        if after >= 1.0:
            return
        first = np.flatnonzero(meets <= meets.min() + _FLAT)
        here, t = int(first[np.argmin(slope[first])]), after
