"""Spot elevations: the three forms in which builders and surveyors write them, told apart by the header.

- **table**: ``station, x, y, elevation, note`` in any order, or point, northing, easting, elevation,
  description; without a header only if letters such as ``PNEZD`` say what the columns are.
- **grid**: the first row holds the x positions, the first column the y positions, the cells the
  elevations; an empty cell was not shot. The shot at x 4, y 8 is named ``x4 y8``, as written.
- **lettered**: ``station, elevation`` with stations A1, A2, ... B1, ...; the spacing is given
  (``LetteredGrid``). The letter is the row (along +y), the number the column (along +x).
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from gradework.errors import Faults, Finding
from gradework.fieldnotes.dialect import DecimalMark, decide_dialect
from gradework.fieldnotes.gather import Gathered
from gradework.fieldnotes.grid import is_grid_top, read_grid
from gradework.fieldnotes.headers import ELEVATION, NOTE, STATION, X, Y, agreed_unit
from gradework.fieldnotes.lettered import LetteredGrid, place_lettered
from gradework.fieldnotes.opening import open_notes
from gradework.fieldnotes.plausible import doubts
from gradework.fieldnotes.stationtable import read_stations
from gradework.fieldnotes.table import header_or_letters, no_rows, require_columns
from gradework.fieldnotes.text import read_text
from gradework.units import Unit

SPOT_FIELDS = (STATION, X, Y, ELEVATION, NOTE)

Form = Literal["table", "grid", "lettered"]


@dataclass(frozen=True, slots=True)
class Spot:
    """One shot: name, place and elevation [m], the line of the file it stands on, its note."""

    name: str
    x: float
    y: float
    elevation: float
    line: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class SpotNotes:
    """The shots of a file, in its order; the sequences have one entry per shot.

    ``x``, ``y`` and ``elevation`` [m] are arrays of doubles that numpy views without a copy
    (``numpy.frombuffer(notes.x)``). ``lines`` are line numbers in ``file``; ``notes`` is None when the file
    has none. ``unit`` is the unit of bare numbers, which is also the one to show results in.
    """

    names: Sequence[str]
    x: array[float]
    y: array[float]
    elevation: array[float]
    lines: Sequence[int]
    notes: Sequence[str] | None
    unit: Unit
    file: str
    form: Form
    findings: tuple[Finding, ...]

    def __len__(self) -> int:
        return len(self.x)

    def spot(self, i: int) -> Spot:
        """Shot ``i``, counted from 0."""
        note = self.notes[i] if self.notes is not None else ""
        return Spot(self.names[i], self.x[i], self.y[i], self.elevation[i], self.lines[i], note)


def read_spots(
    data: bytes,
    file: str,
    *,
    unit: Unit | None,
    columns: str | None = None,
    grid: LetteredGrid | None = None,
    decimal: DecimalMark | None = None,
) -> SpotNotes:
    """Read the spot elevations of a notes file.

    ``unit`` is the declared unit of bare numbers (None: the header must say it); ``columns`` letters for a
    file without header; ``grid`` the spacing of a lettered grid; ``decimal`` the decimal mark where
    the file does not prove it. Plain rows are read in bulk (a million in about two seconds), odd cells one
    by one.

    >>> notes = read_spots(b"station,x,y,elevation\\nA,0,0,10\\nB,4,0,10.5\\n", "yard.csv", unit="m")
    >>> notes.spot(1)
    Spot(name='B', x=4.0, y=0.0, elevation=10.5, line=3, note='')

    Raises
    ------
    InputError
        with every fault of the file: unreadable text, unknown columns, cells that are no length, ...
    """
    notes = read_text(data, file)
    faults = Faults(file)
    dialect = decide_dialect(notes, faults, decimal=decimal)
    opening = open_notes(notes, dialect)
    gathered = Gathered(notes, dialect, faults)
    grid_top = opening.below_title(is_grid_top) if columns is None else None
    if grid_top is not None:
        form: Form = "grid"
        gathered.findings += opening.title_findings(grid_top, file)
        used = read_grid(gathered, opening.rows[grid_top], unit)
    else:
        header = header_or_letters(opening, SPOT_FIELDS, columns, faults, first_line=dialect.first_line)
        lettered = X.name not in header.columns and Y.name not in header.columns
        form = "lettered" if lettered else "table"
        needed = (STATION.name, ELEVATION.name) if lettered else (X.name, Y.name, ELEVATION.name)
        require_columns(header.columns, needed, faults)
        declared = agreed_unit(header.columns, SPOT_FIELDS, unit, faults, by_column=True)
        faults.raise_if_any()
        gathered.findings += header.findings
        gathered.see_units(header.columns)
        used = read_stations(gathered, header, SPOT_FIELDS, needed=needed, unit=declared)
        if lettered:
            place_lettered(gathered, grid, header.columns)
        if not len(gathered.elevation) and not faults.all:
            no_rows(faults, header.columns, SPOT_FIELDS)
    gathered.findings += tuple(gathered.comments.findings())
    told = dialect.finding(file)
    gathered.findings += (told,) if told else ()
    faults.noticed = (*notes.findings, *gathered.findings)
    faults.raise_if_any()
    gathered.findings += tuple(doubts(gathered, used, form, faults))
    faults.noticed = (*notes.findings, *gathered.findings)
    faults.raise_if_any()
    return SpotNotes(
        names=tuple(gathered.names),
        x=gathered.x,
        y=gathered.y,
        elevation=gathered.elevation,
        lines=gathered.lines(),
        notes=gathered.notes_or_none(),
        unit=used,
        file=file,
        form=form,
        findings=(*notes.findings, *gathered.findings),
    )
