"""Spot notes straight from numbers, and the faults that stations find in them."""

from __future__ import annotations

from array import array
from collections.abc import Callable

import pytest

from gradework.errors import Fault, InputError
from gradework.fieldnotes.spots import SpotNotes
from gradework.survey.from_spots import stations_from_spots

Spots = Callable[..., SpotNotes]
FaultsOf = Callable[..., list[Fault]]


@pytest.fixture(scope="session")
def spots() -> Spots:
    """Return a function: rows (name, x, y, elevation) in ``unit`` to spot notes, the first on line 2."""

    def make(rows, unit="ft") -> SpotNotes:
        scale = 1.0 if unit == "m" else 0.3048
        x, y, z = (array("d", [row[k] * scale for row in rows]) for k in (1, 2, 3))
        names, lines = [row[0] for row in rows], list(range(2, len(rows) + 2))
        return SpotNotes(names, x, y, z, lines, None, unit, "yard.csv", ())

    return make


@pytest.fixture(scope="session")
def faults_of(spots: Spots) -> FaultsOf:
    """Return a function: rows as for ``spots`` to the faults for which their stations are refused."""

    def find(rows, unit="ft") -> list[Fault]:
        with pytest.raises(InputError) as caught:
            stations_from_spots(spots(rows, unit))
        return list(caught.value.faults)

    return find
