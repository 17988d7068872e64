"""Which way of levelling the first row of notes tells: decided before any reader or reduction is loaded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Literal, get_args

from gradework.errors import Faults, InputError
from gradework.fieldnotes.headers import COLUMN_WORDS, Field, means
from gradework.fieldnotes.opening import open_notes
from gradework.fieldnotes.text import decide_punctuation, read_text
from gradework.survey.levelling.ways import WAYS, Method

Placing = Literal["grid", "xy", "ties", "offsets", "rays", "crs"]
PLACINGS: tuple[Placing, ...] = get_args(Placing)
Share = Literal["setups", "distance"]
SHARES: tuple[Share, ...] = get_args(Share)

_PEEK = 65_536
_TELLS: Mapping[Field, Method] = {field: method for method, way in WAYS.items() for field in way.told_by}


def method_of(data: bytes, file: str) -> Method | None:
    """Tell the way of levelling by the first row of the notes; None if it cannot be told.

    Looks at the first 64 kB only.

    >>> method_of(b"station,BS,IS,FS\\nBM,1.5,,\\n", "book.csv"), method_of(b"A,1,2,3\\n", "x.csv")
    ('level', None)
    """
    try:
        first = next(columns_of(data, file, _TELLS), None)
    except InputError:
        return None  # the reader of the notes will say it better
    return next((method for one, method in _TELLS.items() if one.name == first), None)


def columns_of(data: bytes, file: str, wanted: Iterable[Field]) -> Iterator[str]:
    """Run through the wanted fields that the header has, in their order."""
    notes = read_text(data[:_PEEK], file)
    # Only the cells are split here: which decimal mark counts is for the reader of the notes to decide.
    opening = open_notes(notes, decide_punctuation(notes, Faults(file), decimal="."))
    fields = tuple(wanted)
    position = opening.header_at((*fields, *COLUMN_WORDS), share=0.0)
    if position is None:
        return
    for one in fields:
        if any(means(cell, one) for cell in opening.rows[position][1]):
            yield one.name
