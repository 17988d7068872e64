"""Letters on a drawing: safe words, measured before they are drawn, drawn many at a time, never mathematics.

Places on a page are millimetres from its lower left corner; sizes of letters are points.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.drawings.engine import FAMILY, font_manager, matplotlib
from gradework.errors import Finding, finding, visible

Floats = NDArray[np.float64]

MM_PER_POINT = 25.4 / 72
LONGEST = 40
"""A user's name is cut at so many letters on a drawing; the tables carry it whole."""

_MOST_TOLD = 8

_CAPITAL = 0.73  # height of a capital or a digit of this face [em]
_EM = 1000.0  # points; large, so that no hinting is left in widths and shapes

_AS_TEXT: ContextVar[bool] = ContextVar("_AS_TEXT", default=False)


@lru_cache(maxsize=2)
def _properties(weight: str) -> Any:
    return font_manager.FontProperties(family=FAMILY, weight=weight)


@lru_cache(maxsize=2)
def _face(weight: str) -> Any:
    """The font as matplotlib opens it."""
    return font_manager.get_font(font_manager.findfont(_properties(weight)))


@lru_cache(maxsize=4096)
def _glyph(letter: str, weight: str) -> tuple[float, Floats, NDArray[np.uint8]]:
    """How far the pen moves for a letter [em], and its shape: vertices ``(k, 2)`` [em] and path codes."""
    face = _face(weight)
    face.set_size(_EM, 72)
    advance = float(face.load_glyph(face.get_char_index(ord(letter))).linearHoriAdvance) / 65536 / _EM
    vertices, codes = face.get_path()
    return advance, np.asarray(vertices, dtype=float).reshape(-1, 2) / _EM, np.asarray(codes, dtype=np.uint8)


def width_mm(text: str, points: float, weight: str = "normal") -> float:
    """How wide a line of text stands on paper [mm]."""
    return sum(_glyph(letter, weight)[0] for letter in text) * points * MM_PER_POINT


def height_mm(points: float) -> float:
    """How high a capital or a digit stands [mm]."""
    return _CAPITAL * points * MM_PER_POINT


def name(text: str) -> str:
    """A user's name as a drawing shows it: control characters visible, at most 40 letters."""
    return visible(text, LONGEST)


def letters_not_drawn(texts: Iterable[str]) -> str:
    """The letters among ``texts`` that the drawings show as empty boxes, each once, in order.

    >>> letters_not_drawn(["A1", "Gartenhaus", "é"])
    ''
    """
    known = _face("normal").get_charmap()
    letters = {letter for text in texts for letter in text if letter.isprintable()}
    return "".join(sorted(letter for letter in letters if ord(letter) not in known))


def unknown_letters(names: Iterable[str]) -> tuple[Finding, ...]:
    """Tell of the user's names on a drawing that show empty boxes; nothing where every letter is known."""
    boxes = letters_not_drawn(map(name, names))
    if not boxes:
        return ()
    which = " ".join(boxes[:_MOST_TOLD]) + (" ..." if len(boxes) > _MOST_TOLD else "")
    where = "names on the drawings"
    return (finding("letters-not-drawn", "note", where, float(len(boxes)), 0.0, letters=which),)


def wrapped(text: str, points: float, room_mm: float, weight: str = "normal") -> list[str]:
    """Break a sentence into lines no wider than ``room_mm``; a word that is wider alone is cut with "...".

    Lines break at plain spaces only: ``tight`` keeps a figure and its unit together.
    """
    lines: list[str] = []
    for word in (shortened(word, points, room_mm, weight) for word in text.split(" ") if word):
        if lines and width_mm(f"{lines[-1]} {word}", points, weight) <= room_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def tight(text: str) -> str:
    """Keep a figure and its unit on one line: spaces become no-break spaces.

    >>> tight("10 ft")
    '10\\xa0ft'
    """
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def shortened(text: str, points: float, room_mm: float, weight: str = "normal") -> str:
    """Cut ``text`` so that it and a "..." fit into ``room_mm``; unchanged where it fits."""
    if width_mm(text, points, weight) <= room_mm:
        return text
    while text and width_mm(f"{text}...", points, weight) > room_mm:
        text = text[:-1]
    return f"{text.rstrip()}..."


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text: where its baseline starts [mm], its turn [degrees], its size [mm], what it is for."""

    text: str
    x: float
    y: float
    degrees: float
    width: float
    height: float
    role: str

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top [mm] of the upright box around the capitals."""
        c, s = math.cos(math.radians(self.degrees)), math.sin(math.radians(self.degrees))
        corners = [(0.0, 0.0), (self.width, 0.0), (self.width, self.height), (0.0, self.height)]
        xs = [self.x + c * u - s * v for u, v in corners]
        ys = [self.y + s * u + c * v for u, v in corners]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True, slots=True)
class Style:
    """How letters look: size [points], weight, colour, and what they lie upon."""

    points: float = 8.0
    weight: Literal["normal", "bold"] = "normal"
    color: str = "#111111"
    zorder: float = 8.0


Across = Literal["left", "center", "right"]
Up = Literal["baseline", "center", "top"]


def set_line(
    text: str,
    place: tuple[float, float],
    style: Style,
    *,
    across: Across = "left",
    up: Up = "baseline",
    degrees: float = 0.0,
    role: str = "",
) -> Line:
    """Find where a line of text starts so that it hangs at ``place`` [mm] as asked, turned about it."""
    width, height = width_mm(text, style.points, style.weight), height_mm(style.points)
    back = {"left": 0.0, "center": 0.5, "right": 1.0}[across] * width
    down = {"baseline": 0.0, "center": 0.5, "top": 1.0}[up] * height
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    x, y = place[0] - c * back + s * down, place[1] - s * back - c * down
    return Line(text, x, y, degrees, width, height, role)


class Letters(matplotlib.patches.Patch):
    """All lines of one style as one shape, so that hundreds of labels cost as little as one.

    Into a PDF the lines go as text, so that it can be searched and copied; their shape waits until wanted.
    """

    def __init__(self, lines: list[Line], style: Style) -> None:
        super().__init__(facecolor=style.color, edgecolor="none", linewidth=0.0)
        self.set_zorder(style.zorder)
        self.lines = tuple(lines)
        self.style = style
        self._shape: Any = None

    def get_path(self) -> Any:
        """Give the shape of all letters [mm]."""
        if self._shape is None:
            self._shape = _outline_of(self.lines, self.style)
        return self._shape

    def draw(self, renderer: Any) -> None:
        """Draw the shape, or the text where text is asked for."""
        if not _AS_TEXT.get():
            super().draw(renderer)
            return
        context = renderer.new_gc()
        context.set_foreground(self.style.color)
        font = _properties(self.style.weight).copy()
        font.set_size(self.style.points)
        places = self.get_transform().transform([(line.x, line.y) for line in self.lines])
        if renderer.flipy():
            places[:, 1] = renderer.get_canvas_width_height()[1] - places[:, 1]
        for line, (x, y) in zip(self.lines, places, strict=True):
            renderer.draw_text(context, x, y, line.text, font, line.degrees, ismath=False)
        context.restore()


@contextmanager
def letters_as_text() -> Iterator[None]:
    """Draw letters as text instead of as shapes."""
    token = _AS_TEXT.set(True)
    try:
        yield
    finally:
        _AS_TEXT.reset(token)


def _outline_of(lines: Sequence[Line], style: Style) -> Any:
    """Join the shapes of all letters into one path [mm]."""
    size = style.points * MM_PER_POINT
    vertices, codes = [], []
    for line in lines:
        c, s = math.cos(math.radians(line.degrees)) * size, math.sin(math.radians(line.degrees)) * size
        turn = np.array([[c, s], [-s, c]])
        pen = 0.0
        for letter in line.text:
            advance, shape, code = _glyph(letter, style.weight)
            vertices.append((shape + np.array([pen, 0.0])) @ turn + np.array([line.x, line.y]))
            codes.append(code)
            pen += advance
    if not vertices:
        return matplotlib.path.Path(np.zeros((0, 2)))
    return matplotlib.path.Path(np.concatenate(vertices), np.concatenate(codes))
