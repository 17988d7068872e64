"""Which names of a level book are stations of the lettered grid, and which are marks that look like one.

TP1, BM2 or M1 fit the pattern of a letter and a number, but row TP of a grid would be half a mile away.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from gradework.errors import Finding, visible
from gradework.fieldnotes.lettered import row_and_column

FARTHEST = 2
"""A mark stands on the grid if its row is at most so many from one with stations; a judgement."""

_MOST_NAMED = 6


def grid_stations(
    names: Sequence[str], marks: Collection[str]
) -> tuple[dict[str, tuple[int, int]], tuple[Finding, ...]]:
    """Row and column (from 0) of each of ``names`` that stands on the grid, and a note of those left out.

    Left out are benchmarks and turning points (``marks``) whose row is far from those of the other stations,
    or, where there are none, from the rows that most of them are in.

    >>> grid_stations(["BM", "A1", "A2", "B1", "TP1"], {"BM", "TP1"})[0]
    {'A1': (0, 0), 'A2': (0, 1), 'B1': (1, 0)}
    """
    spots = {name: at for name in names if (at := row_and_column(name)) is not None}
    rows = sorted(row for row, _ in spots.values())
    plain = sorted({row for name, (row, _) in spots.items() if name not in marks}) or _most(rows)
    far = [name for name, (row, _) in spots.items() if name in marks and _apart(row, plain) > FARTHEST]
    for name in far:
        del spots[name]
    if not far:
        return spots, ()
    named = ", ".join(visible(name) for name in far[:_MOST_NAMED])
    more = f" and {len(far) - _MOST_NAMED} more" if len(far) > _MOST_NAMED else ""
    advice = (
        "Taken as marks off the grid, far from its other rows, though the names would fit it: "
        f"{named}{more}. Give a mark that stands on the grid the name of its row."
    )
    return spots, (Finding("marks-off-grid", "note", visible(far[0]), float(len(far)), None, advice),)


def _apart(row: int, rows: Collection[int]) -> int:
    return min((abs(row - other) for other in rows), default=0)


def _most(rows: Sequence[int]) -> list[int]:
    """The rows (rising, one for each station) without a wide gap between them that hold the most stations."""
    groups: list[list[int]] = []
    for row in rows:
        if groups and row - groups[-1][-1] <= FARTHEST:
            groups[-1].append(row)
        else:
            groups.append([row])
    return max(groups, key=len, default=[])
