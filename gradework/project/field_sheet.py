"""Which stations a field sheet lists: a lettered grid as asked for, or the one that suits a job.

It chooses the grid and names the stations; drawing the sheet is the work of ``drawings``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding, InputError, cell_name, fault, finding
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.project.nearby import nearby_of
from gradework.project.placed import placed_building, tied_to
from gradework.survey.levelling.ways import Method
from gradework.units.display import Display, counted

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.project.job.model import Job


Floats = NDArray[np.float64]
"""Ways of finding heights that have a reading table of their own."""

MOST_STATIONS = 1000
"""A sheet lists at most so many stations; that is a day of shots and some thirty pages."""

MOST_ROWS, MOST_COLUMNS = 26 * 27, 9999
"""Row letters run from A to ZZ, column numbers to four digits."""

SHOTS_FOR_A_JOB = 80
"""A grid chosen for a job has at most so many stations: about an hour with a rod. A judgement."""

MOST_TIES = 4
"""A table of ties has columns for so many marks."""

MOST_TOLD = 12
"""So many stations that nobody can get to are named."""

REACH = 3.048
"""Water is judged in the 10 ft around the walls [m], so the shots must reach as far."""

_STEPS_FEET = (2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0)
_STEPS_METRES = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0)


@dataclass(frozen=True)
class FieldSheet:
    """What a field sheet shows.

    ``grid`` lies on the yard as in the notes (site frame [m]); ``rows`` are letters, ``columns`` numbers.
    ``building``: rings (k, 2) [m], site frame, empty without a job. ``north``: degrees anticlockwise from +x,
    None unknown. ``proposed``: the grid is ours, so the job file does not have it yet. ``findings``: what the
    grid leaves out. ``ties``: names of the marks that the stations are taped from, empty without a table of
    ties.
    """

    title: str
    method: Method
    grid: LetteredGrid
    rows: int
    columns: int
    show: Display
    building: tuple[Floats, ...] = ()
    north: float | None = None
    proposed: bool = True
    findings: tuple[Finding, ...] = ()
    ties: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[tuple[str, ...], ...]:
        """Station names, one tuple per row of the grid."""
        return tuple(
            tuple(station_name(row, column) for column in range(self.columns)) for row in range(self.rows)
        )


def station_name(row: int, column: int) -> str:
    """Name the station in ``row`` and ``column``, both from 0.

    >>> station_name(0, 0), station_name(25, 9), station_name(26, 0)
    ('A1', 'Z10', 'AA1')
    """
    return cell_name(column + 1, row + 1)


def sheet_for_grid(
    grid: LetteredGrid,
    *,
    rows: int,
    columns: int,
    method: Method,
    show: Display,
    title: str = "",
    ties: Sequence[str] = (),
) -> FieldSheet:
    """Make a sheet for a grid as asked for. Raises ``InputError`` if it is too small or too large."""
    _check_size(rows, columns)
    return FieldSheet(title, method, grid, rows, columns, show, ties=_few(ties))


def sheet_for_job(
    job: Job,
    *,
    method: Method,
    grid: LetteredGrid | None = None,
    rows: int | None = None,
    columns: int | None = None,
    ties: Sequence[str] | None = None,
) -> FieldSheet:
    """Make a sheet that covers the job's building and the 10 ft around it.

    The job's own lettered grid is kept, or ``grid`` is taken, and as many rows and columns as it takes to
    reach (or as asked for); a job without one gets a grid of a round spacing, its A1 at a round place.
    Raises ``InputError`` if the grid would be too large.
    """
    show = job.show
    outline, _ = placed_building(job)
    reach = max(REACH, job.drainage.reach or 0.0)
    own = job.survey.grid
    known = grid is None and own is not None
    if grid is None and own is not None:
        grid = LetteredGrid(**own.given(LetteredGrid))
    if grid is None:
        grid = _round_grid(outline.bounds, reach, show)
    needed_rows, needed_columns = _needed(grid, outline.rings[0], reach)
    rows, columns = rows or max(needed_rows, 2), columns or max(needed_columns, 2)
    _check_size(rows, columns)
    return FieldSheet(
        title=job.name,
        method=method,
        grid=grid,
        rows=rows,
        columns=columns,
        show=show,
        building=tuple(outline.rings),
        north=job.site.north,
        proposed=not known,
        findings=(
            *_left_out(grid, (rows, columns), outline.rings[0], reach, show),
            *_barred(nearby_of(job, outline), grid, (rows, columns)),
        ),
        ties=_few(tied_to(job) if ties is None else ties),
    )


def _few(ties: Sequence[str]) -> tuple[str, ...]:
    """Check how many marks a table of ties has columns for."""
    if ties and not 2 <= len(ties) <= MOST_TIES:
        raise InputError([fault("sheet-ties", marks=counted(len(ties), "marks"), most=MOST_TIES)])
    return tuple(ties)


def _left_out(
    grid: LetteredGrid, size: tuple[int, int], ring: Floats, reach: float, show: Display
) -> tuple[Finding, ...]:
    """Say how far the grid falls short of the building, or of what lies around it."""
    places = to_grid(grid, ring)
    last = np.array([(size[1] - 1) * grid.spacing[1], (size[0] - 1) * grid.spacing[0]])
    short = float(max(np.max(reach - places.min(axis=0)), np.max(places.max(axis=0) + reach - last)))
    if short <= 1e-6:
        return ()
    if short > reach + 1e-6:
        out = show.distance(short - reach)
        return (finding("sheet-misses-building", "warning", "the grid", short - reach, 0.0, outside=out),)
    left, wanted = show.distance(reach - short), show.distance(reach)
    return (finding("sheet-stops-short", "note", "the grid", reach - short, reach, left=left, reach=wanted),)


def _barred(nearby: Nearby, grid: LetteredGrid, size: tuple[int, int]) -> Iterator[Finding]:
    """Say which stations lie beyond a wall, a fence or a lot line, where nobody can hold a rod."""
    angle = math.radians(grid.turn)
    c, s = math.cos(angle), math.sin(angle)
    row, column = (part.ravel() for part in np.indices(size))
    local = np.column_stack([column * grid.spacing[1], row * grid.spacing[0]])
    places = np.asarray(grid.origin) + local @ np.array([[c, s], [-s, c]])
    far = np.flatnonzero(nearby.beyond(places)).tolist()
    if far:
        names = [station_name(int(row[k]), int(column[k])) for k in far]
        told = ", ".join(names[:MOST_TOLD]) + (" ..." if len(names) > MOST_TOLD else "")
        yield finding(
            "sheet-behind-wall",
            "note",
            told,
            float(len(far)),
            count=counted(len(far), "stations"),
            names=told,
        )


def to_grid(grid: LetteredGrid, xy: Floats) -> Floats:
    """Turn places ``(n, 2)`` [m], site frame, into (along the numbers, along the letters) from A1 [m]."""
    angle = math.radians(grid.turn)
    c, s = math.cos(angle), math.sin(angle)
    local: Floats = (np.asarray(xy, dtype=float) - np.asarray(grid.origin)) @ np.array([[c, -s], [s, c]])
    return local


def _needed(grid: LetteredGrid, ring: Floats, reach: float) -> tuple[int, int]:
    """Rows and columns that reach past ``ring`` by ``reach`` [m] on the far sides."""
    along, up = (to_grid(grid, ring).max(axis=0) + reach).tolist()
    columns = math.ceil(along / grid.spacing[1] - 1e-9) + 1
    rows = math.ceil(up / grid.spacing[0] - 1e-9) + 1
    return rows, columns


def _round_grid(bounds: Sequence[float], reach: float, show: Display) -> LetteredGrid:
    """Choose the closest round grid around ``bounds`` that has no more stations than an hour allows."""
    unit = show.metres_per_unit
    left, bottom, right, top = bounds
    low, high = (left - reach, bottom - reach), (right + reach, top + reach)
    step = 0.0
    for size in _STEPS_METRES if show.metric else _STEPS_FEET:
        step = size * unit
        along, up = (
            math.ceil(b / step - 1e-9) - math.floor(a / step + 1e-9) + 1
            for a, b in zip(low, high, strict=True)
        )
        if along * up <= SHOTS_FOR_A_JOB:
            break
    x, y = (math.floor(a / step + 1e-9) * step for a in low)
    return LetteredGrid((step, step), (x, y))


def _check_size(rows: int, columns: int) -> None:
    if rows < 2 or columns < 2:
        raise InputError([fault("sheet-grid-too-small", columns=columns, rows=rows)])
    if rows * columns > MOST_STATIONS or rows > MOST_ROWS or columns > MOST_COLUMNS:
        raise InputError([fault("sheet-grid-too-large", columns=columns, rows=rows, most=MOST_STATIONS)])
