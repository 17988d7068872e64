"""The chain of dimensions beside a pier: the bed, then the courses; equal thin courses are taken together."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from gradework.drawings import ink
from gradework.drawings.lettering import Style, shortened, width_mm
from gradework.drawings.page import Page, Scale
from gradework.drawings.pier_elevation import PierSheet, SideView, course_width, spread_out

if TYPE_CHECKING:  # the types only
    from gradework.foundations.piers import Pier
    from gradework.units import Display

GAP_MM = 3.2
"""Labels stand so far apart from middle to middle [mm]."""

_LABEL = Style(points=7)
_CHAIN_MM, _LABEL_MM, _EDGE_MM = (
    1.0,
    1.9,
    1.2,
)  # the line from the left, its labels from the line, their right


class Span(NamedTuple):
    """One link of the chain: what it says, from which level to which [m]."""

    words: str
    low: float
    high: float


def draw_dimensions(
    page: Page,
    view: SideView,
    sheet: PierSheet,
    pier: Pier,
    *,
    left: float,
    right: float,
    reach: Sequence[float],
) -> None:
    """Draw the chain between ``left`` and ``right``, its labels within ``reach`` (lowest, highest) [mm]."""
    chain = _chain(pier, sheet.show, view.scale, reach[1] - reach[0])
    x = left + _CHAIN_MM
    marks = [view.y(span.low) for span in chain] + [view.y(chain[-1].high)]
    page.strokes([((x, marks[0]), (x, marks[-1]))], color=ink.BLACK, width=ink.FINE, zorder=6.0)
    ticks = [((x - 0.8, y - 0.8), (x + 0.8, y + 0.8)) for y in marks]
    page.strokes(ticks, color=ink.BLACK, width=ink.RULE, zorder=6.0, gid="dimension")
    half = 0.5 * max(count * width for count, width in (course_width(u, sheet.piers) for u in pier.laid))
    edge = view.x(sheet.local(pier)[0] + half)
    lines = [((edge + 0.6, y), (x - 1.2, y)) for y in marks[1:]]
    page.strokes(lines, color=ink.FAINT, width=ink.GRID, zorder=4.9)
    middles = [0.5 * (view.y(span.low) + view.y(span.high)) for span in chain]
    for span, middle, y in zip(chain, middles, _within(spread_out(middles, GAP_MM), reach), strict=True):
        if abs(middle - y) > 0.3:
            page.strokes([((x, middle), (x + 1.6, y))], color=ink.SOFT, width=ink.GRID, zorder=6.0)
        text = shortened(span.words, _LABEL.points, right - x - _LABEL_MM)
        page.write(text, (x + _LABEL_MM, y), _LABEL, up="center", role="dimension")


def dimensions_width(pier: Pier, show: Display, scale: Scale, reach: float) -> float:
    """What the chain of a pier takes up beside it [mm], the widest of its words whole; ``reach`` [mm] is how
    high its labels may stand."""
    words = max(width_mm(span.words, _LABEL.points) for span in _chain(pier, show, scale, reach))
    return _CHAIN_MM + _LABEL_MM + words + _EDGE_MM


def _chain(pier: Pier, show: Display, scale: Scale, reach: float) -> list[Span]:
    return chain_of(pier, show, thin=GAP_MM / scale.mm_per_m, most=int(reach / GAP_MM) + 1)


def chain_of(pier: Pier, show: Display, *, thin: float, most: int) -> list[Span]:
    """Give the links from the bottom up.

    Equal courses one on the other, thinner than ``thin`` [m], make one link: "6 x 1 in". Where that still
    leaves more than ``most`` links, the whole stack makes one.
    """
    level = pier.bottom + pier.bed
    chain = [Span(show.depth(pier.bed), pier.bottom, level)]
    for unit, courses in groupby(pier.laid):
        count, each = len(list(courses)), show.depth(unit.thickness)
        parts = [count] if unit.thickness < thin else [1] * count
        for part in parts:
            high = level + part * unit.thickness
            chain.append(Span(each if part == 1 else f"{part} x {each}", level, high))
            level = high
    if len(chain) <= most:
        return chain
    return [chain[0], Span(f"all {show.depth(pier.height)}", chain[0].high, level)]


def _within(places: list[float], reach: Sequence[float]) -> list[float]:
    """Push labels [mm] that reach too low or too high back, each only as far as its neighbours make it."""
    low, high = reach
    moved = []
    for number, place in enumerate(places):
        moved.append(max(place, low + number * GAP_MM))
    last = len(moved) - 1
    return [min(place, high - (last - number) * GAP_MM) for number, place in enumerate(moved)]
