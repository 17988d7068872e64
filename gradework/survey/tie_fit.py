"""One place from its distances to known marks: two circles crossed, or least squares over more ties."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.survey.positions import TAPE_SD

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Point = tuple[float, float]
    Floats = NDArray[np.float64]

MOST_STEPS = 50


@dataclass(frozen=True, slots=True)
class TieFit:
    """One station fixed by its ties: ``xy`` (2,), ``residuals`` (k,) taped minus computed, ``sd`` [m]."""

    xy: Floats
    residuals: Floats
    sd: float

    @property
    def misfit(self) -> float:
        """Root of the sum of squared residuals [m]."""
        return float(np.sqrt(self.residuals @ self.residuals))


def circle_crossings(first: Point, r1: float, second: Point, r2: float) -> tuple[Point, Point]:
    """Where two circles cross [m]: the point on the left of first to second, then that on the right.

    Circles that just touch give the same point twice. Raises ValueError, with the gap, where they do not
    meet.

    >>> circle_crossings((0, 0), 5, (6, 0), 5)
    ((3.0, 4.0), (3.0, -4.0))
    """
    d = math.dist(first, second)
    gap = circle_gap(first, r1, second, r2)
    if d == 0 or gap > 0:
        raise ValueError(f"the circles miss each other by {gap:.4g} m")
    a = (d * d + (r1 - r2) * (r1 + r2)) / (2 * d)
    h = math.sqrt(max((r1 - a) * (r1 + a), 0.0))
    ux, uy = (second[0] - first[0]) / d, (second[1] - first[1]) / d
    foot = (first[0] + a * ux, first[1] + a * uy)
    return (foot[0] - h * uy, foot[1] + h * ux), (foot[0] + h * uy, foot[1] - h * ux)


def circle_gap(first: Point, r1: float, second: Point, r2: float) -> float:
    """By how much two circles miss each other [m]; zero or less where they meet."""
    d = math.dist(first, second)
    return max(d - (r1 + r2), abs(r1 - r2) - d)


def touching_point(first: Point, r1: float, second: Point, r2: float) -> Point:
    """The place nearest to both of two circles that do not quite meet: on the line of their centres [m]."""
    d = math.dist(first, second)
    if d == 0:
        return first
    ux, uy = (second[0] - first[0]) / d, (second[1] - first[1]) / d
    # Seen from the first centre: between the circles when they lie apart, beyond the inner one when nested.
    reach = (d + r1 - r2) / 2 if d > abs(r1 - r2) else ((r1 + d + r2) / 2 if r1 > r2 else (d - r1 - r2) / 2)
    return first[0] + reach * ux, first[1] + reach * uy


def fit_ties(marks: ArrayLike, distances: ArrayLike, start: ArrayLike, *, sd: float = TAPE_SD) -> TieFit:
    """Least squares for one place from its distances to marks.

    ``marks`` (k, 2), ``distances`` (k,), ``start`` (2,) a first guess, all [m]; ``sd`` of one tie [m]. The
    fit's ``sd`` is along its worst direction, infinite where the ties fix nothing across. Gauss-Newton with
    halved steps (Mikhail & Ackermann, ch. 9).

    >>> fit_ties([[0, 0], [6, 0], [3, 9]], [5, 5, 5], [3, 3]).xy.round(9).tolist()
    [3.0, 4.0]
    """
    at = np.asarray(marks, dtype=float)
    taped = np.asarray(distances, dtype=float)
    xy = np.asarray(start, dtype=float)
    for _ in range(MOST_STEPS):
        slopes, misses = _linear(at, taped, xy)
        step, *_ = np.linalg.lstsq(slopes, misses, rcond=1e-12)
        size, now = 1.0, float(misses @ misses)
        while size > 1e-6 and _square(at, taped, xy + size * step) > now:
            size /= 2
        xy = xy + size * step
        if size * float(np.abs(step).max()) < 1e-12 * (1 + float(np.abs(xy).max())):
            break
    slopes, misses = _linear(at, taped, xy)
    weakest = float(np.linalg.svd(slopes, compute_uv=False)[-1])
    return TieFit(xy, misses, sd / weakest if weakest > 1e-9 else math.inf)


def fit_on_line(marks: ArrayLike, distances: ArrayLike, through: Point, along: Point) -> Point:
    """The place on a line (a point and a direction) that fits its ties best, nearest to the point given [m].

    For a station known to lie on a wall or a fence. Same method with one unknown.
    """
    at = np.asarray(marks, dtype=float)
    taped = np.asarray(distances, dtype=float)
    line = np.asarray(along, dtype=float) / math.hypot(*along)
    xy = np.asarray(through, dtype=float)
    for _ in range(MOST_STEPS):
        slopes, misses = _linear(at, taped, xy)
        gain = slopes @ line
        step = float(gain @ misses / (gain @ gain)) if float(gain @ gain) > 0 else 0.0
        xy = xy + step * line
        if abs(step) < 1e-12 * (1 + float(np.abs(xy).max())):
            break
    return float(xy[0]), float(xy[1])


def _linear(at: Floats, taped: Floats, xy: Floats) -> tuple[Floats, Floats]:
    """Unit vectors from the marks (k, 2) and taped minus computed distances (k,) [m]."""
    away = xy - at
    computed = np.hypot(away[:, 0], away[:, 1])
    return away / np.where(computed > 0, computed, 1.0)[:, None], taped - computed


def _square(at: Floats, taped: Floats, xy: Floats) -> float:
    misses = taped - np.hypot(*(xy - at).T)
    return float(misses @ misses)
