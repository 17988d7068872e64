"""Which sheet of a workbook holds the notes: the one that is named, else the only one that looks so."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from gradework.errors import Faults, InputError, SheetName, finding, visible
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


class Asked(NamedTuple):
    """The ``sheet`` that was asked for by name, if any; the ``key`` of the job and the ``option`` that name
    one."""

    sheet: str | None
    key: str
    option: str


def sheet_of(data: bytes, file: str, asked: Asked, *, compound: bool) -> tuple[bytes, SheetName]:
    """The text of a sheet of a workbook, and its name in messages; ``compound``: the workbook is an xls.

    Raises ``InputError``.
    """
    faults = Faults(file)
    if compound:
        looks = look_at_xls(data, faults)
    else:
        data, looks = _unpacked(data, faults)
    found, others = _chosen(data, looks, asked, faults)
    called = SheetName(f"{file}, sheet {visible(found.name)}", skipped=found.skipped)
    if others:
        name, listed = visible(found.name), _listed(others)
        told = finding("workbook-sheet-found", "note", called, sheet=name, others=listed, option=asked.option)
        called.findings = (told,)
    return found.text.encode(), called


def _unpacked(data: bytes, faults: Faults) -> tuple[bytes, dict[str, Look]]:
    members = unpack(data, faults)
    if "xl/workbook.bin" in members:
        faults.halt("workbook-unreadable", variant="binary")
    if WORKBOOK not in members and CONTENT not in members:
        faults.halt("workbook-unreadable", variant="other")
    looks = look_at_xlsx(members, faults) if WORKBOOK in members else look_at_ods(members, faults)
    return packed(members), looks


def _chosen(
    data: bytes, looks: Mapping[str, Look], asked: Asked, faults: Faults
) -> tuple[SheetText, list[str]]:
    """The sheet, and the names of the others among which it was found."""
    name = None if asked.sheet is None else _named(list(looks), asked.sheet, asked.option, faults)
    filled = [one for one in sheets_as_text(data, looks, name, faults) if one.text]
    if not filled and name is not None:
        faults.halt("workbook-unreadable", variant="empty-sheet", sheet=visible(name), option=asked.option)
    if not filled:
        faults.halt("workbook-unreadable", variant="empty")
    likely = filled if len(filled) == 1 else [one for one in filled if _looks_like_notes(one)]
    if len(likely) != 1:
        listed = [one.name for one in likely or filled]
        faults.halt(
            "workbook-sheet",
            variant="several" if likely else "none",
            option=asked.option,
            key=asked.key,
            sheets=_listed(listed),
            sheet=visible(listed[0]),
        )
    return likely[0], [one.name for one in filled if one is not likely[0]]


_MOST_LISTED = 6


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(visible(name) for name in names[:_MOST_LISTED])
    return shown + (f" and {len(names) - _MOST_LISTED} more" if len(names) > _MOST_LISTED else "")


def _named(names: Sequence[str], wanted: str, option: str, faults: Faults) -> str:
    """The sheet of that name, in any case of its letters."""
    folded = {name.strip().casefold(): name for name in names}
    plain = wanted.strip().casefold()
    if wanted not in names and plain not in folded:
        near = difflib.get_close_matches(plain, folded, n=1, cutoff=0.5)
        faults.halt(
            "workbook-sheet",
            variant="near" if near else "",
            option=option,
            sheet=visible(wanted),
            sheets=_listed(names),
            near=visible(folded[near[0]]) if near else "",
        )
    return wanted if wanted in names else folded[plain]


_TELLING = (STATION, X, BACKSIGHT, FIRST, ELEVATION)


def _looks_like_notes(sheet: SheetText) -> bool:
    """True where a row near the top names stations, or places, or is the top of a grid.

    A sheet that is no text of notes, with a remark as long as a page or a list as wide, is not asked for.
    """
    try:
        notes = read_text(sheet.text.encode(), "")
    except InputError:
        return False
    opening = open_notes(notes, Punctuation("\t"))
    if grid_top(opening) is not None:
        return True
    return any(means(cell, field) for _, cells in opening.rows for cell in cells for field in _TELLING)
