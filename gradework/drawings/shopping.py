"""The shopping list: what each supplier hands over, with boxes to tick, weights, loads, spares and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.drawings import pens
from gradework.drawings.frame import SIDE_MM, TITLE_MM, draw_title
from gradework.drawings.lettering import Style, name, shortened, wrapped
from gradework.drawings.page import Page
from gradework.drawings.stake_cards import TICK_MM, draw_tick
from gradework.errors import words
from gradework.sitework.trip import stop_text, total_text
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.drawings.engine import matplotlib
    from gradework.project.plan import Plan
    from gradework.sitework.order import OrderLine
    from gradework.sitework.trip import Hired, Stop
    from gradework.units.display import Display

_SHOP = Style(points=12, weight="bold")
_LOADS = Style(points=9)
_AMOUNT = Style(points=10.5, weight="bold")
_ITEM = Style(points=10.5)
_SMALL = Style(points=8, color=pens.SOFT)
_AMOUNT_MM, _WEIGHT_MM, _GAP_MM = 26.0, 20.0, 2.5
_SHOP_MM, _ITEM_MM, _LOADS_MM, _SMALL_MM, _BETWEEN_MM = 6.4, 5.0, 4.2, 3.5, 2.0


@dataclass(frozen=True, slots=True)
class _Block:
    """What stays together on a page: lines of words, each with how high it stands [mm]; a box to tick."""

    amount: str
    item: tuple[str, ...]
    weight: str
    small: tuple[str, ...]

    @property
    def height(self) -> float:
        """Height [mm]."""
        return _ITEM_MM * len(self.item) + _SMALL_MM * len(self.small) + _BETWEEN_MM


@dataclass(frozen=True, slots=True)
class _Head:
    """The name of a supplier, and what comes from there in how many loads."""

    shop: str
    loads: tuple[str, ...]

    @property
    def height(self) -> float:
        """Height [mm]."""
        return _SHOP_MM + _LOADS_MM * len(self.loads) + _BETWEEN_MM


def draw_shopping(plan: Plan) -> list[matplotlib.figure.Figure]:
    """Draw the pages of the list for the foundation that is chosen; none where nothing is ordered."""
    stops = plan.stops(plan.foundations.chosen)
    if not stops:
        return []
    page, pages = _start(plan, stops), []
    y = page.height - TITLE_MM - 4.0
    blocks = list(_blocks(stops, plan.hired(plan.foundations.chosen), page.width, plan.job.show))
    for number, block in enumerate(blocks):
        # a name is never the last thing on a page
        after = blocks[number + 1].height if isinstance(block, _Head) else 0.0
        if y - block.height - after < 4.0:
            pages.append(page.finish())
            page = _start(plan, stops)
            y = page.height - TITLE_MM - 4.0
        if isinstance(block, _Head):
            _draw_head(page, y, block)
        else:
            _draw_line(page, y, block)
        y -= block.height
    return [*pages, page.finish()]


def _start(plan: Plan, stops: tuple[Stop, ...]) -> Page:
    page, show = Page(), plan.job.show
    chosen = plan.foundations.options[plan.foundations.chosen].name
    draw_title(
        page,
        title=name(plan.job.name),
        subtitle=f"Shopping list for the {chosen}, by supplier",
        right=(total_text(stops, show), "tons of 2,000 lb" if show.us else "tick what is loaded"),
        stamp=plan.stamp(),
    )
    return page


def _blocks(
    stops: tuple[Stop, ...], hired: tuple[Hired, ...], width: float, show: Display
) -> Iterator[_Head | _Block]:
    room = width - 2 * SIDE_MM
    for stop in stops:
        yield _Head(stop.shop.capitalize(), tuple(wrapped(stop_text(stop, show), _LOADS.points, room)))
        yield from (_line(line, room, show) for line in stop.lines)
    if hired:
        yield _Head(
            words(show.dialect)["rental_yard"].capitalize(), ("Common practice; ask what a day costs.",)
        )
    for one in hired:
        yield _block("1", one.item, "", one.why, room)


def _line(line: OrderLine, room: float, show: Display) -> _Block:
    weight = "" if line.unit.endswith(("tons", "tonnes")) else show.mass(line.mass_kg)
    item = f"{line.item} ({line.place})" if line.place in ("base", "beds") else line.item
    small = "; ".join(part for part in (line.allowance, line.reason, line.note) if part)
    amount = fixed(line.quantity, 0) if line.unit == "pieces" else counted(line.quantity, line.unit)
    return _block(amount, item, weight, small, room)


def _block(amount: str, item: str, weight: str, small: str, room: float) -> _Block:
    left = TICK_MM + _GAP_MM + _AMOUNT_MM
    return _Block(
        shortened(amount, _AMOUNT.points, _AMOUNT_MM - 1.0, "bold"),
        tuple(wrapped(item, _ITEM.points, room - left - _WEIGHT_MM)),
        weight,
        tuple(wrapped(small, _SMALL.points, room - left)),
    )


def _draw_head(page: Page, top: float, head: _Head) -> None:
    page.write(head.shop, (SIDE_MM, top - 1.0), _SHOP, up="top", role="shop")
    y, end = top - _SHOP_MM, page.width - SIDE_MM
    page.strokes([((SIDE_MM, y), (end, y))], color=pens.BLACK, width=pens.RULE, gid="shop")
    for line in head.loads:
        page.write(line, (SIDE_MM, y - 1.0), _LOADS, up="top", role="loads")
        y -= _LOADS_MM


def _draw_line(page: Page, top: float, block: _Block) -> None:
    draw_tick(page, SIDE_MM, top)
    left = SIDE_MM + TICK_MM + _GAP_MM
    page.write(block.amount, (left, top - 0.4), _AMOUNT, up="top", role="amount")
    if block.weight:
        right = page.width - SIDE_MM
        page.write(block.weight, (right, top - 0.4), _ITEM, across="right", up="top", role="weight")
    for number, line in enumerate(block.item):
        page.write(line, (left + _AMOUNT_MM, top - 0.4 - _ITEM_MM * number), _ITEM, up="top", role="item")
    y = top - _ITEM_MM * len(block.item) - 0.2
    for number, line in enumerate(block.small):
        page.write(line, (left + _AMOUNT_MM, y - _SMALL_MM * number), _SMALL, up="top", role="why")
