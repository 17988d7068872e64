"""Which points a file of notes names, without reading anything else of it."""

from __future__ import annotations

from collections.abc import Iterator

from gradework.errors import Faults
from gradework.fieldnotes.headers import COLUMN_WORDS, NOTE, STATION, means
from gradework.fieldnotes.heights import END, START
from gradework.fieldnotes.opening import open_notes
from gradework.fieldnotes.rows import blocks, is_comment
from gradework.fieldnotes.text import decide_punctuation, read_text

_NAMES = (STATION, START, END)


def names_in(data: bytes, file: str) -> tuple[str, ...]:
    """Give every name in the columns of stations, each once, in the order of the file.

    The columns are those headed station (or a word for it), and ``from`` and ``to`` of pairs. Only they name
    stations: a reading of 6 is no station 6. Empty where no row is such a header; the reader of the notes
    will say why. Raises ``InputError`` for bytes that are no text.

    >>> names_in(b"station,BS,IS\\nsill,6,\\nP1,,4.2\\nP1,,4.2\\n", "tops.csv")
    ('sill', 'P1')
    """
    return tuple(dict.fromkeys(name for name, _ in _rows(data, file)))


def remarks_in(data: bytes, file: str) -> dict[str, str]:
    """Give what stands in the columns of notes, by the name beside it; names without a remark are left out.

    >>> remarks_in(b"station,IS,note\\nP1,4.2,hit rock\\nP2,4.3,\\n", "holes.csv")
    {'P1': 'hit rock'}
    """
    told: dict[str, str] = {}
    for name, remark in _rows(data, file):
        if remark:
            told[name] = f"{told[name]}; {remark}" if name in told else remark
    return told


def _rows(data: bytes, file: str) -> Iterator[tuple[str, str]]:
    """Run through the names of each row, each with the remark of the row."""
    notes = read_text(data, file)
    punctuation = decide_punctuation(notes, Faults(file), decimal=".")  # only cells are cut here
    opening = open_notes(notes, punctuation)
    place = opening.header_at((*COLUMN_WORDS, START, END), share=0.0)
    if place is None:
        return
    header, heads = opening.rows[place]
    columns = [i for i, cell in enumerate(heads) if any(means(cell, one) for one in _NAMES)]
    notes_at = [i for i, cell in enumerate(heads) if means(cell, NOTE)]
    for block in blocks(notes, punctuation, Faults(file), first_line=punctuation.first_line):
        for line, cells in block.rows():
            if line <= header or is_comment(cells):
                continue
            remark = " ".join(cells[i].strip() for i in notes_at if i < len(cells)).strip()
            yield from ((cells[i].strip(), remark) for i in columns if i < len(cells) and cells[i].strip())
