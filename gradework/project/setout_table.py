"""The ``[setout]`` table: what is known in the yard when the stakes go in."""

from __future__ import annotations

from gradework.project.fields import Position, SmallLength, Table, Thickness
from gradework.project.mark_table import Marks


class SetoutTable(Table):
    """Marks, given or taped, for ties; benchmarks with their elevations, for the instrument.

    ``offset`` is how far batter boards stand outside the building, ``string`` how high the string hangs above
    the finished level, ``tolerance`` what tops may differ between neighbours; None means the default.
    """

    marks: Marks | None = None
    benchmarks: dict[str, Position] | None = None
    offset: Thickness | None = None
    string: SmallLength | None = None
    tolerance: Thickness | None = None
