"""The ground of a yard once more, from its notes alone: scipy's triangles, shapely's cuts, looks in small
steps.

Extremes over a shape are exact, since straight ground has them where an edge of a triangle ends or leaves the
shape. Looks from the walls are taken every few centimetres: what they tell is good to a few millimetres."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

Floats = NDArray[np.float64]

ACROSS, OUT = 0.04, 0.04
"""[m] Looks are so far apart along a wall, and the ground is read so often on each."""

HAIR = 1e-6
PUDDLE = 0.0254
"""[m] Before a side that stands above the ground less than this holds a puddle (docs/grading.md,
judgement)."""

READING = 0.003175
"""[m] One reading, 1/8 in: what less does is not known."""

ROUNDED, ON_CIRCLE = 0.003048, 1e-6
"""[m], [rad] Four shots that are a rectangle to within 0.01 ft, or that lie on one circle, do not say how the
ground is folded between them: there it goes through the mean of both diagonals where they cross
(docs/conventions.md)."""

GRID = 1e-6
"""[m] Whole micrometres decide who is joined to whom in a yard: each side may be turned by twice that over
its length."""

BESIDE_A_BAR = 0.3048
"""[m] Nobody reads a rod nearer to a wall or a fence: there a look ends (docs/neighbours.md)."""


class Ground:
    """The surveyed ground: heights at places, extremes over shapes, [m]."""

    def __init__(self, notes: str, per: float) -> None:
        rows = [row for row in csv.DictReader(io.StringIO(notes)) if row["station"]]
        shots = per * np.array([[float(row[key]) for key in ("x", "y", "elevation")] for row in rows])
        self._mesh = Delaunay(shots[:, :2])
        self._at = LinearNDInterpolator(self._mesh, shots[:, 2])
        self._folds, sides = {}, set[tuple[tuple[float, float], ...]]()
        for k, (corners, beyond) in enumerate(zip(self._mesh.simplices, self._mesh.neighbors, strict=True)):
            pairs = [sorted((k, int(other))) for other in beyond if other >= 0]
            fold = next(filter(None, (_fold(shots, self._mesh, *pair) for pair in pairs)), None)
            ends = [corners[list(pair)] for pair in ((0, 1), (1, 2), (2, 0))]
            lines = [shots[pair, :2] for pair in ends]
            if fold is not None:
                self._folds[k] = fold
                across = fold.corners[:2, :2], fold.corners[2:, :2]
                lines = [one for one in lines if not any(_same(one, diagonal) for diagonal in across)]
                lines += [np.stack((fold.middle[:2], corner)) for corner in fold.corners[:, :2]]
            sides |= {tuple(sorted(tuple(end) for end in line.tolist())) for line in lines}
        self.edges = shapely.multilinestrings(shapely.linestrings(np.array(sorted(sides))))

    def at(self, places: Any) -> Floats:
        """Heights at places (n, 2); NaN beyond the survey."""
        places = np.asarray(places, dtype=np.float64).reshape(-1, 2)
        heights: Floats = self._at(places)
        if self._folds:
            for k, number in enumerate(self._mesh.find_simplex(places).tolist()):
                if number in self._folds:
                    heights[k] = self._folds[number].at(places[k])
        return heights

    def bends(self, shape: Any) -> Floats:
        """Where an extreme over a shape may lie (n, 2): its corners, and where edges end in it or leave
        it."""
        met = shapely.get_coordinates(shapely.intersection(self.edges, shape))
        return np.concatenate((shapely.get_coordinates(shape), met))

    def low_high(self, shape: Any) -> tuple[float, float]:
        """The lowest and the highest ground over a shape; NaN where none of it was surveyed."""
        heights = self.at(self.bends(shape))
        return float(np.nanmin(heights)), float(np.nanmax(heights))


class _Fold(NamedTuple):
    """Four shots on one circle: ``middle`` (3,), where the diagonals cross, and ``corners`` (4, 3): both ends
    of the one, then of the other."""

    middle: Floats
    corners: Floats

    def at(self, place: Floats) -> float:
        """The height at a place (2,): straight from the middle to each side."""
        spokes = self.corners - self.middle
        shares = np.linalg.solve(spokes[[0, 2], :2].T, place - self.middle[:2])
        height = float(self.middle[2])
        for share, (ahead, back) in zip(shares, (spokes[:2], spokes[2:]), strict=True):
            spoke = ahead if share >= 0.0 else back * (np.hypot(*ahead[:2]) / np.hypot(*back[:2]))
            height += abs(float(share)) * float(spoke[2])
        return height


def _fold(shots: Floats, mesh: Any, one: int, other: int) -> _Fold | None:
    """How two triangles beside each other are folded where their four shots lie on one circle; else None."""
    a, c = sorted(set(mesh.simplices[one]) & set(mesh.simplices[other]))
    b, d = (next(iter(set(mesh.simplices[k]) - {a, c})) for k in (one, other))
    corners = shots[[a, c, b, d]]
    (xa, xc, xb, xd), root = corners[:, :2], math.sqrt(2.0)
    unequal = abs(np.hypot(*(xa - xc)) - np.hypot(*(xb - xd)))
    square = np.hypot(*(xa + xc - xb - xd)) / 2.0 <= root * ROUNDED and unequal <= 2.0 * root * ROUNDED
    ring = (xa, xb, xc, xd, xa)
    turned = sum(2.0 * GRID / float(np.hypot(*(p - q))) for p, q in pairwise(ring))
    if not square and abs(_angle(xa, xb, xc) + _angle(xa, xd, xc) - math.pi) > ON_CIRCLE + turned:
        return None
    s, t = np.linalg.solve(np.column_stack((xc - xa, xb - xd)), xb - xa)
    first, second = corners[0] + s * (corners[1] - corners[0]), corners[2] + t * (corners[3] - corners[2])
    return _Fold(0.5 * (first + second), corners)


def _angle(one: Floats, corner: Floats, other: Floats) -> float:
    (x0, y0), (x1, y1) = one - corner, other - corner
    return abs(math.atan2(x0 * y1 - y0 * x1, x0 * x1 + y0 * y1))


def _same(one: Floats, other: Floats) -> bool:
    return bool(np.array_equal(one, other) or np.array_equal(one, other[::-1]))


class Swale(NamedTuple):
    """A swale as the record tells it: its line (n, 3), and from which level its bench falls [m].

    ``filled``: the bench is filled up to where the ground lies lower, as beside a pipe drain."""

    line: Floats
    bench: float
    filled: bool = False

    def met(self, start: Floats, out: Floats, reach: float) -> tuple[float, float] | None:
        """How far out a look crosses it and how high its bottom is there; None where it does not."""
        end = start + reach * out
        for (x0, y0, z0), (x1, y1, z1) in zip(self.line[:-1], self.line[1:], strict=True):
            run, way = np.array([x1 - x0, y1 - y0]), end - start
            turn = way[0] * run[1] - way[1] * run[0]
            if abs(turn) < 1e-12:
                continue
            off = np.array([x0, y0]) - start
            t, s = (off[0] * run[1] - off[1] * run[0]) / turn, (off[0] * way[1] - off[1] * way[0]) / turn
            if 0.0 <= t <= 1.0 and -HAIR <= s <= 1.0 + HAIR:  # a look may meet a bend of it
                return float(t * reach), float(z0 + s * (z1 - z0))
        return None


class Built(NamedTuple):
    """What is built level round a building: its top [m] and how far it reaches beyond the walls, its side
    slopes (run per rise; None for boards), the swales beside it; ``heaps``: by the number of a wall how high
    soil is heaped before it that falls to the flat ground [m]."""

    top: float
    margin: float
    batter: float | None = None
    swales: tuple[Swale, ...] = ()
    heaps: Mapping[int, float] = {}


class Look(NamedTuple):
    """What comes of one wall: the least that the fall has to spare over what is asked, the most that ground
    rises over the edge [m], whether all of it was surveyed, whether a swale or a bar ends some look, and how
    sure it is that a puddle stands at the edge, or none [m]."""

    spare: float
    fall: float
    rise: float
    known: bool
    led: bool
    barred: bool
    puddle: float = math.inf

    @property
    def holds(self) -> bool | None:
        """Whether water runs off as asked; None where the survey ends first and nothing known is wrong."""
        if self.rise > READING or self.spare < -READING:
            return False
        return True if self.known else None

    @property
    def doubt(self) -> float:
        """How near the verdict is to the other one [m]."""
        return min(abs(self.rise - READING), abs(self.spare + READING), self.puddle)


def look_from(
    ground: Ground,
    wall: tuple[Floats, Floats],
    built: Built,
    reach: float,
    fall: float,
    bars: Any,
    heap: float | None = None,
) -> Look:
    """Look out square to one wall (its two corners, anticlockwise) over ``reach`` [m], for ``fall`` [-]; soil
    is heaped at the edge before it up to ``heap`` [m]: it falls as much as is asked for in what is left."""
    start, end = wall
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    out = np.array([along[1], -along[0]])
    across = np.linspace(HAIR, length - HAIR, max(8, math.ceil(length / ACROSS)))
    places = start + across[:, None] * along
    # a line is told from the edge: it may run beyond the reach, what is dug and heaped before it does not
    crossed = [_crossed(ground, place, out, built, reach + built.margin) for place in places]
    sights = []
    for stop, met in zip(_stops(places, out, reach, bars), crossed, strict=True):
        led = met is not None and met.far < stop
        barred = not led and stop < reach
        far = min(met.far if met is not None and led else stop, reach)
        sights.append(_Sight(far, fall * (reach if barred else far), met if led else None, barred))
    # one question for all heights: asking is slow, answering is not
    outs = [
        np.linspace(built.margin + HAIR, one.far - HAIR, max(4, math.ceil(one.far / OUT))) for one in sights
    ]
    asked = [place + t[:, None] * out for place, t in zip(places, outs, strict=True)]
    known = np.split(ground.at(np.concatenate(asked)), np.cumsum([len(t) for t in outs])[:-1])
    rays = []
    for number, (sight, t, heights) in enumerate(zip(sights, outs, known, strict=True)):
        if sight.far > built.margin + HAIR:
            beside = _beside(across, crossed, number)
            shaped = _shaped(heights, t, built, fall, sight.met, beside)
            if heap is not None:
                plane = heap - fall * reach / (reach - built.margin) * (t - built.margin)
                shaped = np.where(np.isfinite(shaped), np.fmax(shaped, plane), shaped)
            rays.append(_Ray(shaped, sight.needed, sight.met is not None, sight.barred))
    return _judged(rays, built, fall * reach)


class _Sight(NamedTuple):
    """One look: how far it goes, the fall that is asked for [m], the swale that ends it, whether a bar
    does."""

    far: float
    needed: float
    met: _Met | None
    barred: bool


def _beside(across: Floats, crossed: list[_Met | None], number: int) -> tuple[float, _Met] | None:
    """The nearest look that crosses a swale, and how far off it is; None for one that crosses it itself."""
    if crossed[number] is not None:
        return None
    others = [(abs(float(u - across[number])), one) for u, one in zip(across, crossed, strict=True) if one]
    return min(others, key=lambda one: one[0], default=None)


class _Ray(NamedTuple):
    heights: Floats
    needed: float
    led: bool
    barred: bool


def _judged(rays: list[_Ray], built: Built, whole: float) -> Look:
    """Put all looks from one wall together."""
    if not rays:  # what is built reaches as far as the rule looks: nothing falls
        return Look(-whole, 0.0, 0.0, known=True, led=False, barred=False)
    bases = [min(ray.heights[0], built.top) for ray in rays]
    rises = [
        float(np.nanmax(ray.heights, initial=-np.inf)) - base for ray, base in zip(rays, bases, strict=True)
    ]
    # before the end of a bench its face is told by the nearest look that crosses it
    puddle = abs(max(rises, default=0.0) - PUDDLE) - (ACROSS / 3.0 if any(ray.led for ray in rays) else 0.0)
    if max(rises, default=0.0) <= PUDDLE:  # only where nothing drains to it does the edge left showing count
        bases = [built.top if math.isfinite(ray.heights[0]) else math.nan for ray in rays]
        rises = [
            float(np.nanmax(ray.heights, initial=-np.inf)) - base
            for ray, base in zip(rays, bases, strict=True)
        ]
    falls = [base - ray.heights[-1] for ray, base in zip(rays, bases, strict=True)]
    spares = [one - ray.needed for one, ray in zip(falls, rays, strict=True)]
    sure = [k for k, spare in enumerate(spares) if math.isfinite(spare)]
    worst = min(sure, key=lambda k: spares[k], default=None)
    return Look(
        spare=math.inf if worst is None else spares[worst],
        fall=math.nan if worst is None else falls[worst],
        rise=max((rise for rise in rises if math.isfinite(rise)), default=0.0),
        known=all(np.isfinite(ray.heights).all() for ray in rays),
        led=any(ray.led for ray in rays),
        barred=any(ray.barred for ray in rays),
        puddle=max(puddle, 0.0),
    )


class _Met(NamedTuple):
    """A swale that a look crosses: how far out, the height of its bottom, the level that its bench falls
    from."""

    far: float
    bottom: float
    bench: float

    def near(self, t: Floats, margin: float, fall: float) -> Floats:
        """Bench and inner side at ``t`` [m] from the wall."""
        shape: Floats = np.minimum(self.bench - fall * (t - margin), self.bottom + (self.far - t) / 3.0)
        return shape


def _crossed(ground: Ground, place: Floats, out: Floats, built: Built, reach: float) -> _Met | None:
    """The nearest swale on a look, where it is dug: where its bottom lies below the ground."""
    found = []
    for one in built.swales:
        hit = one.met(place, out, reach)
        if hit is not None and (one.filled or ground.at(place + hit[0] * out)[0] >= hit[1] - 1e-4):
            found.append(_Met(*hit, one.bench))
    return min(found, default=None)


def _shaped(
    ground: Floats, t: Floats, built: Built, fall: float, met: _Met | None, beside: tuple[float, _Met] | None
) -> Floats:
    """The finished ground on one look, ``t`` [m] from the wall.

    ``met`` is the swale that ends it; ``beside`` one that ends so far before it: the fill of its bench ends
    in a face laid back 3:1.
    """
    heights = ground
    if built.batter:
        slope = (t - built.margin) / built.batter
        heights = np.clip(heights, built.top - slope, built.top + slope)
    if met is not None:  # bench and inner side, dug or filled
        return met.near(t, built.margin, fall)
    if beside is not None:
        off, other = beside
        mound = other.near(t, built.margin, fall) - off / 3.0
        return np.where(t < other.far, np.fmax(heights, mound), heights)
    return heights


def _stops(places: Floats, out: Floats, reach: float, bars: Any) -> list[float]:
    """How far out each look goes: to a foot before a wall or a fence, to the bar itself from nearer by."""
    if bars is None or bars.is_empty:
        return [math.inf] * len(places)
    looks = shapely.linestrings(np.stack([places, places + reach * out], axis=1))
    before = bars.buffer(BESIDE_A_BAR, cap_style="flat", join_style="mitre").boundary
    met = [
        shapely.distance(shapely.points(places), shapely.intersection(looks, one)) for one in (bars, before)
    ]
    nearest: list[float] = np.fmin(
        np.nan_to_num(met[0], nan=np.inf), np.nan_to_num(met[1], nan=np.inf)
    ).tolist()
    return nearest
