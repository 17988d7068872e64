"""In which form the lengths of notes were written, so that they are said back alike."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from gradework.units.numbers import plain

if TYPE_CHECKING:
    from gradework.units.form import Form

MOST_LOOKED_AT = 2**17
"""Bytes: the first few thousand rows tell how a person writes."""

_CELL = re.compile(r"[,;\t\r\n]+")
_FRACTION = r"(?:\d+[ -])?\d+/(?:2|4|8|16|32)"
_INCHES = re.compile(
    rf"(?i)[-+]?(?:\d+ ?(?:'|ft\.?|feet) ?-? ?)?(?:{_FRACTION}|\d+(?:\.\d*)?) ?(?:\"|in\.?|inch|inches)"
    rf"|[-+]?\d+ ?(?:'|ft\.?|feet|-) ?-? ?(?:{_FRACTION}|\d+)|[-+]?{_FRACTION}"
)
_STATION_LIKE = re.compile(r"\d+-\d+")  # 1-2 is a pier as well as 1 ft 2 in
_DECIMALS = re.compile(r"(?i)[-+]?\d*[.]\d+ ?(?:'|ft|feet|m)?")
_MILLIMETRES = re.compile(r"(?i)[-+]?\d+(?:\.\d+)? ?[cm]m")
_HEADED = re.compile(r"(?i)\w[^()]*[(\[] ?(mm|cm|in|inch|inches|\") ?[)\]]")


def written_form(data: bytes) -> Form | None:
    r"""Tell how the lengths of these notes were written; None where nothing but the unit tells it.

    Feet and inches, fractions and columns headed ``(in)`` are "inches"; millimetres and centimetres are "mm";
    else the notes are in the form that goes with their unit. Where several forms stand side by side, as
    places in whole feet beside readings in inches, decimals are outvoted by as many marked cells.

    >>> written_form(b"station,x,y,reading\nA,0,0,4' 6 7/8\"\nB,4,0,5' 1/2\"\n")
    'inches'
    >>> written_form(b"station,drop (cm)\nA,12.5\n"), written_form(b"station,reading\nA,4.57\n")
    ('mm', None)
    """
    inches = millimetres = decimals = 0
    for line in data[:MOST_LOOKED_AT].decode("utf-8-sig", "replace").splitlines():
        if line.lstrip().startswith("#"):
            continue
        for raw in _CELL.split(line):
            cell = plain(_unquoted(raw)).strip()
            head = _HEADED.fullmatch(cell)
            if head:
                return "mm" if head[1].lower() in ("mm", "cm") else "inches"
            if _INCHES.fullmatch(cell) and not _STATION_LIKE.fullmatch(cell):
                inches += 1
            elif _MILLIMETRES.fullmatch(cell):
                millimetres += 1
            elif _DECIMALS.fullmatch(cell):
                decimals += 1
    if not max(inches, millimetres) or decimals > max(inches, millimetres):
        return None
    return "inches" if inches >= millimetres else "mm"


def _unquoted(cell: str) -> str:
    """A cell without the quotes that a table puts around it, its own doubled ones single."""
    text = cell.strip()
    if len(text) > 1 and text[0] == text[-1] == '"' and (text[1:-1].count('"') % 2 == 0 or text[-2:] == '""'):
        text = text[1:-1].replace('""', '"')
    return text
