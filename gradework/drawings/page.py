"""Lines to fill in by hand: words, and a rule to write on wherever a figure or a word is wanted."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.lettering import Letters, Line, Style, set_line, shortened, width_mm, wrapped
from gradework.units.display import Display, fixed
from gradework.units.numbers import round_steps

# The page in millimetres: its size, a standard scale, and the way from the yard to the paper.
#
# The page is 190 by 259 mm, which A4 and Letter both print at 100 % with room for the printer's margins.

Floats = NDArray[np.float64]

WIDTH_MM, HEIGHT_MM = 190.0, 259.0
MM_PER_INCH = 25.4

_PLAIN = Style()
_GROUND_ZORDER = 7.0

# scales on a tape marked in sixteenths and on an engineer's rule
_FEET_TO_THE_INCH = (1, 2, 4, 5, 8, 10, 16, 20, 30, 40, 50, 60)
_RULE_FRACTIONS = {1: "1", 2: "1/2", 4: "1/4", 8: "1/8", 16: "1/16"}
_ONE_TO = (10, 20, 25, 50, 75, 100, 125, 200, 250)


@dataclass(frozen=True, slots=True)
class Scale:
    """A standard scale. ``ratio`` is metres in the yard for one metre on paper [-]; ``words`` say it."""

    ratio: float
    words: str

    @property
    def mm_per_m(self) -> float:
        """Millimetres on paper for one metre in the yard [mm/m]."""
        return 1000.0 / self.ratio


def _feet_scale(feet: int, show: Display) -> Scale:
    ratio = feet * show.metres_per_unit / 0.0254
    words = f"1 in = {feet} ft"
    if feet > 1 and feet in _RULE_FRACTIONS:
        words += f" ({_RULE_FRACTIONS[feet]} in = 1 ft)"
    return Scale(ratio, words)


def standard_scales(show: Display) -> Iterator[Scale]:
    """Run through the standard scales of the user's system, the largest drawing first, without end."""
    if not show.metric:
        yield from (_feet_scale(feet, show) for feet in _FEET_TO_THE_INCH)
        tens = 100
        while True:
            yield from (_feet_scale(feet * tens, show) for feet in (1, 2, 3, 4, 5, 6))
            tens *= 10
    yield from (Scale(float(n), f"1:{n}") for n in _ONE_TO)
    tens = 100
    while True:
        yield from (Scale(float(n * tens), f"1:{n * tens}") for n in (5, 10, 20, 25))
        tens *= 10


def choose_scale(size_m: tuple[float, float], room_mm: tuple[float, float], show: Display) -> Scale:
    """Choose the largest standard scale at which something of ``size_m`` [m] fits into ``room_mm`` [mm].

    >>> choose_scale((13.7, 12.5), (178, 170), Display("m")).words
    '1:100'
    """
    for scale in standard_scales(show):
        if all(size * scale.mm_per_m <= room for size, room in zip(size_m, room_mm, strict=True)):
            return scale
    raise AssertionError("the scales have no end")  # pragma: no cover - the loop is endless


@dataclass(frozen=True, slots=True)
class MapWindow:
    """The part of the page that shows the yard: where it stands [mm], what is at its middle, at which scale.

    ``left, bottom, right, top`` are millimetres on the page; ``middle`` is the place [m] in the site frame
    that stands at the window's centre.
    """

    left: float
    bottom: float
    right: float
    top: float
    middle: tuple[float, float]
    scale: Scale

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top [mm]."""
        return self.left, self.bottom, self.right, self.top

    def to_page(self, xy: Floats) -> Floats:
        """Turn places in the yard ``(n, 2)`` [m] into places on the page ``(n, 2)`` [mm]."""
        centre = np.array([(self.left + self.right) / 2, (self.bottom + self.top) / 2])
        page: Floats = centre + (np.asarray(xy, dtype=float) - np.asarray(self.middle)) * self.scale.mm_per_m
        return page

    def to_site(self, page: Floats) -> Floats:
        """Turn places on the page ``(n, 2)`` [mm] into places in the yard ``(n, 2)`` [m]."""
        centre = np.array([(self.left + self.right) / 2, (self.bottom + self.top) / 2])
        site: Floats = (
            np.asarray(self.middle) + (np.asarray(page, dtype=float) - centre) / self.scale.mm_per_m
        )
        return site

    def contains(self, page: Floats, margin: float = 0.0) -> NDArray[np.bool_]:
        """Tell which places on the page ``(n, 2)`` [mm] lie in the window, at least ``margin`` mm inside."""
        low = np.array([self.left, self.bottom]) + margin
        high = np.array([self.right, self.top]) - margin
        inside: NDArray[np.bool_] = np.all((page >= low) & (page <= high), axis=1)
        return inside


def ticks(low: float, high: float, *, most: int) -> list[tuple[float, str]]:
    """Round values between two, each with its text, all with the same number of decimals."""
    step = round_steps(high - low, most)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [(k * step, fixed(k * step, decimals)) for k in range(first, last + 1)]


_MOST_LEVELS = 8
_INCHES = (1, 2, 3, 6, 12, 24, 60, 120)
"""Steps of an axis in feet and inches; a fifth of a foot would be 2 3/8 in."""


def level_ticks(low: float, high: float, show: Display) -> list[tuple[float, str]]:
    """Round levels between two, in the user's unit, each as he says it."""
    most = _MOST_LEVELS
    inches = next((i for i in _INCHES if (high - low) * 12 / i <= most), None)
    if show.form != "inches" or inches is None:
        return ticks(low, high, most=most)
    step = inches / 12
    levels = [k * step for k in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)]
    return [(level, show.contour(level * show.metres_per_unit, 0)) for level in levels]


class Page:
    """A page in the making: one set of axes that covers it and counts in millimetres, and the words so far.

    ``figure`` and ``axes`` are matplotlib's. Words and their white grounds are gathered and drawn together by
    ``finish``.
    """

    def __init__(self, width_mm: float = WIDTH_MM, height_mm: float = HEIGHT_MM) -> None:
        self.width, self.height = width_mm, height_mm
        size = (width_mm / MM_PER_INCH, height_mm / MM_PER_INCH)
        self.figure = matplotlib.figure.Figure(figsize=size, facecolor="white")
        self.axes: Any = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        self.axes.set_xlim(0.0, width_mm)
        self.axes.set_ylim(0.0, height_mm)
        self.axes.set_autoscale_on(False)
        self._lines: dict[Style, list[Line]] = {}
        self._grounds: list[Floats] = []

    @property
    def written(self) -> list[Line]:
        """Every line of text so far, style by style."""
        return [line for lines in self._lines.values() for line in lines]

    def write(self, text: str, place: tuple[float, float], style: Style = _PLAIN, **how: Any) -> Line:
        """Write one line of text; ``how`` is that of ``lettering.set_line``."""
        line = set_line(text, place, style, **how)
        self._lines.setdefault(style, []).append(line)
        return line

    def clear_ground(self, corners: Floats) -> None:
        """Leave the quadrangle ``(4, 2)`` [mm] white under the words."""
        self._grounds.append(corners)

    def strokes(
        self,
        lines: Sequence[Any],
        *,
        color: str,
        width: float,
        dash: Any = "-",
        zorder: float = 2.0,
        **more: Any,
    ) -> Any:
        """Draw lines, each ``(k, 2)`` [mm], with one pen ``width`` points wide."""
        drawn = matplotlib.collections.LineCollection(
            lines, colors=color, linewidths=width, linestyles=[dash], zorder=zorder, capstyle="butt", **more
        )
        return self.axes.add_collection(drawn, autolim=False)

    def box(self, left: float, bottom: float, width: float, height: float, **style: Any) -> Any:
        """Draw a rectangle [mm]."""
        return self.axes.add_patch(matplotlib.patches.Rectangle((left, bottom), width, height, **style))

    def finish(self) -> matplotlib.figure.Figure:
        """Put the words and their grounds on the page and return the figure."""
        if self._grounds:
            white = matplotlib.patches.PathPatch(
                ring_path(self._grounds), facecolor="white", edgecolor="none", zorder=_GROUND_ZORDER
            )
            self.axes.add_artist(white)
        for style, lines in self._lines.items():
            self.axes.add_artist(Letters(lines, style))
        return self.figure


def ring_path(rings: Sequence[Floats]) -> Any:
    """Join rings, each ``(k, 2)`` and not repeating its first corner, into one closed path."""
    path = matplotlib.path.Path
    corners = [np.vstack([ring, ring[:1]]) for ring in rings]
    codes = [
        np.array([path.MOVETO, *[path.LINETO] * (len(ring) - 1), path.CLOSEPOLY], dtype=np.uint8)
        for ring in rings
    ]
    return path(np.vstack(corners), np.concatenate(codes))


# The legend: a sample of each thing that was drawn, with its name; nothing that was not drawn.

SAMPLE_MM = 12.0
ROW_MM = 4.7
LINE_MM = 3.3
HEADING = Style(points=9, weight="bold")
LEGEND_WORDS = Style(points=8)

Painter = Callable[[Page, float, float], object]
"""Draws a sample 12 mm wide and 3 mm high; called with the page and the left middle of its box [mm]."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the legend: what it is called and how its sample is drawn."""

    words: str
    sample: Painter


def line_entry(words: str, *, color: str, width: float, dash: Any = pens.SOLID) -> Entry:
    """Make an entry whose sample is a stroke of the same pen."""

    def sample(page: Page, x: float, y: float) -> object:
        return page.strokes([((x, y), (x + SAMPLE_MM, y))], color=color, width=width, dash=dash)

    return Entry(words, sample)


def area_entry(words: str, *, face: str, hatch: str, edge: str = pens.SOFT) -> Entry:
    """Make an entry whose sample is a small hatched field."""

    def sample(page: Page, x: float, y: float) -> object:
        return page.box(
            x, y - 1.7, SAMPLE_MM, 3.4, facecolor=face, edgecolor=edge, hatch=hatch, linewidth=pens.GRID
        )

    return Entry(words, sample)


def mark_entry(
    words: str, *, marker: str, size: float, color: str = pens.BLACK, face: str = "white"
) -> Entry:
    """Make an entry whose sample is one mark."""

    def sample(page: Page, x: float, y: float) -> object:
        middle = x + SAMPLE_MM / 2
        return page.axes.plot([middle], [y], marker, markersize=size, color=color, markerfacecolor=face)

    return Entry(words, sample)


def text_entry(words: str, text: str, style: Style = LEGEND_WORDS) -> Entry:
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
    lines = [wrapped(entry.words, LEGEND_WORDS.points, room) for entry in entries]
    heights = [ROW_MM + (len(texts) - 1) * LINE_MM for texts in lines]
    y = end = start = top - 7.2
    for entry, texts, height in zip(entries, lines, heights, strict=True):
        if columns > 1 and start - y > sum(heights) / columns - height / 2:
            left, y, columns = left + width + 4.0, start, 1
        entry.sample(page, left, y)
        for number, text in enumerate(texts):
            page.write(text, (left + SAMPLE_MM + 2.5, y - number * LINE_MM), LEGEND_WORDS, up="center")
        y -= height
        end = min(end, y)
    return end + ROW_MM / 2


BLANK_WORDS = Style(points=9.5)
LEAST_RULE_MM = 12.0
"""A rule is at least so long, or no figure fits on it [mm]."""

_GAP = 1.4


def draw_blank_line(
    page: Page, place: tuple[float, float], parts: Sequence[str], *, width: float, style: Style = BLANK_WORDS
) -> None:
    """Write ``parts`` on one line from ``place`` (left, baseline) [mm]; each ``_`` becomes a rule.

    The rules share evenly what the words leave of ``width`` [mm]. Words that leave too little are cut.
    """
    pieces = [piece for part in parts for piece in _split(part)]
    rules = sum(piece == "_" for piece in pieces)
    room = width - _GAP * (len(pieces) - 1)
    words = [piece for piece in pieces if piece != "_"]
    taken = sum(width_mm(text, style.points, style.weight) for text in words)
    share = (room - taken) / rules if rules else 0.0
    if rules and share < LEAST_RULE_MM:
        most = max(5.0, (room - LEAST_RULE_MM * rules) / max(len(words), 1))
        pieces = [p if p == "_" else shortened(p, style.points, most, style.weight) for p in pieces]
        share = LEAST_RULE_MM
    x, y = place
    strokes = []
    for piece in pieces:
        if piece == "_":
            strokes.append(((x, y - 0.8), (x + share, y - 0.8)))
            x += share + _GAP
        else:
            page.write(piece, (x, y), style, role="fill in")
            x += width_mm(piece, style.points, style.weight) + _GAP
    if strokes:
        page.strokes(strokes, color=pens.BLACK, width=pens.FINE, gid="rule to write on")


def _split(part: str) -> list[str]:
    """Take the ``_`` out of a part as pieces of their own.

    >>> _split("= HI _ (ft)")
    ['= HI', '_', '(ft)']
    """
    pieces: list[str] = []
    for number, words in enumerate(part.split("_")):
        if number:
            pieces.append("_")
        if words.strip():
            pieces.append(words.strip())
    return pieces
