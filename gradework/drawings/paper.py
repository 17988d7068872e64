"""Pages to one PDF for the printer: each in the middle of a sheet of A4 or Letter, numbered, at true scale.

A page is 190 by 259 mm and has no margins; the sheet gives it those that a printer needs.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from types import MappingProxyType
from typing import Literal

from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.lettering import letters_as_text
from gradework.drawings.page import MM_PER_INCH
from gradework.units.display import Display

Paper = Literal["a4", "letter"]

PAPERS: Mapping[Paper, tuple[float, float]] = MappingProxyType(
    {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
)
"""Width and height of a sheet [mm]: ISO 216, and 8 1/2 by 11 in."""

_TOP_MM = 10.0
_NUMBER_MM = 5.7
"""A page begins so far below the upper edge of its sheet; the number stands so far above the lower one, just
within what printers reach."""


def paper_for(show: Display) -> Paper:
    """The paper that goes with the units of a job: Letter with feet and inches, A4 with metres.

    >>> paper_for(Display("ft")), paper_for(Display("mm"))
    ('letter', 'a4')
    """
    return "letter" if show.us else "a4"


def pdf_of(pages: Sequence[matplotlib.figure.Figure], paper: Paper) -> bytes:
    """Turn pages into one PDF: the same pages give the same bytes, whatever the day."""
    from matplotlib.backends.backend_pdf import PdfPages  # only this work writes several pages into one file

    sink = io.BytesIO()
    dateless: dict[str, str | None] = {"Creator": "gradework", "Producer": "gradework", "CreationDate": None}
    with steady(), letters_as_text(), PdfPages(sink, metadata=dateless) as book:
        for number, page in enumerate(pages, start=1):
            sheet = _sheet(page, paper)
            with _numbered(page, sheet.y0, f"sheet {number} of {len(pages)}"):
                book.savefig(page, bbox_inches=sheet)
    return sink.getvalue()


def _sheet(page: matplotlib.figure.Figure, paper: Paper) -> matplotlib.transforms.Bbox:
    """The sheet around a page [in], measured from the lower left corner of the page; a wide page turns it."""
    width, height = page.get_size_inches()
    short, long = (side / MM_PER_INCH for side in PAPERS[paper])
    wide, high = (long, short) if width > height and width > short else (short, long)
    top = min((high - height) / 2, _TOP_MM / MM_PER_INCH)
    return matplotlib.transforms.Bbox.from_bounds((width - wide) / 2, height + top - high, wide, high)


@contextmanager
def _numbered(page: matplotlib.figure.Figure, below: float, words: str) -> Iterator[None]:
    """Write ``words`` at the foot of the sheet, whose lower edge lies at ``below`` [in], as long as it is
    printed: a picture of the page alone has no number."""
    up = (below + _NUMBER_MM / MM_PER_INCH) / page.get_size_inches()[1]
    text = page.text(0.5, up, words, ha="center", va="baseline", fontsize=8)
    try:
        yield
    finally:
        text.remove()


def is_field_sheet(data: bytes) -> bool:
    """Whether a file is a PDF as ``pdf_of`` left it: what is written into it later adds an end of its own."""
    mine = b"/Creator (gradework)" in data and b"/Producer (gradework)" in data
    return data.startswith(b"%PDF-") and mine and data.count(b"%%EOF") == 1
