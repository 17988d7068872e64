"""Where are the stations, how high, how sure: from notes or arrays, with every check that they allow."""

from __future__ import annotations

from array import array
from collections.abc import Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from gradework.errors import InputError
from gradework.fieldnotes.grids import LetteredGrid
from gradework.fieldnotes.spots import SpotNotes
from gradework.library.inputs import Floats, Source, bytes_of, checked_names, rows_of_xyz, three_columns
from gradework.project.cutfill import NotesForm, read_stations
from gradework.project.stations.forms import ReadingsForm
from gradework.project.stations.join import SurveyForm, YardNotes, read_yard
from gradework.project.stations.placing import PlacesForm
from gradework.survey import stations as survey_stations
from gradework.survey.from_spots import stations_from_spots
from gradework.units.display import METRIC
from gradework.units.lengths import in_metres

if TYPE_CHECKING:
    from gradework.fieldnotes.text import DecimalMark
    from gradework.project.stations.method import Method
    from gradework.units.lengths import Unit

_SHOWN_ROWS = 10


class Stations(survey_stations.Stations):
    """The places of a yard with their elevations: what the survey knows. All SI, arrays read-only.

    ``read_spots``, ``reduce_notes`` and ``from_xyz`` make them.

    Attributes
    ----------
    names
        (n,), one for each station.
    xyz
        (n, 3) [m]: x, y and elevation in the site's own frame.
    sd
        (n,) [m]: standard error of each elevation, NaN where nothing tells it.
    lines
        (n,): the line of the notes that each stands on; 0 for arrays.
    file
        What messages call the notes.
    unit
        The unit of the notes, in which words show results; the numbers here are metres all the same.
    findings
        What was noticed: readings that look wrong, what nothing checks.

    Examples
    --------
    >>> import gradework as gw
    >>> yard = gw.Stations.from_xyz([0, 8, 8, 0], [0, 0, 6, 6], [10.0, 10.4, 11.0, 10.6])
    >>> len(yard), yard.names[0], yard.xyz.shape
    (4, 'P1', (4, 3))
    """

    @classmethod
    def from_xyz(
        cls,
        x: ArrayLike,
        y: ArrayLike,
        z: ArrayLike,
        names: Sequence[str] | None = None,
        unit: Unit = "m",
    ) -> Stations:
        """Make stations of arrays, and look for misread ones as among notes.

        Parameters
        ----------
        x, y, z
            (n,) [unit] each: places in one frame, and elevations. They are copied.
        names
            (n,), none twice; None names them P1, P2 ...
        unit
            "m", "ft", "in" or "ftUS": what the numbers are in, and what words are shown in.

        Returns
        -------
        Stations
            In the order of the arrays, in metres.

        Raises
        ------
        InputError
            ``array-shape``, ``array-not-a-number`` (NaN, infinity), ``array-same-place`` (two rows within
            0.3 mm), ``array-names``, ``array-unit``; too few, all on one line, too wide a site.

        Examples
        --------
        >>> Stations.from_xyz([0, 20, 20], [0, 0, 15], [100.0, 101.5, 102.0], unit="ft").xyz[1].round(4)
        array([ 6.096 ,  0.    , 30.9372])
        """
        xyz = rows_of_xyz(x, y, z, unit)
        columns = [array("d", one.tobytes()) for one in np.ascontiguousarray(xyz.T)]
        notes = SpotNotes(
            names=tuple(checked_names(names, len(xyz))),
            x=columns[0],
            y=columns[1],
            elevation=columns[2],
            lines=[0] * len(xyz),
            notes=None,
            unit=unit,
            file="",
            form="table",
            findings=(),
        )
        return cls._of(stations_from_spots(notes))

    @classmethod
    def _of(cls, found: survey_stations.Stations) -> Stations:
        """The same stations with what this class adds."""
        return cls(found.names, found.xyz, found.sd, found.lines, found.file, found.unit, found.findings)

    def _repr_html_(self) -> str:
        rows = [
            f"<tr><td>{escape(name)}</td>" + "".join(f"<td>{value:.3f}</td>" for value in place) + "</tr>"
            for name, place in zip(self.names[:_SHOWN_ROWS], self.xyz[:_SHOWN_ROWS].tolist(), strict=True)
        ]
        more = len(self) - len(rows)
        tail = f"<tr><td>and {more} more</td><td></td><td></td><td></td></tr>" if more > 0 else ""
        head = "<tr><th>station</th><th>x (m)</th><th>y (m)</th><th>elevation (m)</th></tr>"
        return f"<table>{head}{''.join(rows)}{tail}</table>"


def as_stations(ground: survey_stations.Stations | ArrayLike, unit: Unit = "m") -> survey_stations.Stations:
    """Take stations as they are, and rows of x, y, z (n, 3) [unit] as stations."""
    if isinstance(ground, survey_stations.Stations):
        return ground
    return Stations.from_xyz(*three_columns(ground), unit=unit)


def read_spots(
    notes: Source,
    unit: Unit | None = None,
    *,
    columns: str | None = None,
    grid: float | Sequence[float] | None = None,
    decimal: DecimalMark | None = None,
) -> Stations:
    """Read spot elevations: stations with x, y and elevation, a grid of elevations, or lettered stations.

    Parameters
    ----------
    notes
        The path of a CSV file, or its bytes.
    unit
        "m", "ft", "in" or "ftUS": the unit of bare numbers; None where the header says it, as ``x (m)``.
    columns
        Letters for notes without a header, such as "PNEZD": point, north, east, elevation, remark.
    grid
        The spacing [unit] of stations named A1, A2 ... B1 ..., or (along the letters, along the numbers).
    decimal
        "." or ",", where the file does not tell it.

    Returns
    -------
    Stations
        In the order of the file, all in metres; equal shots of one place count once.

    Raises
    ------
    InputError
        With every fault of the file: line, column, what was found, what was expected, what to do.

    Examples
    --------
    >>> import gradework as gw
    >>> yard = gw.read_spots(b"station,x,y,elevation\\nA,0,0,10\\nB,4,0,10.5\\nC,0,3,10.2\\n", unit="m")
    >>> yard.xyz[1].tolist()
    [4.0, 0.0, 10.5]
    """
    data, file, _ = bytes_of(notes, "notes")
    form = NotesForm(unit=unit, columns=columns, grid=_grid(grid, unit), decimal=decimal)
    return Stations._of(read_stations(data, file, form))


def _grid(spacing: float | Sequence[float] | None, unit: Unit | None) -> LetteredGrid | None:
    """A lettered grid with A1 at 0, 0."""
    if spacing is None:
        return None
    pair = np.broadcast_to(np.asarray(spacing, dtype=np.float64), (2,))
    if not (np.isfinite(pair).all() and (pair > 0).all()):
        raise ValueError(f"a spacing is a length above zero, not {spacing}")
    first, second = (float(value) for value in in_metres(pair, unit or "m"))
    return LetteredGrid(spacing=(first, second))


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
        from gradework.report.survey import yard_text  # words are made only where they are asked for

        return yard_text(self)

    def record(self) -> dict[str, Any]:
        """The same as ``gradework reduce NOTES --json``: plain data, always SI."""
        from gradework.exchange.yard_records import field_book_record  # as above

        return field_book_record(self)

    def __repr__(self) -> str:
        z = self.elevations
        low, high = (METRIC.elevation(float(level)) for level in (z.min(), z.max()))
        return f"<ReducedNotes, {self.reduced.method}: {len(z)} points, elevations {low} to {high}>"


def reduce_notes(
    notes: Source,
    unit: Unit | None = None,
    *,
    known: Mapping[str, float] | None = None,
    places: Source | None = None,
    marks: Mapping[str, Sequence[float]] | None = None,
    grid: float | Sequence[float] | None = None,
    method: Method | None = None,
    hi: float | None = None,
) -> ReducedNotes:
    """Reduce readings (rod and level, laser, water level, straightedge) to elevations, with every check.

    Parameters
    ----------
    notes
        The path of a CSV file, or its bytes: station with BS, IS and FS, or with ``reading``, ``higher``,
        ``run`` and ``rise``; a level book may hold known elevations in a column ``known``.
    unit
        "m", "ft", "in" or "ftUS": the unit of bare numbers in all that is handed over; None where the notes
        say it.
    known
        Elevations of marks [unit], by name.
    places
        The path or the bytes of a table that says where the stations stand: x and y, or ties by tape.
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
    data, file, _ = bytes_of(notes, "notes")
    beside = None if places is None else bytes_of(places, "places")
    per = unit or "m"
    form = PlacesForm(
        grid=_grid(grid, unit),
        data=None if beside is None else beside.data,
        file="" if beside is None else beside.file,
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
        stations = Stations._of(stations)
    return ReducedNotes(yard.reduced, yard.places, stations, yard.findings)


def _place(place: Sequence[float], unit: Unit) -> tuple[float, float]:
    """A mark's x and y [m]."""
    x, y = place
    return float(in_metres(x, unit)), float(in_metres(y, unit))
