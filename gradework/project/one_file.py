"""Readings and places in one table: which columns are which, and each reader's part of it."""

from __future__ import annotations

from dataclasses import replace

from gradework.fieldnotes.column_parts import part_columns
from gradework.fieldnotes.coordinates import LATITUDE, LONGITUDE
from gradework.fieldnotes.headers import Field, X, Y
from gradework.fieldnotes.place_table import ALONG, ANGLE, MARK, OFFSET, RISE, SIDE, TAPED, columns_of_ties
from gradework.project.levelling_way import Method, columns_of
from gradework.project.placing import PlacesForm, Placing, placing_of


def parted(
    data: bytes, file: str, form: PlacesForm, method: Method | None
) -> tuple[bytes, bytes, PlacesForm]:
    """Give the part of the notes with the readings, the part with x and y beside them, and the form with the
    places of its own table.

    Where the form names the notes themselves as that table, it gets the columns of the places, and the
    readings the others. Spot elevations with x and y are one table for one reader.
    """
    if form.data is not None:
        if form.data != data or form.file != file:
            return data, data, form
        readings, places = part_columns(data, file, _fields(placing_of(form), form))
        return readings, data, replace(form, data=places)
    if method == "spots" or not any(columns_of(data, file, (X,))):
        return data, data, form
    return (*part_columns(data, file, (X, Y)), form)


def _fields(placing: Placing, form: PlacesForm) -> tuple[Field, ...]:
    """The columns that say where a station stands, by the way it was placed."""
    if placing == "offsets":
        return (ALONG, OFFSET)
    if placing == "rays":
        return (ANGLE, TAPED, RISE)
    if placing == "ties":
        wide, rises = columns_of_ties(tuple(form.marks))
        return (*wide, *rises, MARK, TAPED, RISE, SIDE)
    return (LONGITUDE, LATITUDE, X, Y)
