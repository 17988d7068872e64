"""The grid that stations named A1, A2 ... B1 ... stand on, told by their names and places.

So that a shot that is missing can be asked for by the name it will have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding
from gradework.fieldnotes.grids import row_and_column
from gradework.units.display import METRIC, Display, counted
from gradework.units.lengths import Unit

if TYPE_CHECKING:
    Floats = NDArray[np.float64]


# Names of stations and marks as they are compared; they are shown as they were written.


def name_key(name: str) -> str:
    """A name without regard to capitals and outer spaces: what joins heights and places.

    >>> name_key(" p4 ") == name_key("P4")
    True
    """
    return name.strip().casefold()


def spaceless(name: str) -> str:
    """A name without capitals and any spaces: two that differ only there are likely one, miswritten.

    >>> spaceless("BM 1") == spaceless("bm1")
    True
    """
    return "".join(name.split()).casefold()


# The middle value of shots, without numpy's own, which loads its masked arrays to look for NaN.


def median(values: NDArray[np.float64]) -> float:
    """The median of ``values`` (n,): the middle one, or half the sum of the middle two; NaN for none.

    A NaN among them makes it NaN.

    >>> median(np.array([3.0, 1.0, 2.0])), median(np.array([4.0, 1.0, 2.0, 3.0])), median(np.array([]))
    (2.0, 2.5, nan)
    """
    n = len(values)
    if n == 0 or np.isnan(values).any():
        return float("nan")
    ordered = np.sort(values)
    return float((ordered[(n - 1) // 2] + ordered[n // 2]) / 2)


# Stations: the places of the yard with x, y, elevation and spread, as every reduction hands them on.


@dataclass(frozen=True)
class Stations:
    """What the survey knows.

    ``names`` (n,); ``xyz`` (n, 3) [m], site frame; ``sd`` (n,) [m], standard error of the elevation, NaN
    where unknown; ``lines`` (n,) the line of each shot in ``file``, 0 unknown; ``unit``: the unit of the
    notes, in which results are shown back; ``findings``: what was noticed. Arrays are read-only.
    """

    names: Sequence[str]
    xyz: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: NDArray[np.int64]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()

    @property
    def show(self) -> Display:
        """How values are shown back to whoever wrote these notes."""
        return Display(self.unit)

    def __repr__(self) -> str:
        if not len(self):
            return "<Stations: none>"
        low, high = (
            METRIC.elevation(float(self.xyz[:, 2].min())),
            METRIC.elevation(float(self.xyz[:, 2].max())),
        )
        told = f", {counted(len(self.findings), 'findings')}" if self.findings else ""
        return f"<Stations: {len(self)}, elevations {low} to {high}{told}>"

    def __len__(self) -> int:
        return len(self.xyz)


MOST_NAMED_STATIONS = 5000
_FEWEST = 4
_OFF = 0.15  # of the spacing: a station farther off its place was named for another reason
_MOST_STRAY = 0.2


@dataclass(frozen=True, slots=True)
class NamedGrid:
    """Where row and column (from 0) stand: ``origin`` (2,) of A1, ``along`` (2, 2) the steps of a row and of
    a column, all [m]."""

    origin: Floats
    along: Floats

    def near(self, xy: tuple[float, float], shots: Floats) -> tuple[tuple[float, float], str | None]:
        """The free station of the grid nearest to ``xy`` [m] and its name; where that is taken, the middle
        between two; where the grid has no name for it (before A or 1), ``xy`` itself and None."""
        at = np.linalg.solve(self.along.T, np.asarray(xy) - self.origin)
        for step in (1.0, 0.5):
            row, column = (np.round(at / step) * step).tolist()
            place = self.origin + row * self.along[0] + column * self.along[1]
            free = float(np.hypot(*(shots - place).T).min()) > 0.3
            if free and min(row, column) >= 0 and row < 26 * 27 and column < 9999:
                return (float(place[0]), float(place[1])), _name(row, column)
        return xy, None


def named_grid(stations: Stations) -> NamedGrid | None:
    """The grid of stations named after one; None where the names or the places are others.

    At least four stations, in two rows and two columns, and no more than one in five off its place.
    """
    if not _FEWEST <= len(stations) <= MOST_NAMED_STATIONS:
        return None
    spots = [(row_and_column(name), i) for i, name in enumerate(stations.names)]
    named = [(at, i) for at, i in spots if at is not None]
    if len(named) < max(_FEWEST, (1 - _MOST_STRAY) * len(stations)):
        return None
    cells = np.array([at for at, _ in named], dtype=float)
    xy = np.asarray(stations.xyz[[i for _, i in named], :2])
    if (np.ptp(cells, axis=0) == 0).any():
        return None
    design = np.column_stack([np.ones(len(cells)), cells])
    fit, _, rank, _ = np.linalg.lstsq(design, xy, rcond=1e-9)
    if rank < 3:
        return None
    along = np.asarray(fit[1:])
    step = float(np.sqrt(abs(np.linalg.det(along))))
    off = np.hypot(*(design @ fit - xy).T)
    if step == 0 or float(np.mean(off > _OFF * step)) > _MOST_STRAY:
        return None
    return NamedGrid(np.asarray(fit[0]), along)


def _name(row: float, column: float) -> str:
    """The name of a station; of a place half way, the two stations it lies between."""
    low, high = (int(row), int(column)), (int(np.ceil(row)), int(np.ceil(column)))
    if low == high:
        return _station(*low)
    return f"midway between {_station(*low)} and {_station(*high)}"


def _station(row: int, column: int) -> str:
    letters, rest = "", row + 1
    while rest:
        rest, letter = divmod(rest - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{column + 1}"
