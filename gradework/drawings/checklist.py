"""A list to tick off on paper: headings, and lines with a box, an amount, words and a figure at the right."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from gradework.drawings import pens
from gradework.drawings.frame import SIDE_MM, TITLE_MM
from gradework.drawings.lettering import Style, shortened, wrapped
from gradework.drawings.page import Page
from gradework.drawings.stake_cards import TICK_MM, draw_tick

if TYPE_CHECKING:
    from gradework.drawings.engine import matplotlib

_SHOP = Style(points=12, weight="bold")
_LOADS = Style(points=9)
_AMOUNT = Style(points=10.5, weight="bold")
_ITEM = Style(points=10.5)
_SMALL = Style(points=8, color=pens.SOFT)
_AMOUNT_MM, _WEIGHT_MM, _GAP_MM = 26.0, 20.0, 2.5
_SHOP_MM, _ITEM_MM, _LOADS_MM, _SMALL_MM, _BETWEEN_MM = 6.4, 5.0, 4.2, 3.5, 2.0


@dataclass(frozen=True, slots=True)
class Block:
    """What stays together on a page: lines of words, each with how high it stands [mm]; a box to tick."""

    amount: str
    item: tuple[str, ...]
    right: str
    small: tuple[str, ...]

    @property
    def height(self) -> float:
        """Height [mm]."""
        return _ITEM_MM * len(self.item) + _SMALL_MM * len(self.small) + _BETWEEN_MM


@dataclass(frozen=True, slots=True)
class Head:
    """A heading, and what is said below it."""

    title: str
    told: tuple[str, ...]

    @property
    def height(self) -> float:
        """Height [mm]."""
        return _SHOP_MM + _LOADS_MM * len(self.told) + _BETWEEN_MM


Blocks: TypeAlias = "Sequence[Head | Block]"


def list_pages(blocks: Blocks, start: Callable[[], Page]) -> list[matplotlib.figure.Figure]:
    """Lay the blocks on pages, each begun by ``start``; a heading is never the last thing on a page."""
    page, pages = start(), []
    y = page.height - TITLE_MM - 4.0
    for number, block in enumerate(blocks):
        after = blocks[number + 1].height if isinstance(block, Head) and number + 1 < len(blocks) else 0.0
        if y - block.height - after < 4.0:
            pages.append(page.finish())
            page = start()
            y = page.height - TITLE_MM - 4.0
        if isinstance(block, Head):
            _draw_head(page, y, block)
        else:
            _draw_line(page, y, block)
        y -= block.height
    return [*pages, page.finish()]


def heading(title: str, told: Sequence[str], width: float) -> Head:
    """Give a heading on a page of a ``width`` [mm]."""
    room = width - 2 * SIDE_MM
    return Head(title, tuple(line for text in told for line in wrapped(text, _LOADS.points, room)))


def row(amount: str, item: str, right: str, small: str, width: float) -> Block:
    """Give a line to tick on a page of a ``width`` [mm]."""
    room = width - 2 * SIDE_MM - TICK_MM - _GAP_MM - _AMOUNT_MM
    return Block(
        shortened(amount, _AMOUNT.points, _AMOUNT_MM - 1.0, "bold"),
        tuple(wrapped(item, _ITEM.points, room - _WEIGHT_MM)),
        right,
        tuple(wrapped(small, _SMALL.points, room)),
    )


def _draw_head(page: Page, top: float, block: Head) -> None:
    page.write(block.title, (SIDE_MM, top - 1.0), _SHOP, up="top", role="shop")
    y, end = top - _SHOP_MM, page.width - SIDE_MM
    page.strokes([((SIDE_MM, y), (end, y))], color=pens.BLACK, width=pens.RULE, gid="shop")
    for line in block.told:
        page.write(line, (SIDE_MM, y - 1.0), _LOADS, up="top", role="loads")
        y -= _LOADS_MM


def _draw_line(page: Page, top: float, block: Block) -> None:
    draw_tick(page, SIDE_MM, top)
    left = SIDE_MM + TICK_MM + _GAP_MM
    page.write(block.amount, (left, top - 0.4), _AMOUNT, up="top", role="amount")
    if block.right:
        right = page.width - SIDE_MM
        page.write(block.right, (right, top - 0.4), _ITEM, across="right", up="top", role="weight")
    for number, line in enumerate(block.item):
        page.write(line, (left + _AMOUNT_MM, top - 0.4 - _ITEM_MM * number), _ITEM, up="top", role="item")
    y = top - _ITEM_MM * len(block.item) - 0.2
    for number, line in enumerate(block.small):
        page.write(line, (left + _AMOUNT_MM, y - _SMALL_MM * number), _SMALL, up="top", role="why")
