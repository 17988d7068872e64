"""Piers or a slab on the plan sheet, in the place of the gravel pad: what is drawn, what the table says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import (
    Box,
    Standing,
    box_around,
    corners_of,
    place_names,
    upright,
    without_room,
)
from gradework.drawings.lettering import Style, height_mm, name, width_mm
from gradework.drawings.page import Entry, Page, line_entry, mark_entry, ring_path
from gradework.drawings.plan.ground import PlanCanvas

if TYPE_CHECKING:
    from gradework.foundations.piers.anchors import Anchors
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.slab.design import Slab
    from gradework.project.plan import Plan


# Outlines on a plan: the building, the pad, the daylight line, with the finished level and the sides.

Floats = NDArray[np.float64]

_SIDE = Style(points=8)
_LEVEL = Style(points=10, weight="bold")
_LEVEL_STEP_MM = 4.2
_STROKE_MM = 2.0
_LEVEL_GAP_MM = 0.9
_GRID_MM = 3.0  # the level tries places so far apart
_SIDE_SPOTS = [(side, 0.5 + d) for side in (1.0, -1.0) for d in (0.0, -0.12, 0.12, -0.24, 0.24)]
"""Where the length of a side is tried: inside (1) or outside (-1), at which share of the side."""


def draw_outline(
    canvas: PlanCanvas,
    rings: Sequence[Floats],
    words: str,
    *,
    width: float,
    dash: object,
    color: str = pens.BLACK,
) -> None:
    """Draw the rings ``(k, 2)`` [m, site] of one outline with its own pen; labels keep off it."""
    page = [canvas.window.to_page(ring) for ring in rings]
    canvas.region(
        page,
        fill=False,
        edgecolor=color,
        linewidth=width,
        linestyle=dash,
        zorder=5,
        joinstyle="miter",
        gid=words,
    )
    for ring in page:
        canvas.keep_off_line(ring)
    canvas.entries.append(line_entry(words, color=color, width=width, dash=dash))


def draw_sides(canvas: PlanCanvas, ring: Floats) -> None:
    """Write the length of each side of the anticlockwise ``ring`` ``(k, 2)`` [m], each length once.

    It stands inside at the middle of its side; where that is taken, farther along, or outside.
    """
    page = canvas.window.to_page(ring)
    said: set[str] = set()
    for number, (start, end) in enumerate(zip(page, np.roll(page, -1, axis=0), strict=True)):
        metres = float(np.hypot(*(np.roll(ring, -1, axis=0)[number] - ring[number])))
        text = canvas.show.length_label(metres)
        width, height = width_mm(text, _SIDE.points), height_mm(_SIDE.points)
        run = end - start
        length = float(np.hypot(*run))
        if text in said or length < width + 4:
            continue
        inward = np.array([-run[1], run[0]]) / length
        # labels and lines are kept apart by upright squares, which reach farther out the more a side slants
        away = (height / 2 + 1.0) * float(np.abs(run).sum()) / length + 0.2
        degrees = upright(math.degrees(math.atan2(run[1], run[0])))
        for inside, share in _SIDE_SPOTS:
            x, y = (start + share * run + inside * away * inward).tolist()
            fits = width + 4 <= 2 * length * min(share, 1 - share)
            if fits and canvas.label(text, (x, y), _SIDE, degrees=degrees, role="side"):
                said.add(text)
                break


def draw_slope_strokes(canvas: PlanCanvas, edge: Floats, daylight: Sequence[Floats]) -> None:
    """Draw strokes square to the anticlockwise ``edge`` ``(k, 2)`` [m] down its side slopes, long and short.

    They run to the ``daylight`` rings ``(k, 2)`` [m] and half way, in turn; none where there is no slope.
    """
    top = canvas.window.to_page(edge)
    rings = [canvas.window.to_page(ring) for ring in daylight]
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    strokes = []
    for a, b in zip(top, np.roll(top, -1, axis=0), strict=True):
        length = float(np.hypot(*(b - a)))
        along = (b - a) / length
        outward = np.array([along[1], -along[0]])
        for number, s in enumerate(np.arange(_STROKE_MM / 2, length, _STROKE_MM)):
            place = a + s * along
            reach = _reach(place, outward, starts, ends)
            if math.isfinite(reach) and reach > 0.5:
                strokes.append(np.array([place, place + outward * reach * (0.5 if number % 2 else 0.92)]))
    if strokes:
        canvas.lines(strokes, color=pens.FAINT, width=pens.FINE, zorder=1.8, gid="slope strokes")


def _reach(place: Floats, direction: Floats, starts: Floats, ends: Floats) -> float:
    """How far from ``place`` along ``direction`` the nearest line ``(n, 2)`` stands [mm]; inf for none."""
    side = np.array([-direction[1], direction[0]])
    one, two = (starts - place) @ side, (ends - place) @ side
    crossed = (one > 0.0) != (two > 0.0)
    share = one[crossed] / (one[crossed] - two[crossed])
    at = (
        (1 - share[:, None]) * (starts[crossed] - place) + share[:, None] * (ends[crossed] - place)
    ) @ direction
    return float(min(at[at > 0.0], default=math.inf))


def draw_level(
    canvas: PlanCanvas, rings: Sequence[Floats], around: Floats, words: str, elevation: str
) -> None:
    """Write the level in the outline of ``rings`` ``(k, 2)`` [m], or beside ``around`` if it has no room.

    At the middle first; on one line or two, on a white ground, off what stands already, wholly inside the
    outline or wholly outside; never left out.
    """
    ring = rings[0]
    page = canvas.window.to_page(ring)
    inside = ring_path([canvas.window.to_page(one) for one in rings])
    x, y = canvas.window.to_page(centre_of(ring)[None])[0].tolist()
    within = _spread((page.min(axis=0), page.max(axis=0)), (x, y))
    short, long = [f"{words} {elevation}"], [words, elevation]
    for lines, places in ((short, [(x, y)]), (long, [(x, y)]), (short, within), (long, within)):
        for place in places:
            box = box_around(place, *_size_of(lines))
            if canvas.taken.is_free(box) and _lies_in(inside, box):
                return _write_level(canvas, place, lines)
    left, bottom, right, top = canvas.taken.window
    anywhere = _spread((np.array([left, bottom]), np.array([right, top])), (x, y))
    size = _size_of(long)
    for place in (*_around(canvas.window.to_page(around), *size), *anywhere):
        box = box_around(place, *size)
        if canvas.taken.is_free(box) and not _meets(inside, box):
            return _write_level(canvas, place, long)
    return _write_level(canvas, (x, y), long)


def _lies_in(path: Any, box: Box) -> bool:
    """Tell whether a box lies wholly in the area of a path, hollows and holes counted as outside."""
    frame = matplotlib.path.Path(np.vstack([corners_of(box), corners_of(box)[:1]]))
    crossed = path.intersects_path(frame, filled=False)
    return bool(path.contains_points(corners_of(box)).all() and not crossed)


def _meets(path: Any, box: Box) -> bool:
    """Tell whether a box shares more than nothing with the area of a path or its lines."""
    frame = matplotlib.path.Path(np.vstack([corners_of(box), corners_of(box)[:1]]))
    return bool(path.contains_points(corners_of(box)).any() or path.intersects_path(frame, filled=False))


def _spread(corners: tuple[Floats, Floats], middle: tuple[float, float]) -> list[tuple[float, float]]:
    """Places on a grid between two corners ``(2,)`` [mm], the nearest to ``middle`` first."""
    xs, ys = (np.arange(low, high, _GRID_MM) for low, high in zip(*corners, strict=True))
    places = [(float(x), float(y)) for x in xs for y in ys]
    return sorted(places, key=lambda place: math.dist(place, middle))


def _around(ring: Floats, wide: float, high: float) -> list[tuple[float, float]]:
    """Places above, below, right and left of ``ring`` ``(k, 2)`` [mm] for the middle of a box."""
    (left, bottom), (right, top) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
    x, y, gap = (left + right) / 2, (bottom + top) / 2, 2.0
    up, aside = high / 2 + gap, wide / 2 + gap
    return [(x, top + up), (x, bottom - up), (right + aside, y), (left - aside, y)]


def _size_of(lines: Sequence[str]) -> tuple[float, float]:
    """How wide and high the lines of the level stand, with the white around them [mm]."""
    wide = max(width_mm(text, _LEVEL.points, _LEVEL.weight) for text in lines) + 2 * _LEVEL_GAP_MM + 1
    return wide, height_mm(_LEVEL.points) + _LEVEL_STEP_MM * (len(lines) - 1) + 2 * _LEVEL_GAP_MM


def _write_level(canvas: PlanCanvas, place: tuple[float, float], lines: Sequence[str]) -> None:
    for number, text in enumerate(lines):
        y = place[1] + _LEVEL_STEP_MM * ((len(lines) - 1) / 2 - number)
        canvas.label(text, (place[0], y), _LEVEL, gap=_LEVEL_GAP_MM, force=True, role="level")


def centre_of(ring: Floats) -> Floats:
    """The centre of area ``(2,)`` of a ring ``(k, 2)`` that does not cross itself."""
    x, y = (ring - ring[0]).T
    nx, ny = np.roll(x, -1), np.roll(y, -1)
    cross = x * ny - nx * y
    centre: Floats = ring[0] + np.array([((x + nx) * cross).sum(), ((y + ny) * cross).sum()]) / (
        3 * cross.sum()
    )
    return centre


# The piers on the plan: each hole with its name, in the place where it is dug.

_NAME = Style(points=7, weight="bold")
_ANCHOR, _ANCHOR_MM = 4.5, 1.6  # the circle of an anchor, in points and across on the page


def draw_piers(canvas: PlanCanvas, piers: Piers) -> None:
    """Draw the hole of each pier true to scale, crossed, with its name beside it, in it, or on a leader.

    A name that finds no place is told in the legend and as a finding.
    """
    crosses, boxes = [], []
    for pier in piers.piers:
        ring = canvas.window.to_page(pier.hole.rings[0])
        canvas.region(
            [ring], facecolor="white", edgecolor=pens.BLACK, linewidth=pens.RULE, zorder=5.2,
            gid=f"pier {pier.name}",
        )  # fmt: skip
        crosses += [ring[[0, 2]], ring[[1, 3]]]
        (left, bottom), (right, top) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
        boxes.append((left, bottom, right, top))
    canvas.lines(crosses, color=pens.BLACK, width=pens.FINE, zorder=5.3)
    if piers.anchors is not None:
        _draw_anchors(canvas, piers.anchors)
    names = [name(pier.name) for pier in piers.piers]
    standing = place_names(boxes, names, canvas.taken, _NAME)
    _write(canvas, standing)
    stand = {one.number for one in standing}
    left_out = [text for number, text in enumerate(names) if number not in stand]
    words = "Pier: its hole, and its name"
    if left_out:
        canvas.findings += without_room("The plan", left_out, len(names))
        words += f"; no room for {len(left_out)} of {len(names)} names"
    canvas.entries.append(Entry(words, _sample))


def _draw_anchors(canvas: PlanCanvas, anchors: Anchors) -> None:
    places = canvas.window.to_page(anchors.places)
    canvas.page.axes.plot(
        *places.T, "o", markersize=_ANCHOR, color=pens.BLACK, markerfacecolor="white", zorder=5.4
    )
    for x, y in places.tolist():
        canvas.taken.take(box_around((x, y), _ANCHOR_MM, _ANCHOR_MM))
    canvas.entries.append(mark_entry("Ground anchor", marker="o", size=_ANCHOR))


def _write(canvas: PlanCanvas, standing: Sequence[Standing]) -> None:
    leaders = [np.array(one.leader) for one in standing if one.leader is not None]
    if leaders:
        canvas.lines(leaders, color=pens.BLACK, width=pens.FINE, zorder=6.0, gid="leaders of names")
    for one in standing:
        canvas.page.clear_ground(corners_of(one.box))
        canvas.page.write(
            one.text, one.place, one.style, across="center", up="center", degrees=one.degrees, role="pier"
        )


def _sample(page: Page, x: float, y: float) -> object:
    page.box(x + 4.0, y - 1.7, 4.0, 3.4, facecolor="white", edgecolor=pens.BLACK, linewidth=pens.RULE)
    cross = [((x + 4.0, y - 1.7), (x + 8.0, y + 1.7)), ((x + 4.0, y + 1.7), (x + 8.0, y - 1.7))]
    return page.strokes(cross, color=pens.BLACK, width=pens.FINE)


WORDS = {"pad": "gravel pad", "piers": "block piers", "slab": "slab"}
"""What the sheet calls each foundation."""

Rows = list[tuple[str, str]]


def draw_piers_or_slab(canvas: PlanCanvas, plan: Plan) -> None:
    """Draw the foundation that is chosen where it is not the pad, and its level."""
    found, ring = plan.foundations, plan.building.rings[0]
    if found.chosen == "piers" and found.piers is not None:
        draw_piers(canvas, found.piers)
        if found.piers.top is not None:
            draw_level(canvas, [ring], ring, "Top of piers", canvas.show.elevation(found.piers.top))
    elif found.slab is not None:
        slab = found.slab
        if slab.spec.margin > 0:
            draw_outline(canvas, slab.outline.rings, "Edge of the slab", width=pens.PAD, dash=pens.PAD_DASH)
        draw_level(canvas, [ring], slab.outline.rings[0], "Top of slab", canvas.show.elevation(slab.level))


def rows_of_other(plan: Plan) -> tuple[str, Rows]:
    """Give the heading and the rows of the sheet's table for piers or slab."""
    found = plan.foundations
    building: Rows = [
        ("Building", plan.job.show.area(plan.building.area)),
        ("Fall under the building", plan.stations.ground.elevation(plan.footprint.fall)),
    ]
    if found.chosen == "piers" and found.piers is not None:
        return "The piers", _pier_rows(found.piers, plan, building)
    assert found.slab is not None
    return "The slab", _slab_rows(found.slab, plan, building)


def _pier_rows(piers: Piers, plan: Plan, building: Rows) -> Rows:
    show = plan.job.show
    if piers.top is None or piers.floor_level is None:
        return [("Common top", "none fits"), *building]
    return [
        ("Top of all piers", show.elevation(piers.top)),
        ("Chosen for", piers.goal),
        ("Finished floor", show.elevation(piers.floor_level)),
        *building,
        ("Piers", str(len(piers.piers))),
        ("Units", str(piers.units_total)),
        ("Tallest stack", show.depth(max(pier.height for pier in piers.piers))),
        ("Digging, in place", show.volume(piers.dug)),
        ("Gravel in beds, compacted", show.volume(sum(pier.bed_volume for pier in piers.piers))),
    ]


def _slab_rows(slab: Slab, plan: Plan, building: Rows) -> Rows:
    show, beside = plan.job.show, plan.foundations.options["slab"].beside
    return [
        ("Top of slab", show.elevation(slab.level)),
        ("Thickness", show.depth(slab.spec.thickness)),
        *building,
        ("Concrete, in place", show.volume(slab.concrete.volume)),
        ("Concrete with waste", show.volume(slab.concrete.needed)),
        ("Digging, in place", show.volume(slab.dig + beside)),
        *([("of it beside the slab", show.volume(beside))] if beside else []),
        ("Gravel, compacted", show.volume(slab.gravel)),
        *([("Earth fill, compacted", show.volume(slab.earth))] if slab.earth > 0.0 else []),
        ("Deepest fill", show.depth(slab.fill_most)),
    ]
