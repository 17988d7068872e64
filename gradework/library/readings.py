"""What notes of readings give: elevations, their checks, and stations where the places are known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from gradework.errors import InputError
from gradework.exchange.yard_records import field_book_record
from gradework.library.inputs import Floats, Table, table_of
from gradework.library.survey import Stations, lettered_grid
from gradework.project.stations.forms import PlacesForm, ReadingsForm, SurveyForm
from gradework.project.stations.join import YardNotes, read_yard
from gradework.report.survey import yard_text
from gradework.units.display import METRIC
from gradework.units.lengths import in_metres

if TYPE_CHECKING:
    from gradework.survey.levelling.ways import Method
    from gradework.units.lengths import Unit


class ReducedNotes(YardNotes):
    """What notes of readings give; ``reduce_notes`` makes it.

    Attributes
    ----------
    names
        Of the points that were read.
    elevations, sd
        (n,) [m] each: of these points, and the standard error of each.
    stations
        With their places: ``Stations``, None where nothing tells the places, and the ``InputError`` itself
        where there are too few of them for a surface.
    findings
        What was noticed.
    """

    @property
    def names(self) -> tuple[str, ...]:
        """The points that were read, in their order."""
        return self.reduced.heights.names

    @property
    def elevations(self) -> Floats:
        """Their elevations (n,) [m]."""
        return self.reduced.heights.elevation

    @property
    def sd(self) -> Floats:
        """The standard error of each elevation (n,) [m], NaN where nothing tells it."""
        return self.reduced.heights.sd

    def summary(self) -> str:
        """The field book with its sums and checks, in the unit of the notes, as the command prints it."""
        return yard_text(self)

    def record(self) -> dict[str, Any]:
        """The same as ``gradework reduce NOTES --json``: plain data, always SI."""
        return field_book_record(self)

    def __repr__(self) -> str:
        z = self.elevations
        low, high = (METRIC.elevation(float(level)) for level in (z.min(), z.max()))
        return f"<ReducedNotes, {self.reduced.method}: {len(z)} points, elevations {low} to {high}>"


def reduce_notes(
    notes: Table,
    unit: Unit | None = None,
    *,
    known: Mapping[str, float] | None = None,
    places: Table | None = None,
    marks: Mapping[str, Sequence[float]] | None = None,
    grid: float | Sequence[float] | None = None,
    method: Method | None = None,
    hi: float | None = None,
) -> ReducedNotes:
    """Reduce readings (rod and level, laser, water level, straightedge) to elevations, with every check.

    Parameters
    ----------
    notes
        The path of a CSV file or a workbook (xlsx, ods, xls), its bytes, or either with the name of a sheet,
        ``("book.xlsx", "Yard")``: station with BS, IS and FS, or with ``reading``, ``higher``, ``run`` and
        ``rise``; a level book may hold known elevations in a column ``known``.
    unit
        "m", "cm", "mm", "ft", "in" or "ftUS": the unit of bare numbers in all that is handed over; None
        where the notes say it.
    known
        Elevations of marks [unit], by name.
    places
        The same for a table that says where the stations stand: x and y, or ties by tape.
    marks
        Known places (x, y) [unit], by name, that stations are taped from.
    grid
        The spacing [unit] of stations named A1, A2 ... B1 ...
    method
        "level", "laser", "water-level", "string" or "steps", where the columns do not tell it.
    hi
        Elevation of a laser's plane [unit].

    Returns
    -------
    ReducedNotes
        ``names``, ``elevations`` and ``sd`` (n,) [m], ``stations``, ``findings``, ``summary()``.

    Raises
    ------
    InputError
        With every fault of the notes, each with its line and column.

    Examples
    --------
    >>> import gradework as gw
    >>> book = b"station,BS,IS,FS,known\\nBM,1.500,,,30.000\\nA,,1.210,,\\nB,,1.655,,\\nBM,,,1.500,\\n"
    >>> done = gw.reduce_notes(book, unit="m")
    >>> done.names, done.elevations.round(3).tolist()
    (('BM', 'A', 'B'), [30.0, 30.29, 29.845])
    """
    data, file = table_of(notes, "notes")
    beside, called = None, ""
    if places is not None:
        beside, called = table_of(places, "places")
    per = unit or "m"
    form = PlacesForm(
        grid=lettered_grid(grid, unit),
        data=beside,
        file=called,
        marks={name: _place(place, per) for name, place in (marks or {}).items()},
    )
    readings = ReadingsForm(
        method=method,
        known={name: float(in_metres(level, per)) for name, level in (known or {}).items()},
        hi=None if hi is None else float(in_metres(hi, per)),
    )
    yard = read_yard(data, file, SurveyForm(readings, form), unit=unit)
    stations = yard.stations
    if stations is not None and not isinstance(stations, InputError):
        stations = Stations.of(stations)
    return ReducedNotes(yard.reduced, yard.places, stations, yard.findings)


def _place(place: Sequence[float], unit: Unit) -> tuple[float, float]:
    """A mark's x and y [m]."""
    x, y = place
    return float(in_metres(x, unit)), float(in_metres(y, unit))
