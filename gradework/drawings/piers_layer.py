"""The piers on the plan: each hole with its name, in the place where it is dug."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.drawings import ink
from gradework.drawings.board import Board
from gradework.drawings.labels import box_around
from gradework.drawings.legend import Entry
from gradework.drawings.lettering import Style, name
from gradework.drawings.page import Page

if TYPE_CHECKING:  # the type only
    from gradework.foundations.piers import Piers

_NAME = Style(points=7, weight="bold")
_AWAY_MM = 3.2


def draw_piers(board: Board, piers: Piers) -> None:
    """Draw the hole of each pier true to scale, crossed, with its name beside it where there is room."""
    crosses = []
    for pier in piers.piers:
        ring = board.window.to_page(pier.hole.rings[0])
        board.region(
            [ring], facecolor="white", edgecolor=ink.BLACK, linewidth=ink.RULE, zorder=5.2,
            gid=f"pier {pier.name}",
        )  # fmt: skip
        crosses += [ring[[0, 2]], ring[[1, 3]]]
        (left, bottom), (right, top) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
        board.taken.take(box_around(((left + right) / 2, (bottom + top) / 2), right - left, top - bottom))
    board.lines(crosses, color=ink.BLACK, width=ink.FINE, zorder=5.3)
    for pier in piers.piers:
        ring = board.window.to_page(pier.hole.rings[0])
        (left, bottom), (right, top) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
        x, y = (left + right) / 2, (bottom + top) / 2
        words = name(pier.name)
        aside = 0.5 * (right - left) + 0.6 * _AWAY_MM
        for place in (
            (x, top + 0.5 * _AWAY_MM),
            (x, bottom - 0.5 * _AWAY_MM),
            (x + aside, y),
            (x - aside, y),
        ):
            if board.label(words, place, _NAME, role="pier"):
                break
    board.entries.append(Entry("Pier: its hole, and its name", _sample))


def _sample(page: Page, x: float, y: float) -> object:
    page.box(x + 4.0, y - 1.7, 4.0, 3.4, facecolor="white", edgecolor=ink.BLACK, linewidth=ink.RULE)
    cross = [((x + 4.0, y - 1.7), (x + 8.0, y + 1.7)), ((x + 4.0, y + 1.7), (x + 8.0, y - 1.7))]
    return page.strokes(cross, color=ink.BLACK, width=ink.FINE)
