"""Which sheet of a workbook holds the notes: the one that is named, else the only one that looks so."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence

from gradework.errors import Faults, SheetName, finding, visible
from gradework.fieldnotes.grids import grid_top
from gradework.fieldnotes.headers import BACKSIGHT, ELEVATION, FIRST, STATION, X, means
from gradework.fieldnotes.opening import open_notes
from gradework.fieldnotes.text import Punctuation, read_text
from gradework.fieldnotes.workbook.archive import packed, unpack
from gradework.fieldnotes.workbook.book import SheetText, sheets_as_text
from gradework.fieldnotes.workbook.look import Look
from gradework.fieldnotes.workbook.ods import CONTENT, look_at_ods
from gradework.fieldnotes.workbook.xls import look_at_xls
from gradework.fieldnotes.workbook.xlsx import WORKBOOK, look_at_xlsx


def sheet_of(
    data: bytes, file: str, wanted: str | None, key: str, *, compound: bool
) -> tuple[bytes, SheetName]:
    """The text of a sheet of a workbook, and its name in messages; ``compound``: the workbook is an xls.

    ``wanted`` names the sheet, ``key`` is the key of the job that would. Raises ``InputError``.
    """
    faults = Faults(file)
    if compound:
        looks = look_at_xls(data, faults)
    else:
        data, looks = _unpacked(data, faults)
    found, others = _chosen(data, looks, wanted, key, faults)
    called = SheetName(f"{file}, sheet {visible(found.name)}", skipped=found.skipped)
    if others:
        name, listed, option = visible(found.name), _listed(others), option_of(key)
        told = finding("workbook-sheet-found", "note", called, sheet=name, others=listed, option=option)
        called.findings = (told,)
    return found.text.encode(), called


def option_of(key: str) -> str:
    """The option of the command line that says the same as a key of the job."""
    return "--" + key.replace("_", "-")


def _unpacked(data: bytes, faults: Faults) -> tuple[bytes, dict[str, Look]]:
    members = unpack(data, faults)
    if "xl/workbook.bin" in members:
        faults.halt("workbook-unreadable", variant="binary")
    if WORKBOOK not in members and CONTENT not in members:
        faults.halt("workbook-unreadable", variant="other")
    looks = look_at_xlsx(members, faults) if WORKBOOK in members else look_at_ods(members, faults)
    return packed(members), looks


def _chosen(
    data: bytes, looks: Mapping[str, Look], wanted: str | None, key: str, faults: Faults
) -> tuple[SheetText, list[str]]:
    """The sheet, and the names of the others among which it was found."""
    name = None if wanted is None else _named(list(looks), wanted, key, faults)
    filled = [one for one in sheets_as_text(data, looks, name, faults) if one.text]
    if not filled:
        faults.halt("workbook-unreadable", variant="empty")
    likely = filled if len(filled) == 1 else [one for one in filled if _looks_like_notes(one)]
    if len(likely) != 1:
        listed = [one.name for one in likely or filled]
        faults.halt(
            "workbook-sheet",
            variant="several" if likely else "none",
            option=option_of(key),
            key=key,
            sheets=_listed(listed),
            sheet=visible(listed[0]),
        )
    return likely[0], [one.name for one in filled if one is not likely[0]]


_MOST_LISTED = 6


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(visible(name) for name in names[:_MOST_LISTED])
    return shown + (f" and {len(names) - _MOST_LISTED} more" if len(names) > _MOST_LISTED else "")


def _named(names: Sequence[str], wanted: str, key: str, faults: Faults) -> str:
    """The sheet of that name, in any case of its letters."""
    folded = {name.strip().casefold(): name for name in names}
    plain = wanted.strip().casefold()
    if wanted not in names and plain not in folded:
        near = difflib.get_close_matches(plain, folded, n=1, cutoff=0.5)
        faults.halt(
            "workbook-sheet",
            variant="near" if near else "",
            option=option_of(key),
            sheet=visible(wanted),
            sheets=_listed(names),
            near=visible(folded[near[0]]) if near else "",
        )
    return wanted if wanted in names else folded[plain]


_TELLING = (STATION, X, BACKSIGHT, FIRST, ELEVATION)


def _looks_like_notes(sheet: SheetText) -> bool:
    """True where a row near the top names stations, or places, or is the top of a grid."""
    notes = read_text(sheet.text.encode(), "")
    opening = open_notes(notes, Punctuation("\t"))
    if grid_top(opening) is not None:
        return True
    return any(means(cell, field) for _, cells in opening.rows for cell in cells for field in _TELLING)
