"""Level networks: more than one route between marks, adjusted together by weighted least squares.

Observed is a rise from one point to another with its standard error; known marks stay fixed. The instrument
of each set-up can be a point too, and a reading the rise from the ground to it, so a whole level book is a
network.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from gradework.errors import Faults, visible
from gradework.survey.setups import split_setups

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.level_notes import LevelNotes

MOST_POINTS = 3000
"""More points than this are not one yard; the inverse is a full matrix."""

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
    solution, cofactor = _solve(design, observed)
    weighted = design @ solution - observed
    residuals = weighted * sd
    surplus = len(rises) - len(names)
    variance = float(weighted @ weighted) / surplus if surplus > 0 else math.nan
    # Share of each observation that the others check: 1 - a Q a', with a its row of the weighted design.
    dense = design.toarray()
    redundancy = np.clip(1.0 - np.einsum("ij,jk,ik->i", dense, cofactor, dense, optimize=True), 0.0, 1.0)
    checked = redundancy > 1e-9
    unit = math.sqrt(variance) if scale and surplus > 0 else 1.0
    spread = np.sqrt(redundancy, where=checked, out=np.ones_like(redundancy)) * (unit or 1.0)
    standardised = np.where(checked, weighted / spread, 0.0)
    worst = rises[int(np.argmax(np.abs(standardised)))] if surplus > 0 else None
    errors = np.asarray(unit * np.sqrt(np.diag(cofactor)), dtype=float)
    for array in (solution, errors, residuals, standardised):
        array.setflags(write=False)
    return LevelNetwork(names, solution, errors, residuals, standardised, variance, surplus, worst)


def off_limit(standardised: NDArray[np.float64]) -> float:
    """The standardised residual that the worst of so many sound observations passes in one set of a
    hundred."""
    checked = int(np.count_nonzero(standardised)) or 1
    return statistics.NormalDist().inv_cdf(1 - OFF_BY_CHANCE / (2 * checked))


def rises_of_levels(notes: LevelNotes, *, reading_sd: float) -> tuple[Rise, ...]:
    """Every reading of a level book as a rise from the rod to the instrument, for ``adjust_network``.

    Leave the instruments (names that begin with ``INSTRUMENT``) out of what is shown afterwards.
    """
    found: list[Rise] = []
    for setup in split_setups(notes):
        for sight in (setup.back, *setup.forward):
            row = notes.rows[sight.row]
            found.append(
                Rise(row.station, f"{INSTRUMENT}{setup.number}", sight.reading, reading_sd, row.line)
            )
    return tuple(found)


def _free_points(rises: Sequence[Rise], known: Mapping[str, float]) -> tuple[str, ...]:
    """Names of the points to adjust, in the order they first appear, once all is known to be usable."""
    faults = Faults()
    for rise in rises:
        usable = math.isfinite(rise.rise) and math.isfinite(rise.sd) and rise.sd > 0
        if not usable or rise.start == rise.end:
            faults.add(
                "network-rise-unusable",
                f"a rise from {visible(rise.start)} to {visible(rise.end)} without a usable value or error",
                "a rise between two points, with a standard error above 0",
                "check the line, or leave it out",
                line=rise.line,
            )
    names = tuple(dict.fromkeys(n for r in rises for n in (r.start, r.end) if n not in known))
    if not names or len(names) > MOST_POINTS:
        faults.stop(
            "network-size",
            f"{len(names)} points to adjust",
            f"between 1 and {MOST_POINTS}",
            "give the rises between the marks and the new points",
        )
    loose = _unjoined(rises, known)
    if loose:
        faults.add(
            "network-unjoined",
            "no chain of rises from a known mark to " + ", ".join(visible(n) for n in loose[:6]),
            "every point joined to a known mark",
            "level from a mark to one of them, or give one of them in the known column",
        )
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


def _solve(design: Any, observed: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least-squares elevations (u,) and their cofactor matrix (u, u)."""
    from scipy.sparse.linalg import splu  # heavy; only a network needs it

    factor = splu((design.T @ design).tocsc())
    solution = factor.solve(design.T @ observed)
    # One step of refinement: the residuals of elevations near 800 m then keep their last digits.
    solution = solution + factor.solve(design.T @ (observed - design @ solution))
    return np.asarray(solution, dtype=float), np.asarray(factor.solve(np.eye(len(solution))), dtype=float)
