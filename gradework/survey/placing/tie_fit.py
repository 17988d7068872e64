"""Which of the two places where ties cross is meant: the one on the side that was said, or that a third tie
fits.

A side is a half-plane: left or right of the line from one known mark to another. Which marks those are does
not depend on the marks that a station happens to be tied from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from gradework.errors import visible
from gradework.survey.placing.tape import TAPE_SD

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import ArrayLike, NDArray

    from gradework.fieldnotes.places import Side, Tie

    Point = tuple[float, float]
    Floats = NDArray[np.float64]


# One place from its distances to known marks: two circles crossed, or least squares over more ties.

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


def _linear(at: Floats, taped: Floats, xy: Floats) -> tuple[Floats, Floats]:
    """Unit vectors from the marks (k, 2) and taped minus computed distances (k,) [m]."""
    away = xy - at
    computed = np.hypot(away[:, 0], away[:, 1])
    return away / np.where(computed > 0, computed, 1.0)[:, None], taped - computed


def _square(at: Floats, taped: Floats, xy: Floats) -> float:
    misses = taped - np.hypot(*(xy - at).T)
    return float(misses @ misses)


ON_THE_LINE = 3.0
"""A place within so many standard errors of one tie of the line counts as on either side of it."""

AGREE = 4.0
"""Ties disagree when their misfit is more than this many standard errors of one tie."""


class SaidSide(NamedTuple):
    """The side that was said, seen from the mark ``start`` to the mark ``end``; places in ``line`` [m]."""

    side: Side
    start: str
    end: str
    line: tuple[Point, Point]

    @property
    def words(self) -> str:
        """``left of barn A to barn B``."""
        return f"{self.side} of {visible(self.start)} to {visible(self.end)}"

    @property
    def other(self) -> str:
        """The other side, by the same two marks."""
        side: Side = "right" if self.side == "left" else "left"
        return self._replace(side=side).words

    def off(self, fit: TieFit) -> float:
        """How far a place lies from the line [m], positive on this side."""
        (ax, ay), (bx, by) = self.line
        x, y = fit.xy
        left = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / math.dist(*self.line)
        return float(left if self.side == "left" else -left)


Reason = Literal["", "other side", "either", "both", "neither"]
"""What speaks against a choice between two places."""


def said_side(side: Side, names: Sequence[str], marks: Mapping[str, Point]) -> SaidSide | None:
    """The side as seen from the first of some marks to the next that stands elsewhere; None without such."""
    known = [name for name in names if name in marks]
    for name in known[1:]:
        if marks[name] != marks[known[0]]:
            return SaidSide(side, known[0], name, (marks[known[0]], marks[name]))
    return None


def own_side(ties: Sequence[Tie], marks: Mapping[str, Point]) -> SaidSide | None:
    """The side that the notes of one station say, seen from its first mark to its second."""
    said = next((t.side for t in ties if t.side is not None), None)
    return None if said is None else said_side(said, [t.mark for t in ties], marks)


def choose(options: Sequence[TieFit], side: SaidSide | None, sd: float) -> tuple[TieFit | None, Reason]:
    """Choose between one or two places that ties may mean: the place, None where that is open, and why not.

    A third tie decides when the other place misses it by far more than a tape of standard error ``sd`` [m]
    can. Where the side that was said is the other one, the ties count and the reason is "other side", but
    only when they agree there. Else the side decides, if exactly one place is on it.
    """
    best, *rest = sorted(options, key=lambda fit: fit.misfit)
    alone = not rest or rest[0].misfit - best.misfit > max(6 * sd, 2 * best.misfit)
    if side is None:
        return (best, "") if alone else (None, "either")
    slack = ON_THE_LINE * sd
    if alone and (not rest or best.misfit <= AGREE * sd):
        return best, "other side" if side.off(best) < -slack else ""
    fits = sorted(options, key=side.off)
    if side.off(fits[-1]) < -slack:
        return None, "neither"
    if len(fits) > 1 and side.off(fits[0]) > slack:
        return None, "both"
    return fits[-1], ""
