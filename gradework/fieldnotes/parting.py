"""One table parted by its columns in two, so that two readers each get their own, lines and columns kept."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from gradework.errors import Faults
from gradework.fieldnotes.headers import COLUMN_WORDS, NOTE, STATION, Field, means
from gradework.fieldnotes.opening import open_notes
from gradework.fieldnotes.rows import blocks, is_comment
from gradework.fieldnotes.text import decide_punctuation, read_text

Rows = Sequence[tuple[int, Sequence[str]]]


def part_columns(
    data: bytes, file: str, second: Sequence[Field], *, shared: Sequence[Field] = ()
) -> tuple[bytes, bytes]:
    """Part a table by its columns: those that are none of the fields ``second``, and those that are.

    Each of two readers gets the table with the columns of the other left blank. Lines and columns stay where
    they are, so that errors still point at the file.
    Stations, notes and the fields ``shared`` stand in both; a row that has nothing else in a part is left out
    of it. A table whose first rows hold no header comes back whole, twice.

    >>> part_columns(b"station,reading,along\\nA,1.5,3\\nBM,1.2,\\n", "n.csv", [Field("along", ("along",))])
    (b'station,reading,     \\nA,1.5, \\nBM,1.2,\\n', b'station,       ,along\\nA,   ,3\\n\\n')
    """
    notes = read_text(data, file)
    punctuation = decide_punctuation(notes, Faults(file), decimal=".")  # only cells are cut here
    opening = open_notes(notes, punctuation)
    place = opening.header_at((STATION, *second, *shared, *COLUMN_WORDS), share=0.0)
    if place is None or not any(means(cell, STATION) for cell in opening.rows[place][1]):
        return data, data
    header, cells = opening.rows[place]
    in_both = (STATION, NOTE, *shared)
    both = {i for i, cell in enumerate(cells) if any(means(cell, one) for one in in_both)}
    mine = {i for i, cell in enumerate(cells) if i not in both and any(means(cell, one) for one in second)}
    others = set(range(len(cells))) - both - mine
    rows = [
        row
        for block in blocks(notes, punctuation, Faults(file), first_line=punctuation.first_line)
        for row in block.rows()
    ]
    mark = punctuation.separator
    return _written(rows, mark, header, mine, others), _written(rows, mark, header, others, mine)


def _raw(cell: str, mark: str) -> str:
    """A cell as it stands in the file: in quotes where it must."""
    if mark in cell or '"' in cell or "\n" in cell:
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _written(rows: Rows, mark: str, header: int, drop: Collection[int], own: Collection[int]) -> bytes:
    """Write the rows, each on its own line, without what stands in the columns ``drop``."""
    text: list[str] = []
    at = 1
    for number, cells in rows:
        text.append("\n" * (number - at))
        line = ""
        if number < header or is_comment(cells):
            line = mark.join(cells)
        elif number == header or any(cells[i].strip() for i in own if i < len(cells)):
            raw = [_raw(cell, mark) for cell in cells]
            line = mark.join(" " * len(cell) if i in drop else cell for i, cell in enumerate(raw))
        text.append(line + "\n")
        at = number + 1 + line.count("\n")
    return "".join(text).encode()
