"""The legend: a sample of each thing that was drawn, with its name; nothing that was not drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib
from gradework.drawings.lettering import wrapped, write

SAMPLE_MM = 12.0
ROW_MM = 4.6
_POINTS = 7.5
_LINE_MM = 3.2

Painter = Callable[[Any, float, float], object]
"""Draws a sample into a box 12 mm wide and 3 mm high; called with the axes and the box's left middle [mm]."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the legend: what it is called and how its sample is drawn."""

    words: str
    sample: Painter


def line_entry(words: str, *, color: str, width: float, dash: Any = ink.SOLID) -> Entry:
    """Make an entry whose sample is a stroke of the same pen."""

    def sample(axes: Any, x: float, y: float) -> object:
        return axes.plot([x, x + SAMPLE_MM], [y, y], color=color, linewidth=width, linestyle=dash)

    return Entry(words, sample)


def area_entry(words: str, *, face: str, hatch: str, edge: str = ink.SOFT) -> Entry:
    """Make an entry whose sample is a small hatched field."""

    def sample(axes: Any, x: float, y: float) -> object:
        box = matplotlib.patches.Rectangle(
            (x, y - 1.6), SAMPLE_MM, 3.2, facecolor=face, edgecolor=edge, hatch=hatch, linewidth=ink.GRID
        )
        return axes.add_patch(box)

    return Entry(words, sample)


def mark_entry(words: str, *, marker: str, size: float, color: str = ink.BLACK, face: str = "white") -> Entry:
    """Make an entry whose sample is one mark."""

    def sample(axes: Any, x: float, y: float) -> object:
        return axes.plot([x + SAMPLE_MM / 2], [y], marker, markersize=size, color=color, markerfacecolor=face)

    return Entry(words, sample)


def text_entry(words: str, text: str, *, color: str = ink.BLACK, points: float = _POINTS) -> Entry:
    """Make an entry whose sample is a piece of lettering."""

    def sample(axes: Any, x: float, y: float) -> object:
        return write(
            axes, (x + SAMPLE_MM / 2, y), text, points=points, color=color, ha="center", va="center_baseline"
        )

    return Entry(words, sample)


def draw_legend(axes: Any, place: tuple[float, float], entries: Sequence[Entry], *, width: float) -> float:
    """Draw the entries downwards from ``place`` (left, top) [mm] and return where they end [mm]."""
    left, top = place
    write(axes, (left, top), "Legend", points=9, weight="bold", va="top", color=ink.BLACK)
    y = top - 7.2
    for entry in entries:
        lines = wrapped(entry.words, _POINTS, width - SAMPLE_MM - 2.5)
        entry.sample(axes, left, y)
        for number, line in enumerate(lines):
            write(
                axes,
                (left + SAMPLE_MM + 2.5, y - number * _LINE_MM),
                line,
                points=_POINTS,
                va="center",
                color=ink.BLACK,
            )
        y -= ROW_MM + (len(lines) - 1) * _LINE_MM
    return y + ROW_MM / 2
