"""The piers on the plan: each hole with its name, in the place where it is dug."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradework.drawings import ink
from gradework.drawings.board import Board
from gradework.drawings.labels import corners_of
from gradework.drawings.legend import Entry
from gradework.drawings.lettering import Style, name
from gradework.drawings.naming import Standing, place_names, without_room
from gradework.drawings.page import Page

if TYPE_CHECKING:  # the type only
    from gradework.foundations.piers import Piers

_NAME = Style(points=7, weight="bold")


def draw_piers(board: Board, piers: Piers) -> None:
    """Draw the hole of each pier true to scale, crossed, with its name beside it, in it, or on a leader.

    A name that finds no place is told in the legend and as a finding.
    """
    crosses, boxes = [], []
    for pier in piers.piers:
        ring = board.window.to_page(pier.hole.rings[0])
        board.region(
            [ring], facecolor="white", edgecolor=ink.BLACK, linewidth=ink.RULE, zorder=5.2,
            gid=f"pier {pier.name}",
        )  # fmt: skip
        crosses += [ring[[0, 2]], ring[[1, 3]]]
        (left, bottom), (right, top) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
        boxes.append((left, bottom, right, top))
    board.lines(crosses, color=ink.BLACK, width=ink.FINE, zorder=5.3)
    names = [name(pier.name) for pier in piers.piers]
    standing = place_names(boxes, names, board.taken, _NAME)
    _write(board, standing)
    stand = {one.number for one in standing}
    left_out = [text for number, text in enumerate(names) if number not in stand]
    words = "Pier: its hole, and its name"
    if left_out:
        board.findings += without_room("The plan", left_out, len(names))
        words += f"; no room for {len(left_out)} of {len(names)} names"
    board.entries.append(Entry(words, _sample))


def _write(board: Board, standing: Sequence[Standing]) -> None:
    leaders = [np.array(one.leader) for one in standing if one.leader is not None]
    if leaders:
        board.lines(leaders, color=ink.BLACK, width=ink.FINE, zorder=6.0, gid="leaders of names")
    for one in standing:
        board.page.clear_ground(corners_of(one.box))
        board.page.write(
            one.text, one.place, one.style, across="center", up="center", degrees=one.degrees, role="pier"
        )


def _sample(page: Page, x: float, y: float) -> object:
    page.box(x + 4.0, y - 1.7, 4.0, 3.4, facecolor="white", edgecolor=ink.BLACK, linewidth=ink.RULE)
    cross = [((x + 4.0, y - 1.7), (x + 8.0, y + 1.7)), ((x + 4.0, y + 1.7), (x + 8.0, y - 1.7))]
    return page.strokes(cross, color=ink.BLACK, width=ink.FINE)
