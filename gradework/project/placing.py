"""Where the stations stand: on a lettered grid, by x and y, ties, offsets or rays, in a reference system."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, get_args

from gradework.errors import Fault, InputError, visible
from gradework.fieldnotes import LetteredGrid
from gradework.fieldnotes.coordinates import LATITUDE, places_beside
from gradework.fieldnotes.dialect import DecimalMark
from gradework.fieldnotes.headers import Field, X
from gradework.fieldnotes.place_notes import Side
from gradework.fieldnotes.place_table import (
    ANGLE,
    OFFSET,
    PlainPlace,
    Records,
    read_offsets,
    read_places,
    read_rays,
    read_ties,
)
from gradework.project.grid_stations import grid_stations
from gradework.project.levelling_way import columns_of
from gradework.survey.positions import TAPE_SD, Places, make_places, offset_places, ray_places
from gradework.survey.ties import tie_places
from gradework.units import Unit

Point = tuple[float, float]
Placing = Literal["grid", "xy", "ties", "offsets", "rays", "crs"]
PLACINGS: tuple[Placing, ...] = get_args(Placing)


@dataclass(frozen=True)
class PlacesForm:
    """How the places are known; what is None is told by the notes.

    ``data`` and ``file``: a table of its own, None where the places stand beside the readings or follow from
    the names (``grid``). ``marks``: known marks (x, y) [m]. ``baseline``: for offsets. ``seat``: where the
    circle stood, ``zero``: the direction in which it reads 0 [degrees anticlockwise from +x]. ``side``: on
    which hand of the first two ``marks`` tied stations lie where no tie says it. ``crs``: a reference system.
    ``origin``: the station (of a crs) at which x and y are zero. ``receiver``: what read satellite places.
    ``decimal``: the decimal mark of the tables.
    """

    method: Placing | None = None
    grid: LetteredGrid | None = None
    data: bytes | None = None
    file: str = ""
    marks: Mapping[str, Point] = field(default_factory=dict)
    baseline: tuple[Point, Point] | None = None
    seat: Point | None = None
    zero: float = 0.0
    clockwise: bool = True
    side: Side | None = None
    crs: str | None = None
    origin: str | None = None
    receiver: str | None = None
    decimal: DecimalMark | None = None


def find_places(
    form: PlacesForm,
    names: Sequence[str],
    notes: bytes,
    file: str,
    *,
    unit: Unit,
    marks: Collection[str] = (),
) -> Places | None:
    """Find the places of stations; None where nothing says anything about them.

    ``names``: the stations whose heights are known, for a lettered grid, ``marks`` those of them that need no
    place. ``notes``: the table of the readings, where x and y may stand beside them. Raises ``InputError``
    with every fault.
    """
    if form.data is None:
        if form.crs is not None:
            raise InputError([_beside_readings(form.crs, file)])
        if any(columns_of(notes, file, (X,))):
            beside = places_beside(notes, file, unit=unit, decimal=form.decimal)
            if beside is not None and beside.rows:
                return _plain(beside)
        return None if form.grid is None else _on_grid(form.grid, names, marks, file, unit)
    method = placing_of(form)
    read: dict[Placing, Callable[[PlacesForm, bytes, Unit], Places]] = {
        "ties": _tied,
        "offsets": _off_a_line,
        "rays": _rays,
        "crs": _in_system,
        "xy": lambda form, data, unit: _plain(read_places(data, form.file, unit=unit, decimal=form.decimal)),
    }
    if method == "grid":
        raise InputError(
            [
                Fault(
                    "places-clash",
                    "a table of places beside places on a grid",
                    "one or the other",
                    "take out places, or the grid",
                    form.file,
                )
            ]
        )
    return read[method](form, form.data, unit)


def placing_of(form: PlacesForm) -> Placing:
    """How a table of places tells where the stations are, by its columns where the form does not say."""
    if form.method is not None:
        return form.method
    assert form.data is not None
    if form.crs is not None:
        return "crs"
    tells: dict[Field, Placing] = {OFFSET: "offsets", ANGLE: "rays", LATITUDE: "crs", X: "xy"}
    first = next(columns_of(form.data, form.file, tells), None)
    return next((method for one, method in tells.items() if one.name == first), "ties")


def _plain(places: Records[PlainPlace]) -> Places:
    return make_places(
        [p.station for p in places.rows],
        [(p.x, p.y) for p in places.rows],
        [math.nan] * len(places.rows),
        [p.line for p in places.rows],
        file=places.file,
        unit=places.unit,
        findings=places.findings,
    )


def _on_grid(
    grid: LetteredGrid, names: Sequence[str], marks: Collection[str], file: str, unit: Unit
) -> Places:
    """Places of the names that are stations of the grid; other names are marks and turning points."""
    spots, told = grid_stations(names, marks)
    if not spots:
        raise InputError(
            [
                Fault(
                    "notes-not-in-grid",
                    "no station named after the grid",
                    "a letter for the row and a number for the column, such as B3",
                    "mend the names, or give the places some other way",
                    file,
                )
            ]
        )
    places = [grid.place(*at) for at in spots.values()]
    count = len(spots)
    return make_places(
        list(spots), places, [TAPE_SD] * count, [0] * count, file=file, unit=unit, findings=told
    )


def _tied(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    ties = read_ties(data, form.file, unit=unit, marks=list(form.marks), decimal=form.decimal)
    found = tie_places(ties.rows, form.marks, side=form.side, file=form.file, unit=ties.unit)
    return replace(found, findings=(*ties.findings, *found.findings))


def _off_a_line(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    if form.baseline is None:
        raise InputError([_missing("baseline", "offsets without the baseline they are measured from", form)])
    notes = read_offsets(data, form.file, unit=unit, decimal=form.decimal)
    found = offset_places(notes.rows, *form.baseline, file=form.file, unit=notes.unit)
    return replace(found, findings=(*notes.findings, *found.findings))


def _rays(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    if form.seat is None:
        raise InputError([_missing("seat", "angles and distances without the place of the circle", form)])
    notes = read_rays(data, form.file, unit=unit, decimal=form.decimal)
    found = ray_places(
        notes.rows, form.seat, form.zero, clockwise=form.clockwise, file=form.file, unit=notes.unit
    )
    return replace(found, findings=(*notes.findings, *found.findings))


def _beside_readings(crs: str, file: str) -> Fault:
    """Coordinates of a system are read from a table of their own: turning points and marks have none."""
    return Fault(
        "places-key-missing",
        f"the reference system {visible(crs)}, and no table of places beside the readings",
        "the coordinates in a table of their own",
        'put station and coordinates into a file and name it: places = "places.csv" (or --places)',
        file,
    )


def _missing(key: str, found: str, form: PlacesForm) -> Fault:
    line, option = {"baseline": ("[[0, 0], [40, 0]]", "0,0,40,0"), "seat": ("[0, 0]", "0,0")}[key]
    return Fault(
        "places-key-missing",
        found,
        f"{key} under [survey], or --{key}",
        f"add the line {key} = {line}, or --{key} {option}",
        form.file,
    )


def _in_system(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    from gradework.project.system_places import system_places  # loads pyproj

    found = system_places(data, form.file, form.crs, unit=unit, origin=form.origin, decimal=form.decimal)
    return found.asked if found.degrees and form.receiver is None else found.places
