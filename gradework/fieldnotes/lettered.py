"""Stations of a lettered grid (A1, A2, ... B1, ...) to places on plan."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from gradework.errors import visible
from gradework.fieldnotes.gather import Gathered
from gradework.fieldnotes.headers import Columns
from gradework.fieldnotes.rows import column_of_cell

_STATION = r"([A-Za-z]{1,2}) ?-?([0-9]{1,4})"


@dataclass(frozen=True, slots=True)
class LetteredGrid:
    """How a lettered grid lies on the yard.

    The letter names the row: A, B, C ... Z, AA, AB ... along +y; the number the column: 1, 2, 3 ... along +x.
    A1 stands at ``origin``. ``spacing`` is (along the letters, along the numbers) [m]; ``turn`` [degrees]
    turns the grid anticlockwise about A1.
    """

    spacing: tuple[float, float]
    origin: tuple[float, float] = (0.0, 0.0)
    turn: float = 0.0

    def place(self, row: int, column: int) -> tuple[float, float]:
        """Where the station in ``row`` and ``column`` (from 0) stands: x, y [m].

        Quarter turns are exact.

        >>> LetteredGrid((2.0, 3.0), turn=90).place(1, 2)
        (-2.0, 6.0)
        """
        along_y, along_x = row * self.spacing[0], column * self.spacing[1]
        cosine, sine = _direction(self.turn)
        x0, y0 = self.origin
        return x0 + along_x * cosine - along_y * sine, y0 + along_x * sine + along_y * cosine


def _direction(turn: float) -> tuple[float, float]:
    quarters = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    exact = quarters.get(turn % 360.0)
    return exact if exact is not None else (math.cos(math.radians(turn)), math.sin(math.radians(turn)))


def row_and_column(name: str) -> tuple[int, int] | None:
    """Row and column (from 0) of a station such as ``B3``, ``b3``, ``AA12`` or ``B-3``; None for others.

    >>> row_and_column("B3"), row_and_column("aa1"), row_and_column("TP1x")
    ((1, 2), (26, 0), None)
    """
    match = re.fullmatch(_STATION, name.strip())
    if match is None or int(match[2]) == 0:
        return None
    row = 0
    for letter in match[1].upper():
        row = row * 26 + ord(letter) - 64
    return row - 1, int(match[2]) - 1


def place_lettered(gathered: Gathered, grid: LetteredGrid | None, columns: Columns) -> None:
    """Give each gathered shot its place; a missing spacing or a name that is no grid station is a fault."""
    faults = gathered.faults
    if grid is None:
        faults.stop(
            "notes-no-spacing",
            "stations of a lettered grid without its spacing",
            "the distance between the rows and columns of the grid",
            "say grid = { spacing = 4 } in the job (or --grid 4), or add columns x and y",
            line=columns.line,
        )
    if not all(math.isfinite(step) and step > 0 for step in grid.spacing):
        faults.stop(
            "notes-no-spacing", "a spacing of zero or less", "a spacing above zero", "mend the spacing"
        )
    index = columns.index["station"]
    for name, line in zip(gathered.names, gathered.lines(), strict=True):
        place = row_and_column(name)
        if place is None:
            faults.add(
                "notes-not-in-grid",
                f"the station '{visible(name)}'",
                "a letter for the row and a number for the column, such as B3",
                "mend the name, or add columns x and y for stations off the grid",
                line=line,
                column=column_of_cell(gathered.notes, line, index, gathered.dialect.separator),
            )
            continue
        x, y = grid.place(*place)
        gathered.x.append(x)
        gathered.y.append(y)
