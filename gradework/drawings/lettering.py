"""Words on a drawing: made safe, measured before they are drawn, never read as mathematics.

Places on a page are millimetres from its lower left corner; sizes of letters are points.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from gradework.drawings.engine import FAMILY, font_manager
from gradework.errors import visible

MM_PER_POINT = 25.4 / 72
LONGEST = 40
"""A user's name is cut at so many letters on a drawing; the tables carry it whole."""

_EM = 1000.0  # points; large, so that no hinting is left in the widths


@lru_cache(maxsize=2)
def _face(weight: str) -> Any:
    """The font as matplotlib opens it."""
    wanted = font_manager.FontProperties(family=FAMILY, weight=weight)
    return font_manager.get_font(font_manager.findfont(wanted))


@lru_cache(maxsize=4096)
def _advance(letter: str, weight: str) -> float:
    """How far the pen moves for one letter [em]."""
    face = _face(weight)
    face.set_size(_EM, 72)
    return float(face.load_char(ord(letter)).linearHoriAdvance) / 65536 / _EM


def width_mm(text: str, points: float, weight: str = "normal") -> float:
    """How wide a line of text stands on paper [mm], kerning left out (it only makes it shorter)."""
    return sum(_advance(letter, weight) for letter in text) * points * MM_PER_POINT


def height_mm(points: float) -> float:
    """How high a capital or a digit stands [mm]: 0.73 of the size for this face."""
    return 0.73 * points * MM_PER_POINT


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


def wrapped(text: str, points: float, room_mm: float, weight: str = "normal") -> list[str]:
    """Break a sentence into lines no wider than ``room_mm``; a word that is wider alone is cut with "..."."""
    lines: list[str] = []
    for word in (shortened(word, points, room_mm, weight) for word in text.split()):
        if lines and width_mm(f"{lines[-1]} {word}", points, weight) <= room_mm:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def shortened(text: str, points: float, room_mm: float, weight: str = "normal") -> str:
    """Cut ``text`` so that it and a "..." fit into ``room_mm``; unchanged where it fits."""
    if width_mm(text, points, weight) <= room_mm:
        return text
    while text and width_mm(f"{text}...", points, weight) > room_mm:
        text = text[:-1]
    return f"{text.rstrip()}..."


def write(axes: Any, place: tuple[float, float], text: str, *, points: float = 8.0, **style: Any) -> Any:
    """Put one line of text on the page and return matplotlib's Text; ``$`` is a dollar sign."""
    return axes.text(*place, text, fontsize=points, parse_math=False, usetex=False, **style)
