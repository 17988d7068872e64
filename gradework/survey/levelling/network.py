"""A level book with several routes: every reading adjusted at once, in place of one line after the other.

A single line that closes is shared out by the rule of the book; where more than one route leads to a point,
the routes hold each other to account, and the readings are adjusted together by weighted least squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from gradework.errors import Faults, visible

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.levels import LevelRow
    from gradework.survey.levelling.setups import Setup, Sight


# Level networks: more than one route between marks, adjusted together by weighted least squares.
#
# Observed is a rise from one point to another with its standard error; known marks stay fixed. The
# instrument of each set-up can be a point too, and a reading the rise from the ground to it, so a whole
# level book is a network.

MOST_POINTS = 3000
"""More points than this are not one yard."""

OFF_BY_CHANCE = 0.01
"""Chance that a sound network has one observation called off, over all of them together."""

INSTRUMENT = "instrument of set-up "
"""Name of the hidden point that stands for a height of instrument."""


@dataclass(frozen=True, slots=True)
class Rise:
    """An observed rise from ``start`` to ``end`` [m] (negative for a fall) and its standard error ``sd``
    [m]."""

    start: str
    end: str
    rise: float
    sd: float
    line: int = 0


@dataclass(frozen=True, slots=True)
class LevelNetwork:
    """An adjusted network of ``u`` free points and ``n`` rises; arrays read-only.

    ``elevation``, ``sd`` (u,) [m]; ``residuals`` (n,) adjusted minus observed [m]; ``standardised`` (n,) each
    residual over its own standard error (0 where nothing checks the rise); ``reference_variance`` [-], NaN
    without a surplus observation; ``surplus`` the degrees of freedom; ``worst`` the rise with the largest
    standardised residual, None without surplus.
    """

    names: tuple[str, ...]
    elevation: NDArray[np.float64]
    sd: NDArray[np.float64]
    residuals: NDArray[np.float64]
    standardised: NDArray[np.float64]
    reference_variance: float
    surplus: int
    worst: Rise | None


def adjust_network(rises: Sequence[Rise], known: Mapping[str, float], *, scale: bool = True) -> LevelNetwork:
    """Adjust observed rises onto the known elevations [m] by weighted least squares.

    ``scale`` multiplies the standard errors by the root of the reference variance, as is usual where the
    weights are only relative; without it (or without surplus) the given standard errors are believed.
    Raises InputError: a rise without a usable value or error, from a point to itself, or points that no
    chain of rises joins to a known mark. Source: Mikhail & Ackermann, Observations and Least Squares, ch. 7.
    """
    names = _free_points(rises, known)
    number = {name: i for i, name in enumerate(names)}
    sd = np.array([r.sd for r in rises], dtype=float)
    design, observed = _design(rises, known, number, sd)
    solution, cofactors, along = _solve(design, observed)
    weighted = design @ solution - observed
    residuals = weighted * sd
    surplus = len(rises) - len(names)
    variance = float(weighted @ weighted) / surplus if surplus > 0 else math.nan
    # Share of each observation that the others check: 1 - a Q a', with a its row of the weighted design.
    redundancy = np.clip(1.0 - along, 0.0, 1.0)
    checked = redundancy > 1e-9
    unit = math.sqrt(variance) if scale and surplus > 0 else 1.0
    spread = np.sqrt(redundancy, where=checked, out=np.ones_like(redundancy)) * (unit or 1.0)
    standardised = np.where(checked, weighted / spread, 0.0)
    worst = rises[int(np.argmax(np.abs(standardised)))] if surplus > 0 else None
    errors = np.asarray(unit * np.sqrt(cofactors), dtype=float)
    for array in (solution, errors, residuals, standardised):
        array.setflags(write=False)
    return LevelNetwork(names, solution, errors, residuals, standardised, variance, surplus, worst)


def off_limit(standardised: NDArray[np.float64]) -> float:
    """The standardised residual that the worst of so many sound observations passes in one set of a
    hundred."""
    checked = int(np.count_nonzero(standardised)) or 1
    return -NormalDist().inv_cdf(OFF_BY_CHANCE / (2 * checked))


def _free_points(rises: Sequence[Rise], known: Mapping[str, float]) -> tuple[str, ...]:
    """Names of the points to adjust, in the order they first appear, once all is known to be usable."""
    faults = Faults()
    for rise in rises:
        usable = math.isfinite(rise.rise) and math.isfinite(rise.sd) and rise.sd > 0
        if not usable or rise.start == rise.end:
            start, end = visible(rise.start), visible(rise.end)
            faults.note("network-rise-unusable", line=rise.line, start=start, end=end)
    names = tuple(dict.fromkeys(n for r in rises for n in (r.start, r.end) if n not in known))
    if not names or len(names) > MOST_POINTS:
        faults.halt("network-size", count=len(names), most=MOST_POINTS)
    loose = _unjoined(rises, known)
    if loose:
        faults.note("network-unjoined", names=", ".join(visible(n) for n in loose[:6]))
    faults.raise_if_any()
    return names


def _unjoined(rises: Sequence[Rise], known: Mapping[str, float]) -> list[str]:
    beside: dict[str, list[str]] = {}
    for rise in rises:
        beside.setdefault(rise.start, []).append(rise.end)
        beside.setdefault(rise.end, []).append(rise.start)
    reached = {name for name in known if name in beside}
    waiting = list(reached)
    while waiting:
        for name in beside[waiting.pop()]:
            if name not in reached:
                reached.add(name)
                waiting.append(name)
    return [name for name in beside if name not in reached]


def _design(
    rises: Sequence[Rise], known: Mapping[str, float], number: Mapping[str, int], sd: NDArray[np.float64]
) -> tuple[Any, NDArray[np.float64]]:
    """The weighted design matrix (n, u), sparse, and the weighted observations (n,)."""
    from scipy.sparse import csr_array  # heavy; only a network needs it

    rows, columns, values = [], [], []
    observed = np.array([r.rise for r in rises], dtype=float)
    for i, rise in enumerate(rises):
        for name, sign in ((rise.start, -1.0), (rise.end, 1.0)):
            if name in known:
                observed[i] -= sign * known[name]
            else:
                rows.append(i)
                columns.append(number[name])
                values.append(sign / sd[i])
    return csr_array((values, (rows, columns)), shape=(len(rises), len(number))), observed / sd


_BLOCK = 128  # columns of the inverse at a time


def _solve(
    design: Any, observed: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Least-squares elevations (u,), the diagonal of their cofactor matrix Q (u,), and a Q a' (n,) of each
    row a of the design.

    A row has one or two entries, so of Q only what stands where two points meet in a row is wanted. Q is full
    (32 MB for a thousand set-ups and points), so it is made and left again a few columns at a time.
    """
    from scipy.sparse.linalg import splu  # heavy; only a network needs it

    factor = splu((design.T @ design).tocsc())
    solution = factor.solve(design.T @ observed)
    # One step of refinement: the residuals of elevations near 800 m then keep their last digits.
    solution = solution + factor.solve(design.T @ (observed - design @ solution))
    size = len(solution)
    diagonal, along = np.empty(size), np.zeros(design.shape[0])
    columns = design.tocsc()
    for first in range(0, size, _BLOCK):
        last = min(first + _BLOCK, size)
        unit = np.zeros((size, last - first))
        unit[np.arange(first, last), np.arange(last - first)] = 1.0
        inverse = factor.solve(unit)
        diagonal[first:last] = inverse[np.arange(first, last), np.arange(last - first)]
        part = columns[:, first:last]
        rows = np.flatnonzero(np.diff(part.tocsr().indptr))
        along[rows] += (design[rows] @ inverse * part[rows].toarray()).sum(axis=1)
    return np.asarray(solution, dtype=float), diagonal, along


_ALIKE = 1e-6


@dataclass(frozen=True, slots=True)
class AdjustedReading:
    """One reading of the network: its ``line`` and ``column`` in the book, the ``reading`` [m], its
    ``residual`` adjusted minus read [m] and that over its own standard error (0 where nothing checks it)."""

    station: str
    line: int
    column: str
    reading: float
    residual: float
    standardised: float


@dataclass(frozen=True, slots=True)
class BookNetwork:
    """How a book of several routes was adjusted.

    ``elevation`` and ``sd`` by station [m]; ``readings`` in the order of the book; ``surplus`` readings to
    spare; ``reference_variance`` [-], about 1 where the readings are as good as ``reading_sd`` [m] says;
    ``limit`` the standardised residual that one of so many sound readings hardly passes; ``suspects`` the
    readings with the largest one (more than one where the network cannot tell them apart).
    """

    elevation: Mapping[str, float]
    sd: Mapping[str, float]
    readings: tuple[AdjustedReading, ...]
    surplus: int
    reference_variance: float
    reading_sd: float
    limit: float
    suspects: tuple[AdjustedReading, ...]

    @property
    def sound(self) -> bool:
        """Whether no reading is off by more than chance makes it."""
        return abs(self.suspects[0].standardised) <= self.limit


def is_network(
    rows: Sequence[LevelRow], setups: Sequence[Setup], known: Mapping[str, float], *, closed: bool
) -> bool:
    """Tell whether more than one route leads to some point: two checks at least, or one that is no closure.

    Readings of one point from one set-up are repeats, not routes.
    """
    pairs = {(s.number, rows[x.row].station) for s in setups for x in (s.back, *s.forward)}
    free = {station for _, station in pairs if station not in known}
    routes = len(pairs) - len(setups) - len(free)
    return routes >= 2 or (routes == 1 and not closed)


def adjust_book(
    rows: Sequence[LevelRow],
    setups: Sequence[Setup],
    known: Mapping[str, float],
    *,
    reading_sd: float,
    by_length: bool = False,
    single: bool = False,
) -> BookNetwork:
    """Adjust all readings onto the ``known`` elevations [m]; ``reading_sd`` [m] that of one reading.

    ``by_length``: where the length of every sight was measured, its variance grows in proportion to it, and
    ``reading_sd`` is that of the mean length. ``single``: the book has one column of readings. Raises
    InputError for readings that no route joins to a mark.
    """
    sights = [(s, x) for s in setups for x in (s.back, *s.forward)]
    sd = _spreads([x for _, x in sights], reading_sd, by_length=by_length)
    rises = [
        Rise(rows[x.row].station, f"{INSTRUMENT}{s.number}", x.reading, e, rows[x.row].line)
        for (s, x), e in zip(sights, sd, strict=True)
    ]
    net = adjust_network(rises, known, scale=False)
    numbers = zip(sights, net.residuals.tolist(), net.standardised.tolist(), strict=True)
    readings = tuple(_reading(rows[x.row], s, x, off, t, single=single) for (s, x), off, t in numbers)
    most = max(abs(r.standardised) for r in readings)
    ground = [i for i, name in enumerate(net.names) if not name.startswith(INSTRUMENT)]
    return BookNetwork(
        elevation={**known, **{net.names[i]: float(net.elevation[i]) for i in ground}},
        sd={**dict.fromkeys(known, 0.0), **{net.names[i]: float(net.sd[i]) for i in ground}},
        readings=readings,
        surplus=net.surplus,
        reference_variance=net.reference_variance,
        reading_sd=reading_sd,
        limit=off_limit(net.standardised),
        suspects=tuple(r for r in readings if abs(r.standardised) >= most * (1 - _ALIKE)),
    )


def _spreads(sights: Sequence[Sight], reading_sd: float, *, by_length: bool) -> list[float]:
    lengths = [x.length for x in sights if x.length]
    if not by_length or len(lengths) < len(sights):
        return [reading_sd] * len(sights)
    mean = math.fsum(lengths) / len(lengths)
    return [reading_sd * math.sqrt(length / mean) for length in lengths]


def _reading(
    row: LevelRow, setup: Setup, sight: Sight, residual: float, t: float, *, single: bool
) -> AdjustedReading:
    column = "BS" if sight is setup.back else "FS" if row.foresight is not None else "IS"
    if single:
        column = "reading"
    return AdjustedReading(row.station, row.line, column, sight.reading, residual, t)
