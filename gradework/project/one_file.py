"""Readings and places in one table: which columns are which, and each reader's part of it."""

from __future__ import annotations

from dataclasses import replace

from gradework.errors import Fault, InputError
from gradework.fieldnotes.column_parts import part_columns
from gradework.fieldnotes.coordinates import LATITUDE, LONGITUDE
from gradework.fieldnotes.headers import Field, X, Y
from gradework.fieldnotes.place_table import ALONG, ANGLE, MARK, OFFSET, RISE, SIDE, TAPED, columns_of_ties
from gradework.fieldnotes.reading_columns import FIRST
from gradework.project.levelling_way import Method, columns_of
from gradework.project.placing import PlacesForm, Placing, placing_of


def parted(
    data: bytes, file: str, form: PlacesForm, method: Method | None
) -> tuple[bytes, bytes, PlacesForm]:
    """Give the part of the notes with the readings, the part with x and y beside them, and the form with the
    places of its own table.

    Where the form names the notes themselves as that table, it gets the columns of the places, and the
    readings the others. Spot elevations with x and y are one table for one reader. ``method``: how the
    readings are to be reduced. Raises ``InputError`` for places beside pairs of a water level.
    """
    if form.data is not None and (form.data != data or form.file != file):
        return data, data, form
    if method == "water-level":
        _refuse_pairs(data, file, form)
    if form.data is not None:
        placing = placing_of(form)
        # in a level book the length of a sight is how far the station lies from the circle
        shared = (TAPED,) if placing == "rays" and method == "level" else ()
        readings, places = part_columns(data, file, _fields(placing, form, method), shared=shared)
        return readings, data, replace(form, data=places)
    if method == "spots" or not any(columns_of(data, file, (X,))):
        return data, data, form
    return (*part_columns(data, file, (X, Y)), form)


def _refuse_pairs(data: bytes, file: str, form: PlacesForm) -> None:
    """A row of a table of pairs has two points, so there is no room for the place of one."""
    wide, _ = columns_of_ties(tuple(form.marks))
    places = (X, Y, LONGITUDE, LATITUDE, OFFSET, ANGLE, *wide)
    if not any(columns_of(data, file, (FIRST,))):
        return
    found = dict.fromkeys(columns_of(data, file, places))
    if found or form.data is not None:
        told = f" ({', '.join(found)})" if found else ""
        raise InputError(
            [
                Fault(
                    "places-beside-pairs",
                    f"places{told} in a table of pairs, which has two points a row",
                    "the places in a table of their own, one station a row",
                    'put them into another file and name it: places = "places.csv" (or --places)',
                    file,
                )
            ]
        )


def _fields(placing: Placing, form: PlacesForm, method: Method | None) -> tuple[Field, ...]:
    """The columns that say where a station stands, by the way it was placed.

    A ``rise`` is that of the tape's ends only where it is none of the readings.
    """
    rise = () if method in ("level", "steps") else (RISE,)
    if placing == "offsets":
        return (ALONG, OFFSET)
    if placing == "rays":
        return (ANGLE, *(() if method == "level" else (TAPED,)), *rise)
    if placing == "ties":
        wide, rises = columns_of_ties(tuple(form.marks))
        return (*wide, *rises, MARK, *(() if method == "level" else (TAPED,)), *rise, SIDE)
    return (LONGITUDE, LATITUDE, X, Y)
