"""What the distances of a level book are: the length of each sight, or of the leg between two turning points.

Three ways of noting them are told apart. With a column for the backsights every sight has its own. With one
column, a distance on a line that holds only a backsight can be nothing but a sight, so all are: a turning
point then stands as far from the set-up behind it as from the one ahead. Without such a line the distances
beside foresights are legs, as they are measured along the ground, and no sight is known.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.level_notes import LevelRow


class Lengths(NamedTuple):
    """Of one line of the book [m], None where not measured: the sight of its forward reading, the sight of
    its backsight, the leg from the turning point before."""

    ahead: float | None = None
    back: float | None = None
    leg: float | None = None


def sight_lengths(rows: Sequence[LevelRow]) -> tuple[Lengths, ...]:
    """The lengths on every line of a book. A distance of 0 is none.

    >>> from gradework.fieldnotes.level_notes import LevelRow
    >>> turn = LevelRow("T", backsight=1.4, foresight=1.2, distance=40.0)
    >>> sight_lengths([LevelRow("M", backsight=1.5, distance=40.0), turn])[1]
    Lengths(ahead=40.0, back=40.0, leg=None)
    >>> sight_lengths([LevelRow("M", backsight=1.5), turn])[1]
    Lengths(ahead=None, back=None, leg=40.0)
    """
    two_columns = any(row.back_distance for row in rows)
    sights = two_columns or any(
        row.distance for row in rows if row.backsight is not None and not _looks_ahead(row)
    )
    return tuple(_lengths(row, two_columns=two_columns, sights=sights) for row in rows)


def _lengths(row: LevelRow, *, two_columns: bool, sights: bool) -> Lengths:
    given = row.distance or None
    if not _looks_ahead(row):
        return Lengths(back=row.back_distance or given)
    if row.foresight is not None and not sights:
        return Lengths(leg=given)
    back = None if row.backsight is None else row.back_distance if two_columns else given
    return Lengths(ahead=given, back=back or None)


def _looks_ahead(row: LevelRow) -> bool:
    return row.foresight is not None or row.intermediate is not None
