"""Sheets to print: their size on paper, what is true to scale on them, their numbers."""

from __future__ import annotations

import re
import zlib

import matplotlib.figure
import pytest

from gradework.drawings.page import Page
from gradework.drawings.paper import PAPERS, is_field_sheet, paper_for, pdf_of
from gradework.units.display import Display

MM = 72 / 25.4
"""Points in a millimetre: a PDF counts in 1/72 in (ISO 32000-1, 8.3.2.3)."""


def page(width: float = 190.0, height: float = 259.0) -> matplotlib.figure.Figure:
    """A page with a bar of 50 mm, 20 mm from the left and 30 mm from the lower edge."""
    made = Page(width, height)
    made.strokes([((20.0, 30.0), (70.0, 30.0))], color="black", width=1.0)
    return made.finish()


def media(data: bytes) -> list[tuple[float, float]]:
    boxes = re.findall(rb"/MediaBox \[ *0 0 ([0-9.]+) ([0-9.]+) *\]", data)
    return [(float(wide) / MM, float(high) / MM) for wide, high in boxes]


_STROKE = r"([0-9.]+) ([0-9.]+) m\s+([0-9.]+) ([0-9.]+) l\s+S"


def strokes(data: bytes) -> list[list[float]]:
    """The straight lines that are drawn, from x y to x y [mm from the lower left corner of the sheet]."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL)
    found = [ends for stream in streams for ends in re.findall(_STROKE, _opened(stream))]
    return [[float(n) / MM for n in ends] for ends in found]


def _opened(stream: bytes) -> str:
    try:
        return zlib.decompress(stream).decode("latin-1")
    except zlib.error:
        return ""


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_each_page_fills_a_sheet(paper, size) -> None:
    assert media(pdf_of([page(), page(height=120.0)], paper)) == [pytest.approx(size, abs=0.01)] * 2


@pytest.mark.parametrize("paper", PAPERS)
def test_a_wide_page_turns_the_sheet(paper) -> None:
    (size,) = media(pdf_of([page(259.0, 180.0)], paper))
    assert size == pytest.approx(PAPERS[paper][::-1], abs=0.01)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_page_stands_in_the_middle_at_true_scale(paper) -> None:
    """The bar is 50 mm long, and the page begins 10 mm below the upper edge."""
    (bar,) = strokes(pdf_of([page()], paper))
    wide, high = PAPERS[paper]
    assert bar[2] - bar[0] == pytest.approx(50.0, abs=0.01)
    assert bar[0] == pytest.approx((wide - 190.0) / 2 + 20.0, abs=0.01)
    assert bar[1] == bar[3] == pytest.approx(high - 10.0 - 259.0 + 30.0, abs=0.25)


def test_sheets_are_numbered_and_pages_keep_no_number() -> None:
    pages = [page(), page()]
    data = pdf_of(pages, "a4")
    assert len(re.findall(rb"/Type /Page\b", data)) == 2
    assert not any(figure.texts for figure in pages)
    assert pdf_of(pages, "a4") == data
    assert pdf_of(pages[:1], "a4") != pdf_of(pages[1:] * 2, "a4")
    assert b"CreationDate" not in data
    assert is_field_sheet(data)
    assert not is_field_sheet(data + b"%%EOF")


def test_the_paper_goes_with_the_units() -> None:
    assert [paper_for(Display(unit)) for unit in ("ft", "in", "ftUS", "m", "mm")] == ["letter"] * 3 + [
        "a4"
    ] * 2
