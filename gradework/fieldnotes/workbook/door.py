"""A workbook becomes the text of one of its sheets: the same table of cells, so that every reader takes it.

Each row of the sheet is one line, with tabs between the cells, and each fault about the text names the cell.
What unpacks and reads workbooks is loaded only where one comes.
"""

from __future__ import annotations

from gradework.errors import InputError, SheetName, fault, visible

_ARCHIVE = b"PK\x03\x04"
"""How an xlsx or ods begins: an archive of XML files."""

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""How an xls begins, and a workbook with a password."""

SHEET = "sheet"
PLACES_SHEET = "places_sheet"
"""The keys of the job that name the sheet of the notes and of the places; the options are called the same."""


def notes_in(data: bytes, file: str, sheet: str | None = None, *, key: str = SHEET) -> tuple[bytes, str]:
    """Take text as it is, and of a workbook the sheet that holds the notes; give the text and its name.

    ``sheet`` names one of several, in any case of its letters; without it the one that looks like notes is
    taken, and said so. ``key``: of the job, which a fault advises. What comes out may come in again.

    >>> notes_in(b"station,x,y,elevation\\n", "yard.csv")
    (b'station,x,y,elevation\\n', 'yard.csv')

    Raises
    ------
    InputError
        for a workbook that is damaged, locked or too large, and where the sheet is not there or not clear.
    """
    if isinstance(file, SheetName):
        return data, file
    option = "--" + key.replace("_", "-")
    if data.startswith((_ARCHIVE, _COMPOUND)):
        from gradework.fieldnotes.workbook.choice import Asked, sheet_of  # loads zip and XML

        return sheet_of(data, file, Asked(sheet, key, option), compound=data.startswith(_COMPOUND))
    if sheet is not None:
        told = fault("workbook-sheet", variant="text", file=file, option=option, sheet=visible(sheet))
        raise InputError([told])
    return data, file
