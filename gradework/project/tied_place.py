"""One place of a job that was taped from known marks, found and checked as stations are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.fieldnotes.place_notes import Tie
from gradework.survey.ties import tie_places

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.errors import Finding
    from gradework.fieldnotes.place_notes import Side
    from gradework.units import Display

    Point = tuple[float, float]


def tied_place(
    name: str,
    ties: Mapping[str, float],
    marks: Mapping[str, Point],
    side: Side | None,
    show: Display,
    *,
    seen: Sequence[str] = (),
) -> tuple[Point, tuple[Finding, ...]]:
    """Find the place called ``name`` from its distances [m] to known marks, and what its ties say of it.

    ``side``: on which hand it lies, from the first of the marks ``seen`` to the second (of all marks, where
    none is named). Raises ``InputError``.
    """
    found = tie_places(
        [Tie(name, mark, distance) for mark, distance in ties.items()],
        marks,
        side=side,
        seen=seen,
        unit=show.unit,
    )
    x, y = found.xy[0].tolist()
    return (x, y), found.findings
