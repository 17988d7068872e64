"""Where are the stations, how high, how sure: from notes or arrays, with every check that they allow."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import fields, replace
from html import escape
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike

from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.spots import SpotNotes
from gradework.library.inputs import Table, checked_names, rows_of_xyz, table_of, three_columns
from gradework.project.stations.forms import NotesForm, ReadingsForm, SurveyForm
from gradework.project.stations.notes import read_stations
from gradework.survey import stations as survey_stations
from gradework.survey.from_spots import stations_from_spots
from gradework.units.lengths import in_metres

if TYPE_CHECKING:
    from gradework.fieldnotes.text import DecimalMark
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
    form
        How words show lengths, as the notes were written: "inches", "tenths", "m" or "mm"; empty for what
        goes with the unit.
    findings
        What was noticed: readings that look wrong, what nothing checks.
    benchmarks
        Marks of known elevation (``name``, ``elevation`` [m], ``basis``), with or without a place.
    breaklines
        Lines along which the ground breaks: ``name``, and the names of their ``stations`` in order.
    frame
        Where on earth the yard is, from a reference system; else None. ``frame.world(xy)`` gives longitude
        and latitude.

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
            "m", "cm", "mm", "ft", "in" or "ftUS": what the numbers are in, and what words are shown in.

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
            findings=(),
        )
        return cls.of(stations_from_spots(notes))

    @classmethod
    def of(cls, found: survey_stations.Stations) -> Stations:
        """The same stations with what this class adds."""
        return cls(**{one.name: getattr(found, one.name) for one in fields(found)})

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
    notes: Table,
    unit: Unit | None = None,
    *,
    columns: str | None = None,
    grid: float | Sequence[float] | None = None,
    decimal: DecimalMark | None = None,
    heights: Literal["elevations", "readings"] | None = None,
) -> Stations:
    """Read spot elevations: stations with x, y and elevation, a grid of elevations, or lettered stations.

    Parameters
    ----------
    notes
        The path of a CSV file or a workbook (xlsx, ods, xls), its bytes, or either with the name of a sheet:
        ``("yard.xlsx", "Yard")``. Without it the sheet that looks like notes is read.
    unit
        "m", "cm", "mm", "ft", "in" or "ftUS": the unit of bare numbers; None where the header says it, as
        ``x (m)``.
    columns
        The order of the columns of notes without a header: "name,northing,easting,elevation,description", or
        letters such as "PNEZD".
    grid
        The spacing [unit] of stations named A1, A2 ... B1 ..., or (along the letters, along the numbers).
    decimal
        "." or ",", where the file does not tell it.
    heights
        What the figures of a grid are, where nothing in the file says it.

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
    data, file = table_of(notes, "notes")
    form = NotesForm(unit=unit, columns=columns, grid=lettered_grid(grid, unit), decimal=decimal)
    if heights is not None:
        form = replace(form, survey=SurveyForm(ReadingsForm.asked(heights)))
    return Stations.of(read_stations(data, file, form))


def lettered_grid(spacing: float | Sequence[float] | None, unit: Unit | None) -> LetteredGrid | None:
    """A lettered grid with A1 at 0, 0."""
    if spacing is None:
        return None
    pair = np.broadcast_to(np.asarray(spacing, dtype=np.float64), (2,))
    if not (np.isfinite(pair).all() and (pair > 0).all()):
        raise ValueError(f"a spacing is a length above zero, not {spacing}")
    first, second = (float(value) for value in in_metres(pair, unit or "m"))
    return LetteredGrid(spacing=(first, second))
