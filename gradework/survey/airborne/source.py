"""What a file of airborne ground is, before any of its heights are read: its system, its unit, its window."""

from __future__ import annotations

from typing import Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from gradework.errors import InputError, fault
from gradework.units.lengths import Unit

Floats = NDArray[np.float64]

MOST_READ = 4_000_000
"""So many points or cells of one window are read; of a finer raster only some of its cells."""

_UNITS: dict[Unit, float] = {"m": 1.0, "ft": 0.3048, "ftUS": 1200.0 / 3937.0}

_CLOSE = 1e-9
"""The foot of the survey differs from the other by 6e-7 of a metre."""


class Box(NamedTuple):
    """From the south-west to the north-east, in the unit of a file's own system."""

    west: float
    south: float
    east: float
    north: float

    def holds(self, x: Floats, y: Floats) -> NDArray[np.bool_]:
        """Which places (n,) lie in it (n,); none that is no number."""
        found: NDArray[np.bool_] = (x >= self.west) & (x <= self.east) & (y >= self.south) & (y <= self.north)
        return found


class AirborneFile(Protocol):
    """One file, opened and checked, none of its heights read.

    ``system``: how its own system is written, as pyproj takes it; ``heights``: metres per unit of its heights
    where the file says so by itself; ``extent``: how far it reaches.
    """

    system: str
    heights: float | None
    extent: Box

    def within(self, box: Box) -> Floats:
        """Read the ground in a box (n, 3), in the file's units: at most ``MOST_READ`` points."""
        ...  # pragma: no cover - what a reader can do


def unit_called(metres: float) -> Unit | None:
    """Name the unit that is so long [m]; None of one that is none of ours.

    >>> unit_called(0.3048), unit_called(0.30480061), unit_called(1.0), unit_called(0.9144)
    ('ft', 'ftUS', 'm', None)
    """
    return next((unit for unit, size in _UNITS.items() if abs(size - metres) < _CLOSE), None)


def metres_in(unit: Unit) -> float:
    """Say how long a unit of heights is [m]."""
    return _UNITS[unit]


def broken(file: str, variant: str, **values: Any) -> InputError:
    """Tell what is wrong with a file of airborne ground."""
    return InputError([fault("around-file", variant=variant, file=file, **values)])
