"""A yard that was taped, laid on a map: turned and moved so that some of its stations come to lie on their
places there."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gradework.errors import InputError, fault, visible
from gradework.units.amounts import M_PER_FT

Floats = NDArray[np.float64]

NEAR = 3.0
"""[m] Stations nearer to each other than that do not tell how the yard lies: 10 ft (judgement)."""

MISFIT = 1.0
"""[m] A station may lie so far off its place on the map: 3 ft, as a corner is found on a picture from the air
(judgement)."""


class FittedFrame(NamedTuple):
    """How a yard lies on the plane of a file: ``metres`` per unit there; a place of the file less ``start``,
    in metres, is turned by ``turn`` (2, 2) and counts from ``zero`` [m] in the yard. ``off`` [m]: the root
    mean square of how far the stations lie off their places."""

    metres: float
    start: Floats
    turn: Floats
    zero: Floats
    off: float
    crs: str = "none"

    def into(self, system: str, xy: ArrayLike) -> Floats:
        """Places of the yard (m, 2) [m] in the file; whatever ``system`` that is in."""
        del system
        places: Floats = (np.asarray(xy) - self.zero) @ self.turn / self.metres + self.start
        return places

    def out_of(self, system: str, places: ArrayLike) -> Floats:
        """Places of the file (m, 2) in the yard [m]."""
        del system
        xy: Floats = (np.asarray(places) - self.start) * self.metres @ self.turn.T + self.zero
        return xy


class Tied(NamedTuple):
    """Stations by their ``names``: places (n, 2) in a ``file``, in its unit, and in the ``yard`` [m]."""

    names: tuple[str, ...]
    file: Floats
    yard: Floats

    def fitted(self, metres: float) -> FittedFrame:
        """The yard turned and moved onto the file, whose unit is so many ``metres``: least squares, nothing
        stretched. Raises ``InputError``: too few, too close, or a yard of another shape."""
        start, zero = self.file.mean(axis=0), self.yard.mean(axis=0)
        there, here = (self.file - start) * metres, self.yard - zero
        if len(self.names) < 2 or float(np.hypot(*here.T).max()) < 0.5 * NEAR:
            raise InputError([fault("around-at", variant="few", about=("around_at",))])
        across = float((there[:, 0] * here[:, 1] - there[:, 1] * here[:, 0]).sum())
        along = float((there * here).sum())
        c, s = np.array([along, across]) / max(float(np.hypot(along, across)), 1e-300)
        turn = np.array([[c, -s], [s, c]])
        left = np.hypot(*(there @ turn.T - here).T)
        worst = int(left.argmax())
        if not left[worst] <= MISFIT:
            name, off = visible(self.names[worst]), f"{left[worst] / M_PER_FT:,.0f} ft ({left[worst]:,.1f} m)"
            raise InputError([fault("around-at", about=("around_at",), name=name, off=off)])
        return FittedFrame(metres, start, turn, zero, float(np.sqrt(np.mean(left**2))))
