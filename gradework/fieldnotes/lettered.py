"""How a lettered grid lies on the yard: which row and column a name such as B3 means, and where that is."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

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
    return letters_number(match[1]), int(match[2]) - 1


def letters_number(letters: str) -> int:
    """The row of a grid, or the column of a spreadsheet (both from 0), that letters name.

    >>> letters_number("A"), letters_number("z"), letters_number("AA")
    (0, 25, 26)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number - 1
