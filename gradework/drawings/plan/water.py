"""Water on a plan: arrows that point down the slope, the marks of the drainage rules, and where rain runs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.frame import arrow_heads
from gradework.drawings.labels import box_around, corners_of, slanted_boxes
from gradework.drawings.lettering import Style, height_mm, tight, width_mm
from gradework.drawings.page import Entry, Page, area_entry, line_entry
from gradework.drawings.plan.ground import PlanCanvas
from gradework.earthwork.grading.led import NAMES
from gradework.ground.surface import Surface
from gradework.sitework.drains import together
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.foundations.checks.wall_falls import WallFall
    from gradework.foundations.pad.basin import OutletPipe
    from gradework.sitework.drainage import Drainage, SlopeZone
    from gradework.sitework.drains import Catchment
    from gradework.sitework.past_walls import WallMeasure
    from gradework.sitework.rain import Rain, Run


Floats = NDArray[np.float64]

_SPACING_MM = 26.0
_LENGTH_MM = 8.0
_HEAD_MM = 2.2
_LED_HEAD_MM = 3.5
_PERCENT = Style(points=7.5, color=pens.WATER)
_LEVEL = 0.002
"""Ground that falls less than this [-] gets no arrow: the shots do not say which way it falls."""

_RAY_PENS = {
    "toward": (pens.WARNING, pens.pen(0.5), pens.SOLID),
    "too little": (pens.WARNING, pens.pen(0.4), pens.EVEN_DASH),
    "survey too short": (pens.SOFT, pens.pen(0.3), pens.DOTTED),
}


def _nudges() -> list[tuple[float, float]]:
    """Small steps away from a grid point, the nearest first."""
    steps = [(dx, dy) for dx in (-8, -4, 0, 4, 8) for dy in (-8, -4, 0, 4, 8)]
    return sorted(steps, key=lambda step: (math.hypot(*step), step))


def draw_slope_arrows(canvas: PlanCanvas, surface: Surface) -> int:
    """Draw arrows down the slope with the fall in percent, one for each 26 mm square; return how many."""
    left, bottom, right, top = canvas.window.box
    columns, rows = (max(1, round(side / _SPACING_MM)) for side in (right - left, top - bottom))
    grid = [
        (left + (i + 0.5) * (right - left) / columns, bottom + (j + 0.5) * (top - bottom) / rows)
        for j in range(rows)
        for i in range(columns)
    ]
    nudges = _nudges()
    places = np.array([(x + dx, y + dy) for x, y in grid for dx, dy in nudges])
    gradient = _mean_gradient(canvas, surface, places).reshape(len(grid), len(nudges), 2)
    places = places.reshape(len(grid), len(nudges), 2)
    tips, directions = [], []
    for square, slopes in zip(places, gradient, strict=True):
        for place, slope in zip(square, slopes, strict=True):
            fall = float(np.hypot(*slope))
            if math.isfinite(fall) and fall >= _LEVEL and _stand(canvas, place, -slope / fall, fall):
                tips.append(place - slope / fall * _LENGTH_MM / 2)
                directions.append(-slope / fall)
                break
    if tips:
        _draw_arrows(canvas, np.array(tips), np.array(directions))
    return len(tips)


def _mean_gradient(canvas: PlanCanvas, surface: Surface, places: Floats) -> Floats:
    """Rise per metre ``(n, 2)`` [-] of the plane that fits a ring as wide as an arrow around ``places`` [mm].

    NaN where the ring leaves the surveyed ground: a sliver at the border says nothing about the slope.
    """
    turns = np.radians(np.arange(0.0, 360.0, 45.0))
    ring = np.column_stack([np.cos(turns), np.sin(turns)])
    around = canvas.window.to_site((places[:, None] + ring * _LENGTH_MM / 2).reshape(-1, 2))
    heights = surface.elevation(around).reshape(len(places), len(ring))
    radius = _LENGTH_MM / 2 / canvas.window.scale.mm_per_m
    slope: Floats = (heights - heights[:, :1]) @ ring * (2.0 / len(ring) / radius)
    return slope


def _stand(canvas: PlanCanvas, place: Floats, direction: Floats, fall: float) -> bool:
    """Take the room for one arrow and its percentage, and write the percentage; False if there is none."""
    text = f"{fixed(fall * 100, 0)} %"
    width, height = width_mm(text, _PERCENT.points), height_mm(_PERCENT.points)
    middle = (float(place[0]), float(place[1]))
    shaft = slanted_boxes(middle, _LENGTH_MM, 1.6, math.degrees(math.atan2(direction[1], direction[0])))
    for side in (1.0, -1.0):
        away = np.array([-direction[1], direction[0]]) * side
        reach = 1.2 + abs(away[0]) * width / 2 + abs(away[1]) * height / 2
        x, y = (float(c) for c in place + away * reach)
        box = box_around((x, y), width, height, 0.25)
        if canvas.taken.take_if_free(*shaft, box):
            canvas.page.clear_ground(corners_of(box))
            canvas.page.write(text, (x, y), _PERCENT, across="center", up="center", role="slope")
            return True
    return False


def _draw_arrows(canvas: PlanCanvas, tips: Floats, directions: Floats) -> None:
    shafts = [
        np.array([tip - d * _LENGTH_MM, tip - d * _HEAD_MM * 0.8])
        for tip, d in zip(tips, directions, strict=True)
    ]
    canvas.lines(shafts, color=pens.WATER, width=pens.RULE, zorder=4, gid="slope arrows")
    _fill_heads(canvas.page, arrow_heads(tips, directions, length=_HEAD_MM), pens.WATER)

    def sample(page: Page, x: float, y: float) -> None:
        page.strokes([((x, y), (x + 10, y))], color=pens.WATER, width=pens.RULE)
        tip, along = np.array([[x + 12.0, y]]), np.array([[1.0, 0.0]])
        _fill_heads(page, arrow_heads(tip, along, length=_HEAD_MM), pens.WATER)

    canvas.entries.append(Entry("Downhill, fall in percent", sample))


def _fill_heads(page: Page, heads: list[Floats], color: str) -> None:
    drawn = matplotlib.collections.PolyCollection(heads, facecolors=color, zorder=4.5)
    page.axes.add_collection(drawn, autolim=False)


def draw_drainage(canvas: PlanCanvas, surface: Surface, drainage: Drainage) -> None:
    """Draw where water is not led away: looks out from the walls that fail the rule, flat and steep ground.

    With a pad the looks are those with the pad in place. A look that passes is not drawn.
    """
    marks, show = drainage, canvas.show
    for zone, words, hatch, color in (
        (marks.flat, "Flat, under 1 %: holds water", "-", pens.WATER),
        (marks.steep, "Steep, over 33 % (3:1)", "x", pens.SOFT),
        (marks.very_steep, "Very steep, over 50 % (2:1)", "xx", pens.SOFT),
    ):
        if zone is not None and len(zone.triangles):
            _draw_zone(canvas, surface, zone, hatch=hatch, color=color)
            canvas.entries.append(area_entry(words, face="none", hatch=hatch, edge=color))
    reach, least = show.distance(drainage.rule.reach), show.slope(drainage.rule.fall)
    reach, least = (tight(text.replace(".0 ", " ")) for text in (reach, least))
    said = {
        "toward": f"Rises within {reach} of wall",
        "too little": f"Falls under {least} in {reach}",
        "survey too short": f"No shots as far as {reach}",
    }
    rays = marks.after or marks.before
    for verdict, (color, width, dash) in _RAY_PENS.items():
        chosen = [ray for ray in rays if ray.verdict == verdict]
        if chosen:
            _draw_rays(canvas, chosen, toward=verdict == "toward", color=color, width=width, dash=dash)
            canvas.entries.append(_ray_entry(said[verdict], verdict))


_LED_WORDS = {
    "swale": "Swale to dig, falls this way",
    "apron": "Apron: swale along its foot, falls this way",
    "plain_apron": "Foot of the soil heaped as an apron",
    "drain": "Pipe drain, falls this way",
}
_LED_PENS: Mapping[str, object] = {
    "swale": pens.SOLID,
    "apron": pens.SOLID,
    "plain_apron": pens.DAYLIGHT_DASH,
    "drain": pens.EVEN_DASH,
}


def draw_led(canvas: PlanCanvas, measures: Iterable[WallMeasure], drains: Sequence[Catchment] = ()) -> None:
    """Draw the bottom of each swale and drain, with heads on each stretch the way it falls; of soil that is
    only heaped its foot. The key says how much ``drains`` to all of a kind."""
    measures = [one for one in measures if one.made is not None]
    for kind, dash in _LED_PENS.items():
        own = [one for one in measures if one.made is not None and one.made.kind == kind]
        for bends in [line for one in own if one.made is not None for line in one.made.bends]:
            draw_bottom(canvas, bends, kind, dash)
        feet = [one.made.line for one in own if one.made is not None and not one.made.bends]
        for foot in feet:
            page = canvas.window.to_page(foot[:, :2])
            canvas.lines([page], color=pens.EARTH, width=pens.RULE, dash=dash, zorder=4, gid=kind)
        if feet:
            canvas.entries.append(_foot_entry(_LED_WORDS[kind], dash))
        elif own:
            more = f"{NAMES[kind].capitalize()} (needs more shots)"
            words = _LED_WORDS[kind] if any(one.dug for one in own) else more
            come = together([one for one in drains if one.kind == kind])
            told = f"; takes {come.words(canvas.show)}" if come.counts else ""
            canvas.entries.append(led_entry(words + told, dash))


def draw_pipes_out(canvas: PlanCanvas, pipes: Sequence[OutletPipe]) -> None:
    """Draw the pipe that leads water out of the stone of a pad, with heads the way it falls."""
    for pipe in pipes:
        draw_bottom(canvas, pipe.bends[0], "outlet pipe", pens.EVEN_DASH)
    if pipes:
        canvas.entries.append(led_entry("Pipe out of the stone, falls this way", pens.EVEN_DASH))


def draw_bottom(canvas: PlanCanvas, bends: Floats, kind: str, dash: object) -> None:
    """Draw one stretch (m, 3) of a bottom or pipe, with heads the way it falls."""
    page, height = canvas.window.to_page(bends[:, :2]), bends[:, 2]
    canvas.lines([page], color=pens.WATER, width=pens.INDEX, dash=dash, zorder=4, gid=kind)
    for start, end in pairwise(page):
        canvas.keep_off_line(np.array([start, end]))
    step = np.diff(page, axis=0) * np.sign(height[:-1] - height[1:])[:, None]
    along = step / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    for part in (0.3, 0.75):  # labels of shots may stand on one of the two
        tips = page[:-1] + part * (page[1:] - page[:-1])
        _fill_heads(canvas.page, arrow_heads(tips, along, length=_LED_HEAD_MM), pens.WATER)


def _foot_entry(words: str, dash: object) -> Entry:
    """Give the entry of a foot in the legend."""

    def sample(page: Page, x: float, y: float) -> None:
        page.strokes([((x, y), (x + 12, y))], color=pens.EARTH, width=pens.RULE, dash=dash)

    return Entry(words, sample)


def led_entry(words: str, dash: object) -> Entry:
    """Give its entry of the legend."""

    def sample(page: Page, x: float, y: float) -> None:
        page.strokes([((x, y), (x + 12, y))], color=pens.WATER, width=pens.INDEX, dash=dash)
        tip, along = np.array([[x + 8.0, y]]), np.array([[1.0, 0.0]])
        _fill_heads(page, arrow_heads(tip, along, length=_LED_HEAD_MM), pens.WATER)

    return Entry(words, sample)


def _draw_zone(canvas: PlanCanvas, surface: Surface, zone: SlopeZone, *, hatch: str, color: str) -> None:
    """Hatch the triangles of a zone and draw the line around it."""
    numbers = zone.triangles
    corners = surface.vertices[surface.triangles[numbers], :2] + surface.origin
    page = canvas.window.to_page(corners.reshape(-1, 2)).reshape(-1, 3, 2)
    canvas.region(list(page), facecolor="none", edgecolor=color, hatch=hatch, linewidth=0.0, zorder=0.9)
    member = np.zeros(len(surface.triangles) + 1, dtype=bool)  # the last, for -1, stays outside
    member[numbers] = True
    row, side = np.nonzero(~member[surface.neighbours[numbers]])
    rim = list(np.stack([page[row, side], page[row, (side + 1) % 3]], axis=1))
    canvas.lines(rim, color=color, width=pens.FINE, dash=pens.DOTTED, zorder=1.5)


def _draw_rays(
    canvas: PlanCanvas, rays: list[WallFall], *, toward: bool, color: str, width: float, dash: object
) -> None:
    starts = canvas.window.to_page(np.array([ray.start for ray in rays]))
    ends = canvas.window.to_page(np.array([ray.end for ray in rays]))
    along = (ends - starts) / np.maximum(np.hypot(*(ends - starts).T), 1e-9)[:, None]
    inner = starts + along * (_HEAD_MM if toward else 0.0)
    for start, end in zip(starts, ends, strict=True):
        canvas.keep_off_line(np.array([start, end]))
    canvas.lines(
        list(np.stack([inner, ends], axis=1)),
        color=color,
        width=width,
        dash=dash,
        zorder=4,
        gid="fall from the wall",
    )
    if toward:
        _fill_heads(canvas.page, arrow_heads(starts, -along, length=_HEAD_MM), color)
    else:
        across = np.column_stack([-along[:, 1], along[:, 0]])
        bars = list(np.stack([ends - across, ends + across], axis=1))
        canvas.lines(bars, color=color, width=width, zorder=4)


def _ray_entry(words: str, verdict: str) -> Entry:
    color, width, dash = _RAY_PENS[verdict]

    def sample(page: Page, x: float, y: float) -> None:
        page.strokes([((x, y), (x + 12, y))], color=color, width=width, dash=dash)
        if verdict == "toward":
            tip, along = np.array([[x + 12.0, y]]), np.array([[1.0, 0.0]])
            _fill_heads(page, arrow_heads(tip, along, length=_HEAD_MM), color)
        else:
            page.strokes([((x + 12, y - 1), (x + 12, y + 1))], color=color, width=width)

    return Entry(words, sample)


_WAYS = (
    ("Rain from uphill, as surveyed", pens.SOFT, pens.DOTTED),
    ("Rain from uphill, once built", pens.WATER, pens.DOTTED),
)
"""What the key says of the drops' ways, and their pens: of two grounds in this order, of one the last."""


def draw_rain(canvas: PlanCanvas, rain: Rain, drains: tuple[Sequence[Catchment], ...] = ((), ())) -> None:
    """Draw the ponds near the building, and the ways of drops before and after; the key says how much ground
    ``drains`` to all walls before, and to what is built after."""
    wet = [canvas.window.to_page(ring) for one in rain.standing for ring in one.rings]
    if wet:
        canvas.region(wet, facecolor="none", edgecolor=pens.WATER, hatch="--", linewidth=0.0, zorder=0.95)
        canvas.entries.append(area_entry("Rain stands here", face="none", hatch="--", edge=pens.WATER))
    pens_of = _WAYS[len(_WAYS) - len(rain.runs) :]
    after = [one for one in drains[1] if one.kind in ("pad", "slab")]
    come = [("the walls", together(drains[0])), *((f"the {one.kind}", one) for one in after)]
    for number, (runs, (words, color, dash)) in enumerate(zip(rain.runs, pens_of, strict=True)):
        _draw_ways(canvas, runs, color, dash)
        if runs:
            to = [
                f"; {one.words(canvas.show)} to {what}"
                for what, one in come[number : number + 1]
                if one.counts
            ]
            told = "".join((words, *to))
            canvas.entries.append(line_entry(told, color=color, width=pens.RULE, dash=dash))


def _draw_ways(canvas: PlanCanvas, runs: tuple[Run, ...], color: str, dash: object) -> None:
    legs = [canvas.window.to_page(leg[:, :2]) for one in runs for leg in one.legs if len(leg) > 1]
    if legs:
        canvas.lines(legs, color=color, width=pens.RULE, dash=dash, zorder=3.8, gid="rain")
