"""The outline of a building, a pad or a dig: a simple polygon, also with holes, in the site frame.

It refuses what has no inside to speak of (sides that cross, spikes, no area) and says where; it never
repairs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gradework.earthwork import ring as rings_of
from gradework.errors import Faults
from gradework.units import METRIC

if TYPE_CHECKING:
    from gradework.units import Display

Floats = NDArray[np.float64]

STRAIGHT_SINE = 1e-12
"""A corner that turns by less than this (its sine) is straight; it does not make an outline hollow."""


@dataclass(frozen=True, eq=False)
class Outline:
    """A simple polygon with holes, site frame [m]. Build one with ``rectangle`` or ``polygon``.

    rings : ring 0 is the outside and runs anticlockwise, the others are holes and run clockwise; each (k, 2),
    read-only, not closed (the last corner is not the first). names : one per corner, ring after ring, for
    messages.  title : what messages call it; an outline that was grown says so.

    >>> Outline.rectangle((0.0, 0.0), (4.0, 3.0)).area
    12.0
    """

    rings: tuple[Floats, ...]
    names: tuple[str, ...] = field(repr=False)
    title: str = field(default="outline", repr=False)

    @classmethod
    def rectangle(
        cls, corner: Sequence[float], size: Sequence[float], turn: float = 0.0, *, show: Display = METRIC
    ) -> Outline:
        """Return the rectangle of ``size`` (along, across) [m] from its first corner, turned by ``turn``
        [degrees].

        The corner stays where it is; positive turns are anticlockwise, right angles exact. Raises InputError
        (``outline-size``, ``outline-corner-unusable``).
        """
        faults = Faults()
        if not all(math.isfinite(value) for value in (*corner, turn)):
            faults.add(
                "outline-corner-unusable",
                f"the rectangle starts at {tuple(corner)}, turned by {turn}",
                "finite numbers",
                "give the first corner and the turn as plain numbers",
            )
        for word, value in zip(("along", "across"), size, strict=True):
            if not (math.isfinite(value) and value > 0):
                shown = show.distance(value) if math.isfinite(value) else str(value)
                faults.add(
                    "outline-size",
                    f"the size {word} is {shown}",
                    "a length above zero",
                    "give both sides of the rectangle",
                )
        faults.raise_if_any()
        cosine, sine = _turned(turn)
        along, across = size
        steps = np.array([[0.0, 0.0], [along, 0.0], [along, across], [0.0, across]])
        corners = np.asarray(corner, dtype=np.float64) + steps @ np.array([[cosine, sine], [-sine, cosine]])
        return cls._frozen([corners], [f"corner {number}" for number in range(1, 5)])

    @classmethod
    def polygon(cls, rings: ArrayLike | Sequence[ArrayLike], *, show: Display = METRIC) -> Outline:
        """Return the outline with these corners: one ring (k, 2), or the outside followed by holes [m].

        Rings may be closed or open, clockwise or not; a corner given twice in a row counts once. Raises
        InputError with all faults: ``outline-corner-unusable``, ``outline-too-few-corners``,
        ``outline-too-many-corners``, ``outline-no-area``, ``outline-spike``, ``outline-crosses-itself``,
        ``outline-hole-outside``.
        """
        from gradework.earthwork.outline_faults import checked_rings  # a rectangle needs no such checks

        return cls._frozen(*checked_rings(_as_rings(rings), show))

    @classmethod
    def _frozen(cls, rings: Sequence[Floats], names: Sequence[str], title: str = "outline") -> Outline:
        """Fix the directions (outside anticlockwise, holes clockwise), names with their corners, and lock."""
        fixed, labels, at = [], [], 0
        for number, ring in enumerate(rings):
            own = list(names[at : at + len(ring)])
            at += len(ring)
            locked = np.array(ring, dtype=np.float64)
            if (rings_of.ring_area(ring) > 0) != (number == 0):  # turn it round, first corner stays first
                locked = np.roll(locked[::-1], 1, axis=0)
                own = [own[0], *own[:0:-1]]
            locked.setflags(write=False)
            fixed.append(locked)
            labels.extend(own)
        return cls(tuple(fixed), tuple(labels), title)

    @cached_property
    def area(self) -> float:
        """Area inside, holes taken off [m²]."""
        return math.fsum(rings_of.ring_area(corners) for corners in self.rings)

    @cached_property
    def perimeter(self) -> float:
        """Length of all sides, those of holes too [m]."""
        return math.fsum(float(np.hypot(*(np.roll(c, -1, axis=0) - c).T).sum()) for c in self.rings)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y [m]."""
        low, high = self.rings[0].min(axis=0), self.rings[0].max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @property
    def corners(self) -> Floats:
        """All corners, ring after ring, (n, 2) [m]; ``names`` runs along."""
        return self.rings[0] if len(self.rings) == 1 else np.concatenate(self.rings)

    @cached_property
    def is_convex(self) -> bool:
        """Whether the outline has no hole and never turns inward (straight corners allowed)."""
        if len(self.rings) > 1:
            return False
        ring = self.rings[0]
        side = np.roll(ring, -1, axis=0) - ring
        before = np.roll(side, 1, axis=0)
        cross = before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]
        return bool((cross >= -STRAIGHT_SINE * np.hypot(*side.T) * np.hypot(*before.T)).all())

    def contains(self, points: ArrayLike) -> NDArray[np.bool_]:
        """Which points (n, 2) [m] lie inside; a point exactly on a side may come out either way."""
        where = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        inside = np.zeros(len(where), dtype=bool)
        for ring in self.rings:
            inside ^= rings_of.contains(ring, where)
        return inside

    def grown(self, margin: float, *, show: Display = METRIC) -> Outline:
        """Return the outline moved outward by ``margin`` [m] all round, corners mitred (holes shrink).

        A hole that the margin closes is gone. A margin of 0 returns the outline itself. Raises InputError
        ``outline-margin`` where the margin is negative, not finite, or closes a notch.
        """
        if margin == 0:
            return self
        from gradework.earthwork.outline_faults import grown_rings  # not needed by a plain cut and fill

        moved = grown_rings(self.rings, self.names, margin, show, convex=self.is_convex)
        return self._frozen(*moved, title=f"outline with its margin of {show.depth(margin)}")


def _turned(degrees: float) -> tuple[float, float]:
    """Cosine and sine, exact at right angles."""
    quarter, rest = divmod(degrees, 90.0)
    cosine, sine = (1.0, 0.0) if rest == 0 else (math.cos(math.radians(rest)), math.sin(math.radians(rest)))
    for _ in range(int(quarter) % 4):
        cosine, sine = -sine, cosine
    return cosine, sine


def _as_rings(rings: ArrayLike | Sequence[ArrayLike]) -> list[Floats]:
    """One ring or several, as arrays of corners."""
    try:
        single = np.asarray(rings, dtype=np.float64)
    except (ValueError, TypeError):
        single = np.empty(0)
    if single.ndim == 2 and single.shape[1] == 2:
        return [single]
    return [np.asarray(ring, dtype=np.float64).reshape(-1, 2) for ring in rings]  # type: ignore[union-attr]
