"""Where the stations stand: on a lettered grid, by x and y, ties, offsets or rays, in a reference system."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.fieldnotes.coordinates import LATITUDE, places_beside, read_system
from gradework.fieldnotes.headers import Field, X
from gradework.fieldnotes.lettered import LetteredGrid, row_and_column
from gradework.fieldnotes.places import (
    ANGLE,
    OFFSET,
    PlainPlace,
    Records,
    read_offsets,
    read_places,
    read_rays,
    read_ties,
)
from gradework.fieldnotes.text import DecimalMark
from gradework.project.stations.forms import PlacesForm
from gradework.project.stations.method import Placing, columns_of
from gradework.survey.levelling.water_and_laser import RECEIVERS
from gradework.survey.placing.tape import TAPE_SD, Places, make_places, offset_places, ray_places
from gradework.survey.placing.ties import tie_places
from gradework.units.display import Display
from gradework.units.lengths import Unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.survey.placing.crs import GroundFrame


# Which names of a level book are stations of the lettered grid, and which are marks that look like one.
#
# TP1, BM2 or M1 fit the pattern of a letter and a number, but row TP of a grid would be half a mile away.

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
    told = finding("marks-off-grid", "note", visible(far[0]), float(len(far)), marks=named + more)
    return spots, (told,)


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


# A table of coordinates in a reference system as places of the yard, with the elevations beside them.


class SystemPlaces(NamedTuple):
    """``places`` in the yard's own x and y; ``levels``: the elevation of each [m] or None; ``degrees``:
    whether the system counts in longitude and latitude."""

    places: Places
    levels: tuple[float | None, ...]
    degrees: bool

    @property
    def asked(self) -> Places:
        """The places with a note that asks what they were read with."""
        return replace(self.places, findings=(*self.places.findings, _which_receiver(self)))


def system_places(
    data: bytes,
    file: str,
    crs: str | None,
    *,
    unit: Unit | None,
    origin: str | None = None,
    decimal: DecimalMark | None = None,
    columns: str | None = None,
) -> SystemPlaces:
    """Read coordinates of the system ``crs``; x and y are zero at the station ``origin``, if it is named.

    Raises ``InputError`` with every fault.
    """
    from gradework.survey.placing.crs import local_places  # loads pyproj

    if crs is None:
        raise InputError([fault("places-key-missing", variant="crs", file=file)])
    notes = read_system(data, file, unit=unit, decimal=decimal, columns=columns)
    rows = notes.rows
    height = _height_of_site([r.elevation for r in rows if r.elevation is not None])
    local, frame = local_places(
        [r.east for r in rows],
        [r.north for r in rows],
        crs,
        unit=notes.axes,
        height=height,
        names=[r.station for r in rows],
        lines=[r.line for r in rows],
        file=file,
    )
    names = [r.station for r in rows]
    zero = "the middle of the survey" if frame.degrees else f"{frame.origin[0]:.0f}, {frame.origin[1]:.0f}"
    xy = local
    if origin is not None:
        at = _named(origin, names, file)
        xy, zero = local - local[at], visible(origin)
    told = _told_of_frame(frame, local, Display(notes.unit), file, zero=zero, height=height)
    places = make_places(
        names,
        xy,
        [math.nan] * len(rows),
        [r.line for r in rows],
        file=file,
        unit=notes.unit,
        findings=(*notes.findings, told),
    )
    zeroed = replace(frame, zero=(float(local[at, 0]), float(local[at, 1]))) if origin is not None else frame
    places = replace(places, frame=zeroed)
    return SystemPlaces(places, tuple(r.elevation for r in rows), frame.degrees)


def refuse_unsaid_receiver(found: SystemPlaces, file: str) -> None:
    """A fault for elevations beside degrees: nearly always a satellite receiver read them, and which kind it
    was decides whether they can serve."""
    listed = ", ".join(f'"{word}"' for word in RECEIVERS)
    rows = zip(found.places.lines, found.levels, strict=True)
    line = next(line for line, level in rows if level is not None)
    raise InputError([fault("receiver-not-said", file=file, line=line, listed=listed)])


def _which_receiver(found: SystemPlaces) -> Finding:
    things = "places and heights" if any(level is not None for level in found.levels) else "places"
    kinds = ", ".join(RECEIVERS)
    return finding("receiver-asked", "note", found.places.file, things=things, kinds=kinds)


_DEEPEST, _HIGHEST = -450.0, 6_000.0
"""[m] Elevations between which people build; others are on a datum of their own, or slips."""


def _height_of_site(levels: Sequence[float]) -> float | None:
    """The elevation that lengths are raised to [m]: the middle of those beside the coordinates, if any.

    To be 30 m out, as sea level and the ellipsoid of satellites are, is 0.05 mm in 10 m.
    """
    middle = float(np.median(levels)) if levels else math.nan
    return middle if _DEEPEST <= middle <= _HIGHEST else None


def _told_of_frame(
    frame: GroundFrame,
    local: NDArray[np.float64],
    show: Display,
    file: str,
    *,
    zero: str,
    height: float | None,
) -> Finding:
    """Say where x and y start, at which height lengths are, and where on earth the middle of the places is.

    By the last exchanged columns are seen.
    """
    ((lon, lat),) = frame.longitude_latitude(np.median(local, axis=0)).tolist()
    ns, ew = "south" if lat < 0 else "north", "west" if lon < 0 else "east"
    long, more, step = ("100 ft", "1/16 in", "1,000 ft") if show.us else ("100 m", "1.6 mm", "100 m")
    return finding(
        "places-in-system",
        "note",
        file,
        variant="" if height is None else "ground",
        zero=zero,
        crs=visible(frame.crs),
        height="" if height is None else show.elevation(height),
        long=long,
        more=more,
        step=step,
        latitude=f"{abs(lat):.3f}° {ns}",
        longitude=f"{abs(lon):.3f}° {ew}",
    )


def _named(name: str, names: Sequence[str], file: str) -> int:
    if name in names:
        return names.index(name)
    raise InputError([fault("places-origin-unknown", file=file, origin=visible(name))])


Point = tuple[float, float]


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
            # turning points and marks have no coordinates, so these need a table of their own
            raise InputError(
                [fault("places-key-missing", variant="places", file=file, crs=visible(form.crs))]
            )
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
        raise InputError([fault("places-clash", file=form.file)])
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
        raise InputError([fault("notes-not-in-grid", variant="none", file=file)])
    places = [grid.place(*at) for at in spots.values()]
    count = len(spots)
    return make_places(
        list(spots), places, [TAPE_SD] * count, [0] * count, file=file, unit=unit, findings=told
    )


def _tied(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    ties = read_ties(data, form.file, unit=unit, marks=list(form.marks), decimal=form.decimal)
    found = tie_places(ties.rows, form.marks, side=form.side, file=form.file, show=Display(ties.unit))
    return replace(found, findings=(*ties.findings, *found.findings))


def _off_a_line(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    if form.baseline is None:
        raise InputError([fault("places-key-missing", variant="baseline", file=form.file)])
    notes = read_offsets(data, form.file, unit=unit, decimal=form.decimal)
    found = offset_places(notes.rows, *form.baseline, file=form.file, unit=notes.unit)
    return replace(found, findings=(*notes.findings, *found.findings))


def _rays(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    if form.seat is None:
        raise InputError([fault("places-key-missing", variant="seat", file=form.file)])
    notes = read_rays(data, form.file, unit=unit, decimal=form.decimal)
    found = ray_places(
        notes.rows, form.seat, form.zero, clockwise=form.clockwise, file=form.file, unit=notes.unit
    )
    return replace(found, findings=(*notes.findings, *found.findings))


def _in_system(form: PlacesForm, data: bytes, unit: Unit) -> Places:
    found = system_places(data, form.file, form.crs, unit=unit, origin=form.origin, decimal=form.decimal)
    return found.asked if found.degrees and form.receiver is None else found.places
