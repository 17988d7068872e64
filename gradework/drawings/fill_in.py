"""Lines to fill in by hand: words, and a rule to write on wherever a figure or a word is wanted."""

from __future__ import annotations

from collections.abc import Sequence

from gradework.drawings import ink
from gradework.drawings.lettering import Style, shortened, width_mm
from gradework.drawings.page import Page

WORDS = Style(points=9.5)
LEAST_RULE_MM = 12.0
"""A rule is at least so long, or no figure fits on it [mm]."""

_GAP = 1.4


def draw_fill_in(
    page: Page, place: tuple[float, float], parts: Sequence[str], *, width: float, style: Style = WORDS
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
        page.strokes(strokes, color=ink.BLACK, width=ink.FINE, gid="rule to write on")


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
