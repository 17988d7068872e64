"""Stations: the places of the yard with x, y, elevation and spread, as every reduction hands them on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding
from gradework.units import Display, Unit


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

    def __len__(self) -> int:
        return len(self.xyz)
