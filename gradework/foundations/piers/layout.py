"""Where the piers stand: rows under the beams, or places given; each with the part of the building it bears.

Distances run in the building's own frame: along its first side from its first corner, and across. Nothing
here knows the ground.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.outline import Outline
from gradework.errors import CheckError, Faults
from gradework.foundations.piers.neighbours import rows as numbered_rows
from gradework.units.amounts import M_PER_FT, M_PER_IN
from gradework.units.display import METRIC

if TYPE_CHECKING:
    from gradework.units.display import Display


# Where a straight beam has building above it: the pieces of its line inside an outline, and their piers.

Floats = NDArray[np.float64]

LEAST_APART = 2.0 * M_PER_FT
"""A piece of a beam with less between its insets gets one pier in its middle [m] (judgement: two holes)."""

_BESIDE = 1e-6


def spans(rings: Sequence[Floats], across: float) -> list[tuple[float, float]]:
    """Give the pieces, from to [m along], of the line at ``across`` [m] that lie inside.

    ``rings``, each (k, 2) [m: along, across], are the outside and the holes. A line along an edge counts as
    inside; pieces that touch are one.
    """
    found = sorted(piece for side in (-_BESIDE, _BESIDE) for piece in _spans_inside(rings, across + side))
    joined: list[tuple[float, float]] = []
    for start, end in found:
        if joined and start <= joined[-1][1] + _BESIDE:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return joined


def _spans_inside(rings: Sequence[Floats], across: float) -> list[tuple[float, float]]:
    """Give the pieces of a line that meets no corner: from every odd crossing to the next."""
    places: list[float] = []
    for ring in rings:
        after = np.roll(ring, -1, axis=0)
        meets = (ring[:, 1] > across) != (after[:, 1] > across)
        a, b = ring[meets], after[meets]
        places += (a[:, 0] + (across - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])).tolist()
    places.sort()
    return list(zip(places[::2], places[1::2], strict=True))


def along_span(span: tuple[float, float], inset: float, spacing: float, *, whole: bool) -> list[float]:
    """Give the places of piers under one piece of a beam [m along]: even, ``inset`` from its ends.

    As few as ``spacing`` allows, but two; a piece too short for two gets one in its middle, unless it is the
    ``whole`` length of the building.

    >>> along_span((0.0, 6.0), 0.5, 2.5, whole=True), along_span((1.0, 2.0), 0.3, 2.5, whole=False)
    ([0.5, 3.0, 5.5], [1.5])
    """
    start, end = span
    room = end - start - 2.0 * inset
    if room < LEAST_APART and not whole:
        return [0.5 * (start + end)]
    count = max(2, math.ceil(room / spacing - 1e-9) + 1)
    places: list[float] = np.linspace(start + inset, end - inset, count).tolist()
    return places


MOST_PIERS = 1_000
"""More piers than this mean a slip in the spacing."""

_AREAS_AGREE = 1e-9
_EDGE = 0.001


Along = Literal["longer side", "first side", "second side"]
"""Which side of a building something runs along."""


@dataclass(frozen=True, slots=True)
class RowLayout:
    """Piers in rows under the beams.

    ``rows`` counts the beams, or None: as many as ``row_spacing`` [m] (most between two beams) asks for.
    ``spacing`` [m] is the most between two piers of a row. Both are None where they follow from joists and
    skids. ``end_inset`` [m] is from the end of the building to the middle of the first pier; with ``draw_in``
    it is the most, and less where the skid cannot bear what lies beyond that pier. ``side_inset`` [m] is from
    the side of the building to the middle of the outer beams. Beams run ``along`` the first or the second
    side of the outline, or along the longer.
    """

    rows: int | None = None
    row_spacing: float | None = None
    spacing: float | None = None
    end_inset: float = 12.0 * M_PER_IN
    side_inset: float = 12.0 * M_PER_IN
    along: Along = "longer side"
    draw_in: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """Where one pier stands: middle of its hole [m, site frame], row, number in it, area carried [m²].

    Row 0 is no row: the pier was given, and those given do not line up.
    """

    name: str
    row: int
    number: int
    x: float
    y: float
    tributary: float


@dataclass(frozen=True)
class Frame:
    """The building's own directions: ``origin`` its first corner; ``along``, ``across`` unit vectors (2,)."""

    origin: Floats
    along: Floats
    across: Floats

    def to_site(self, local: Floats) -> Floats:
        """Turn distances along and across (n, 2) [m] into site x, y."""
        site: Floats = self.origin + local @ np.array([self.along, self.across])
        return site

    def to_local(self, site: Floats) -> Floats:
        """Turn site x, y (n, 2) [m] into distances along and across."""
        local: Floats = (site - self.origin) @ np.array([self.along, self.across]).T
        return local


_EQUAL = 1e-6
"""[-] Sides that differ by less are equally long: corners are rounded, so turning changes them a little."""


def building_frame(outline: Outline, along: str = "longer side") -> Frame:
    """Take the directions from the first side of the outline, or from the side square to it.

    Of sides that are equally long, but for rounding, the first one is taken however the outline is turned.
    """
    ring = outline.rings[0]
    first = (ring[1] - ring[0]) / math.hypot(*(ring[1] - ring[0]))
    second = np.array([-first[1], first[0]])
    frame = Frame(ring[0], first, second)
    size = np.ptp(frame.to_local(ring), axis=0)
    if along == "second side" or (along == "longer side" and size[1] > size[0] * (1.0 + _EQUAL)):
        # Keep the frame right-handed: rows are then counted from the far side of the first one.
        return Frame(ring[0], second, -first)
    return frame


def lay_out_rows(outline: Outline, layout: RowLayout, show: Display = METRIC) -> tuple[Place, ...]:
    """Place piers in rows under the building; named ``row-number``, counted from the lowest along and across.

    Piers of a row are evenly spaced between the insets, as few as the spacing allows but at least two; beams
    likewise. A beam is as long as the building above it: where that is no rectangle, or has a hole, each
    piece of a row has its own ends and insets. Raises
    ``InputError`` for counts, spacings or insets that leave nothing.
    """
    frame = building_frame(outline, layout.along)
    local = frame.to_local(outline.rings[0])
    low, high = local.min(axis=0), local.max(axis=0)
    check_layout(layout, high - low, show)
    spacing = _known(layout.spacing)
    rows = layout.rows or count_within(high[1] - low[1] - 2 * layout.side_inset, _known(layout.row_spacing))
    each = count_within(high[0] - low[0] - 2 * layout.end_inset, spacing)
    if rows * each > MOST_PIERS:
        Faults().halt(
            "pier-rows-impossible",
            variant="crowded",
            about=("spacing",),
            rows=rows,
            each=each,
            most=f"{MOST_PIERS:,}",
        )
    across = even_places(low[1] + layout.side_inset, high[1] - layout.side_inset, rows)
    rings = [frame.to_local(ring) for ring in outline.rings]
    numbers: list[tuple[int, int]] = []
    grid: list[tuple[float, float]] = []
    for row, v in enumerate(across.tolist(), start=1):
        places: list[float] = []
        for span in spans(rings, v):
            whole = span[1] - span[0] > high[0] - low[0] - _EDGE
            places += along_span(span, layout.end_inset, spacing, whole=whole)
        numbers += [(row, number) for number in range(1, len(places) + 1)]
        grid += [(u, v) for u in places]
    if not grid:
        Faults().halt("pier-rows-impossible", variant="empty")
    site = frame.to_site(np.array(grid))
    areas = areas_carried(outline, site)
    return tuple(
        Place(f"{row}-{number}", row, number, float(x), float(y), float(area))
        for (row, number), (x, y), area in zip(numbers, site, areas, strict=True)
    )


def lay_out_given(
    outline: Outline,
    given: Sequence[tuple[str, float, float]],
    show: Display = METRIC,
    along: str = "longer side",
) -> tuple[Place, ...]:
    """Take piers as given: name, x, y [m, site frame], in the order given.

    Where they line up ``along`` the beams they have rows and numbers as laid-out piers have; else all are
    in row 0, which is none, numbered in the order given.

    Raises ``InputError`` for no piers, equal names, two on one place, or a pier outside the building.
    """
    faults = Faults()
    if not given:
        faults.halt("pier-rows-impossible", variant="none")
    if len(given) > MOST_PIERS:
        faults.halt(
            "pier-rows-impossible",
            variant="many",
            about=("positions",),
            count=len(given),
            most=f"{MOST_PIERS:,}",
        )
    site = np.array([(x, y) for _, x, y in given], np.float64)
    inside = _inside(outline, site)
    seen: set[str] = set()
    for index, (name, x, y) in enumerate(given):
        if not inside[index]:
            place = show.place(x, y)
            about = ("positions", name)
            faults.note("pier-outside-building", about=about, name=repr(name), place=place)
        if name in seen:
            faults.note("pier-name-twice", name=repr(name))
        near = [k for k in range(index) if math.hypot(*(site[k] - site[index])) < 0.01]
        if near:
            faults.note(
                "piers-overlap",
                variant="place",
                about=("positions", name),
                one=repr(given[near[0]][0]),
                other=repr(name),
            )
        seen.add(name)
    faults.raise_if_any()
    areas = areas_carried(outline, site)
    numbers = numbered_rows(building_frame(outline, along).to_local(site))
    if numbers is None:
        numbers = tuple((0, number) for number in range(1, len(given) + 1))
    return tuple(
        Place(name, row, number, float(x), float(y), float(area))
        for (name, x, y), (row, number), area in zip(given, numbers, areas, strict=True)
    )


_CORNERS = ("corner 1", "corner 2", "corner 3", "corner 4")


def hole_outline(place: Place, frame: Frame, size: tuple[float, float]) -> Outline:
    """Give the plan of a hole: a rectangle of ``size`` (along, across) [m], turned with the building.

    Its title names the pier, so that what is told about the outline says whose hole it is.
    """
    half = 0.5 * np.array(size)
    corners = np.array([[-half[0], -half[1]], [half[0], -half[1]], half, [-half[0], half[1]]])
    plan = np.array([place.x, place.y]) + corners @ np.array([frame.along, frame.across])
    plan.setflags(write=False)
    # a frame is right-handed, so the corners run anticlockwise, and a rectangle can have no fault
    return Outline((plan,), _CORNERS, f"hole of pier {place.name}")


def areas_carried(outline: Outline, site: Floats) -> Floats:
    """Share the plan of the building among the piers (n, 2): each carries what is nearest to it [m²].

    In even rows this is the usual rule, half of each gap and all beyond the last pier. Raises ``CheckError``
    when the shares do not add up to the building.
    """
    areas = _areas_carried(tuple(ring.tobytes() for ring in outline.rings), site.tobytes())
    if abs(areas.sum() - outline.area) > _AREAS_AGREE * outline.area:
        raise CheckError(f"areas carried add up to {areas.sum()} m², the building has {outline.area} m²")
    return areas


@lru_cache(maxsize=8)
def _areas_carried(corners: tuple[bytes, ...], piers: bytes) -> Floats:
    """The same, of places kept as bytes so that it is not worked out again for other ground."""
    site = np.frombuffer(piers).reshape(-1, 2)
    origin = site.mean(axis=0)
    rings = [np.frombuffer(ring).reshape(-1, 2) - origin for ring in corners]
    points = site - origin
    areas = np.empty(len(points))
    for index, point in enumerate(points):
        others = np.delete(points, index, axis=0)
        near = others[np.argsort(np.hypot(*(others - point).T), kind="stable")]
        areas[index] = sum(_part_near(ring, point, near) for ring in rings)
    areas.setflags(write=False)
    return areas


def _part_near(ring: Floats, point: Floats, others: Floats) -> float:
    """Give the signed area of the ring that is nearer to ``point`` than to any of ``others``."""
    polygon = ring
    for other in others:
        if len(polygon) < 3:
            return 0.0
        if np.hypot(*(other - point)) > 2.0 * np.hypot(*(polygon - point).T).max():
            break  # this one and all farther ones are too far away to take anything
        side = (polygon - 0.5 * (point + other)) @ (other - point)  # above 0: nearer to the other
        if (side <= 0.0).all():
            continue
        polygon = _keep_below(polygon, side)
    if len(polygon) < 3:
        return 0.0
    x, y = polygon.T
    return float(0.5 * (x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def _keep_below(polygon: Floats, side: Floats) -> Floats:
    kept = []
    for k in range(len(polygon)):
        after = (k + 1) % len(polygon)
        if side[k] <= 0.0:
            kept.append(polygon[k])
        if (side[k] < 0.0 < side[after]) or (side[after] < 0.0 < side[k]):
            part = side[k] / (side[k] - side[after])
            kept.append(polygon[k] + part * (polygon[after] - polygon[k]))
    return np.array(kept).reshape(-1, 2)


def _inside(outline: Outline, site: Floats) -> NDArray[np.bool_]:
    """Say which places (n, 2) stand under the building, its edge included (to 1 mm)."""
    inside = outline.contains(site)
    for step in ((_EDGE, 0.0), (-_EDGE, 0.0), (0.0, _EDGE), (0.0, -_EDGE)):
        inside = inside | outline.contains(site + np.array(step))
    return inside


def count_within(length: float, spacing: float) -> int:
    """Give how many evenly spaced piers keep within the spacing: at least two, the ends included."""
    return max(2, math.ceil(length / spacing - 1e-9) + 1)


def _known(spacing: float | None) -> float:
    if spacing is None:
        raise CheckError("rows are laid out before it is known how far apart")
    return spacing


def even_places(low: float, high: float, count: int) -> Floats:
    """Give so many evenly spaced places from ``low`` to ``high`` [m]; one alone is in the middle."""
    return np.linspace(low, high, count) if count > 1 else np.array([0.5 * (low + high)])


def check_layout(layout: RowLayout, size: Floats, show: Display) -> None:
    """Refuse counts, spacings and insets that leave nothing of a building of ``size`` (along, across) [m]."""
    faults = Faults()
    if layout.rows is not None and layout.rows < 1:
        faults.note("pier-rows-impossible", variant="rows", about=("rows",), rows=layout.rows)
    for key, value, way in (
        ("row_spacing", layout.row_spacing, "between"),
        ("spacing", layout.spacing, "along"),
    ):
        if value is not None and not (math.isfinite(value) and value > 0.0):
            faults.note("pier-rows-impossible", variant=way, about=(key,), spacing=f"{value:g}")
    for key, inset, room, edge in (
        ("end_inset", layout.end_inset, size[0], "ends"),
        ("side_inset", layout.side_inset, size[1], "sides"),
    ):
        if not 0.0 <= inset < 0.5 * room:
            faults.note(
                "pier-rows-impossible",
                variant="inset",
                about=(key,),
                inset=show.length(inset),
                edge=edge,
                room=show.length(float(room)),
            )
    faults.raise_if_any()
