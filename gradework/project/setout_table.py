"""The ``[setout]`` table: what is known in the yard when the stakes go in."""

from __future__ import annotations

from typing import Annotated

from gradework.project.bounds import OFFSET, TOLERANCE
from gradework.project.fields import Elevation, HeightOrNone, Table, thick
from gradework.project.mark_table import Marks


class SetoutTable(Table):
    """Marks, given or taped, for ties; benchmarks with their elevations, for the instrument.

    ``offset`` is how far batter boards stand outside the building, ``string`` how high the string hangs above
    the finished level, ``tolerance`` what tops may differ between neighbours; None means the default.
    """

    marks: Marks | None = None
    benchmarks: dict[str, Elevation] | None = None
    offset: Annotated[float, thick(OFFSET)] | None = None
    string: HeightOrNone | None = None
    tolerance: Annotated[float, thick(TOLERANCE)] | None = None
