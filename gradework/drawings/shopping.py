"""The shopping list: what each supplier hands over, with boxes to tick, weights, loads, spares and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from gradework.drawings.checklist import Block, Head, heading, list_pages, row
from gradework.drawings.frame import draw_title
from gradework.drawings.lettering import name
from gradework.drawings.page import Page
from gradework.errors import words
from gradework.sitework.trip import stop_text, total_text
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.drawings.engine import matplotlib
    from gradework.project.plan import Plan
    from gradework.sitework.order import OrderLine
    from gradework.sitework.trip import Stop
    from gradework.units.display import Display


def draw_shopping(plan: Plan) -> list[matplotlib.figure.Figure]:
    """Draw the pages of the list for the foundation that is chosen; none where nothing is ordered."""
    stops = plan.stops(plan.foundations.chosen)
    if not stops:
        return []
    blocks = list(_blocks(plan, stops, Page().width))
    return list_pages(blocks, partial(_start, plan, stops))


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


def _blocks(plan: Plan, stops: Sequence[Stop], width: float) -> Iterator[Head | Block]:
    chosen, show = plan.foundations.chosen, plan.job.show
    for stop in stops:
        yield heading(stop.shop.capitalize(), [stop_text(stop, show)], width)
        yield from (_line(line, width, show) for line in stop.lines)
    hired = plan.hired(chosen)
    if hired:
        yard = words(show.dialect)["rental_yard"].capitalize()
        yield heading(yard, ["Common practice; ask what a day costs."], width)
    for one in hired:
        yield row("1", one.item, "", one.why, width)
    if missing := plan.not_ordered(chosen):
        yield heading("Not in this order", [f"{'; '.join(missing)}."], width)


def _line(line: OrderLine, width: float, show: Display) -> Block:
    weight = "" if line.unit.endswith(("tons", "tonnes")) else show.mass(line.mass_kg)
    item = f"{line.item} ({line.place})" if line.place in ("base", "beds") else line.item
    small = "; ".join(part for part in (line.allowance, line.reason, line.note) if part)
    amount = fixed(line.quantity, 0) if line.unit == "pieces" else counted(line.quantity, line.unit)
    return row(amount, item, weight, small, width)
