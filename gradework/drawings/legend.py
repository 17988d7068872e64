"""The legend: a sample of each thing that was drawn, with its name; nothing that was not drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from gradework.drawings import ink
from gradework.drawings.lettering import Style, wrapped
from gradework.drawings.page import Page

SAMPLE_MM = 12.0
ROW_MM = 4.7
LINE_MM = 3.3
HEADING = Style(points=9, weight="bold")
WORDS = Style(points=8)

Painter = Callable[[Page, float, float], object]
"""Draws a sample 12 mm wide and 3 mm high; called with the page and the left middle of its box [mm]."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the legend: what it is called and how its sample is drawn."""

    words: str
    sample: Painter


def line_entry(words: str, *, color: str, width: float, dash: Any = ink.SOLID) -> Entry:
    """Make an entry whose sample is a stroke of the same pen."""

    def sample(page: Page, x: float, y: float) -> object:
        return page.strokes([((x, y), (x + SAMPLE_MM, y))], color=color, width=width, dash=dash)

    return Entry(words, sample)


def area_entry(words: str, *, face: str, hatch: str, edge: str = ink.SOFT) -> Entry:
    """Make an entry whose sample is a small hatched field."""

    def sample(page: Page, x: float, y: float) -> object:
        return page.box(
            x, y - 1.7, SAMPLE_MM, 3.4, facecolor=face, edgecolor=edge, hatch=hatch, linewidth=ink.GRID
        )

    return Entry(words, sample)


def mark_entry(words: str, *, marker: str, size: float, color: str = ink.BLACK, face: str = "white") -> Entry:
    """Make an entry whose sample is one mark."""

    def sample(page: Page, x: float, y: float) -> object:
        middle = x + SAMPLE_MM / 2
        return page.axes.plot([middle], [y], marker, markersize=size, color=color, markerfacecolor=face)

    return Entry(words, sample)


def text_entry(words: str, text: str, style: Style = WORDS) -> Entry:
    """Make an entry whose sample is a piece of lettering."""

    def sample(page: Page, x: float, y: float) -> object:
        return page.write(text, (x + SAMPLE_MM / 2, y), style, across="center", up="center")

    return Entry(words, sample)


def draw_legend(
    page: Page, place: tuple[float, float], entries: Sequence[Entry], *, width: float, columns: int = 1
) -> float:
    """Draw the entries down from ``place`` (left, top) in columns of ``width``; return their end [mm]."""
    left, top = place
    page.write("Legend", (left, top), HEADING, up="top")
    room = width - SAMPLE_MM - 2.5
    lines = [wrapped(entry.words, WORDS.points, room) for entry in entries]
    heights = [ROW_MM + (len(texts) - 1) * LINE_MM for texts in lines]
    y = end = start = top - 7.2
    for entry, texts, height in zip(entries, lines, heights, strict=True):
        if columns > 1 and start - y > sum(heights) / columns - height / 2:
            left, y, columns = left + width + 4.0, start, 1
        entry.sample(page, left, y)
        for number, text in enumerate(texts):
            page.write(text, (left + SAMPLE_MM + 2.5, y - number * LINE_MM), WORDS, up="center")
        y -= height
        end = min(end, y)
    return end + ROW_MM / 2
