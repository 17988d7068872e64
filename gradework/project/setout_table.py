"""The ``[setout]`` table: what is known in the yard when the stakes go in."""

from __future__ import annotations

from gradework.project.fields import Position, SmallLength, Table, Thickness


class SetoutTable(Table):
    """Marks with their places, for ties by tape; benchmarks with their elevations, for the instrument.

    ``offset`` is how far batter boards stand outside the building, ``string`` how high the string hangs above
    the finished level, ``tolerance`` what tops may differ between neighbours; None means the default.
    """

    marks: dict[str, tuple[Position, Position]] | None = None
    benchmarks: dict[str, Position] | None = None
    offset: Thickness | None = None
    string: SmallLength | None = None
    tolerance: Thickness | None = None
