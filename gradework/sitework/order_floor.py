"""The floor frame as lines of the order: skids, joists between rims, blocks, sheets and screws.

Sizes and spans are those that the checks hold (``[piers.floor]``): nothing is designed here. How it is
framed is common practice, no source: joists square to the skids between two rims, a row of blocks over each
skid that no rim stands on, sheets across the joists with their ends on them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.foundations.piers.layout import spans
from gradework.sitework.lumber import Stick, in_pieces, lumber_lines
from gradework.sitework.order import Order, OrderLine, whole_line
from gradework.sitework.order_edge import SCREW_MASS
from gradework.units.amounts import M_PER_FT, M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.piers.carrying import Carried
    from gradework.foundations.piers.spec import FloorBuildUp
    from gradework.sitework.supplier import Supplier
    from gradework.units.display import Display

Floats = NDArray[np.float64]

SHEET = {True: (4.0 * M_PER_FT, 8.0 * M_PER_FT), False: (1.2, 2.4)}
"""Width and length of a floor sheet [m], in US and metric jobs (common practice)."""

SHEET_DENSITY = 600.0
"""[kg/m³] Of plywood (common practice, no source)."""

UNDER_RIM = 1.0 * M_PER_FT
"""[m] A skid no farther in than this has the rim for its blocks (common practice, no source)."""

AT_AN_END, ON_A_SKID, ON_SHEETS = 3, 2, 15.0
"""Screws at each end of a joist or block, of a joist on each skid, and on 1 m² of sheets: 6 in apart along
their ends, 12 in between (common practice, no source)."""

APART = {True: 6.0 * M_PER_IN, False: 0.15}
"""[m] How far apart they are along the ends of a sheet, in US and metric jobs."""

_EDGE = 1e-6


class SkidLine(NamedTuple):
    """One skid from ``start`` to ``end`` [m along], ``at`` [m across], over supports at ``places`` [m along];
    none where it lies on stone from end to end."""

    start: float
    end: float
    at: float
    places: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Frame:
    """What a floor is framed of: the pieces, the ends that are screwed and crossings of joists and skids,
    ``sheets`` of ``sheet`` (wide, long) [m] over ``area`` [m²]."""

    sticks: tuple[Stick, ...]
    ends: int
    crossings: int
    sheets: int
    sheet: tuple[float, float]
    area: float


def joists_at(length: float, spacing: float) -> list[float]:
    """Give where joists stand along a floor [m]: one at each end, the others ``spacing`` apart.

    >>> len(joists_at(16 * 0.3048, 16 * 0.0254)), len(joists_at(4.0, 0.4))
    (13, 11)
    """
    count = math.ceil(length / spacing - _EDGE)
    return [min(number * spacing, length) for number in range(count + 1)]


def joined_on(start: float, end: float, supports: Sequence[float], most: float) -> list[float]:
    """Part what runs from ``start`` to ``end`` [m] into the fewest pieces, none longer than ``most``, that
    meet on ``supports``; into equal ones from where none is near enough.

    >>> joined_on(0.0, 7.0, [1.5, 3.0, 4.5, 6.0], 5.0)
    [4.5, 2.5]
    """
    pieces: list[float] = []
    while end - start > most + _EDGE:
        at = max((one for one in supports if start + _EDGE < one <= start + most + _EDGE), default=None)
        if at is None:
            return pieces + in_pieces(end - start, most)
        pieces.append(at - start)
        start = at
    return [*pieces, end - start]


def frame_floor(
    rings: Sequence[Floats], skids: Sequence[SkidLine], floor: FloorBuildUp, longest: float, *, us: bool
) -> Frame:
    """Take off the frame of a floor.

    rings : (k, 2) [m: along, across] the outside of the building and its holes;  longest : of what is sold
    [m].  Joists run across, each between the rims on both its ends; what is longer than is sold is joined:
    skids on piers, joists on skids, rims on joists.
    """
    shape = shapely.Polygon(rings[0], rings[1:])
    low, _, high, _ = shape.bounds
    at = sorted([*(low + place for place in joists_at(high - low, floor.joist_spacing)), *_ends(rings)])
    at = [place for before, place in pairwise([-math.inf, *at]) if place > before + _EDGE]
    wide, bearing = floor.joist.breadth, sorted({skid.at for skid in skids})
    joists = [
        joined_on(start + wide, end - wide, bearing, longest)
        for place in at
        # just inside the ends, where the outline itself is no joist's
        for start, end in spans([ring[:, ::-1] for ring in rings], min(max(place, low + _EDGE), high - _EDGE))
        if end - start > 2.0 * wide + _EDGE  # where it comes to a point the rims meet
    ]
    blocks = [
        until - since - wide
        for skid in skids
        if _inside(shape, skid) > UNDER_RIM
        for since, until in pairwise(at)
        if since >= skid.start - _EDGE and until <= skid.end + _EDGE and until - since > 2.0 * wide
    ]
    sticks = [Stick(floor.skid, piece, "skids") for skid in skids for piece in _pieces_of(skid, longest)]
    sticks += [Stick(floor.joist, piece, "joists") for pieces in joists for piece in pieces]
    sticks += [Stick(floor.joist, piece, "rims") for rim in _rims(rings, at, longest) for piece in rim]
    sticks += [Stick(floor.joist, length, "blocks over skids") for length in blocks]
    crossings = sum(skid.start - _EDGE <= place <= skid.end + _EDGE for skid in skids for place in at)
    ends = 2 * (sum(map(len, joists)) + len(blocks))
    sheet = SHEET[us]
    return Frame(
        tuple(sticks), ends, crossings, sheets_over(shape, floor.joist_spacing, sheet), sheet, shape.area
    )


def _ends(rings: Sequence[Floats]) -> Iterator[float]:
    """Give where sides across the floor stand [m along]: each takes a joist."""
    for ring in rings:
        for a, b in zip(ring.tolist(), np.roll(ring, -1, axis=0).tolist(), strict=True):
            if abs(a[0] - b[0]) < _EDGE:
                yield 0.5 * (a[0] + b[0])


def _inside(shape: shapely.Polygon, skid: SkidLine) -> float:
    """Give how far in from the outline the middle of a skid lies [m]."""
    return float(shape.boundary.distance(shapely.Point(0.5 * (skid.start + skid.end), skid.at)))


def _pieces_of(skid: SkidLine, longest: float) -> list[float]:
    """Part a skid over its piers; on stone it may be joined anywhere."""
    if not skid.places:
        return in_pieces(skid.end - skid.start, longest)
    return joined_on(skid.start, skid.end, skid.places, longest)


def _rims(rings: Sequence[Floats], at: Sequence[float], longest: float) -> Iterator[list[float]]:
    """Give the pieces of each side that joists end on, joined on joists where it runs square to them."""
    for ring in rings:
        for a, b in zip(ring.tolist(), np.roll(ring, -1, axis=0).tolist(), strict=True):
            start, end = sorted((a[0], b[0]))
            if abs(a[1] - b[1]) < _EDGE:
                yield joined_on(start, end, at, longest)
            elif end - start > abs(a[1] - b[1]):
                yield in_pieces(math.dist(a, b), longest)


def sheets_over(shape: shapely.Polygon, spacing: float, sheet: tuple[float, float]) -> int:
    """Count the sheets over a floor [m: along, across]: in strips as wide as a sheet, ends on joists.

    A sheet is cut back to whole ``spacing`` [m]; what is left of the last one of a strip begins another.
    The last strip is ripped: as many of it as go side by side come from one sheet.

    >>> sheets_over(shapely.box(0.0, 0.0, 4.8, 3.6), 0.4, (1.2, 2.4))
    6
    """
    wide, long = sheet
    used = max(1, math.floor(long / spacing + _EDGE)) * spacing if spacing < long else long
    low, first, high, last = shape.bounds
    whole, offcut = 0, 0.0
    ripped, rows = 0, math.ceil((last - first) / wide - _EDGE)
    for row in range(rows):
        bottom = first + row * wide
        top = min(bottom + wide, last)
        beside = math.floor(wide / (top - bottom) + _EDGE)
        part = shapely.intersection(shape, shapely.box(low, bottom + _EDGE, high, top - _EDGE))
        for piece in shapely.get_parts(part):
            start, _, end, _ = piece.bounds
            if beside > 1:
                ripped += math.ceil((end - start) / used - _EDGE)
                continue
            left = end - start - math.floor(offcut / spacing + _EDGE) * spacing
            count = max(0, math.ceil(left / used - _EDGE))
            whole, offcut = whole + count, count * used - left
        if beside > 1:
            whole += math.ceil(ripped / beside)
    return whole


def skids_of(carried: Carried, *, on_stone: bool) -> list[SkidLine]:
    """Give the skids over piers as they stand; ``on_stone``: on a pad, which bears them from end to end."""
    return [
        SkidLine(
            skid.start,
            skid.end,
            float(carried.local[list(skid.piers), 1].mean()),
            () if on_stone else skid.places,
        )
        for skid in carried.skids
    ]


def with_floor(
    order: Order,
    rings: Sequence[Floats],
    skids: Sequence[SkidLine],
    floor: FloorBuildUp,
    supplier: Supplier,
    show: Display,
) -> Order:
    """Give an order with the frame of the floor."""
    frame = frame_floor(rings, skids, floor, max(supplier.board.lengths), us=show.us)
    lines = lumber_lines(frame.sticks, supplier.board, show, place="floor")
    return replace(order.plus(*lines, *_laid(frame, floor, show, skids=bool(skids))), floor=frame.area)


def _laid(frame: Frame, floor: FloorBuildUp, show: Display, *, skids: bool) -> Iterator[OrderLine]:
    """Give the sheets and the screws."""
    wide, long = frame.sheet
    stack = (floor.beam, "skid"), (floor.joists, "joist"), (floor.boards, "sheet")
    parts = " + ".join(f"{show.depth(high)} {name}" for high, name in stack if high)
    note = f"{show.area(frame.area)}; {parts} = {show.depth(floor.thickness)} from foundation to floor"
    note += "" if skids else "; no skids are ordered: no rows are known (rows under [piers])"
    if floor.boards > 0.0:
        area = frame.sheets * wide * long
        sheets = whole_line(
            f"floor plywood {show.depth(floor.boards)}, {show.length(wide)} x {show.length(long)}",
            frame.sheets, "sheets", computed=frame.area / (wide * long),
            mass=area * floor.boards * SHEET_DENSITY,
            allowance="whole sheets; an offcut begins the next strip",
            reason="laid across the joists, ends on them, strips staggered", note=note,
        ).paid_by("floor_sheets", area)  # fmt: skip
        yield replace(sheets, longest=long, place="floor")
        yield _screws(
            "2 in" if show.us else "50 mm", "sheets", math.ceil(ON_SHEETS * frame.area),
            f"{show.depth(APART[show.us])} apart along their ends, twice that in between",
            "sheets that are loose creak",
        )  # fmt: skip
    yield _screws(
        "3 in" if show.us else "80 mm", "frame", AT_AN_END * frame.ends + ON_A_SKID * frame.crossings,
        "three at each end of joists and blocks, two where a joist crosses a skid",
        "joists stand upright and stay where they are",
    )  # fmt: skip


def _screws(size: str, what: str, count: int, allowance: str, reason: str) -> OrderLine:
    line = whole_line(
        f"{size} deck screws for the floor {what}", count, "pieces", mass=count * SCREW_MASS,
        allowance=allowance, reason=reason, note="rated for treated wood",
    ).paid_by("screws", count)  # fmt: skip
    return replace(line, place="floor")
