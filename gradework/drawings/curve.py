"""The curve: what each finished level costs in gravel, in digging and in money, and what each rule chooses.

Every quantity has a panel of its own and a line of its own kind, so that nothing hangs on colour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.labels import Box, Taken, box_around
from gradework.drawings.lettering import Style, height_mm, name, width_mm
from gradework.drawings.page import WIDTH_MM, Page, level_ticks, ticks
from gradework.earthwork.conditions import CompactedVolume
from gradework.foundations.pad.design import pad_curve
from gradework.units.amounts import M3_PER_YD3, short_tons, tonnes
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.foundations.pad.design import Pad, PadCurve
    from gradework.foundations.pad.rules import LevelLimit, PadChoice
    from gradework.project.plan import Plan
    from gradework.units.display import Display


# Panels, one above the other on a common level axis. Drawn in millimetres; what is drawn, in whose units
# and which words, is for the second half of the file to say.

Floats = NDArray[np.float64]

_TICK = Style(points=8)
_NAME = Style(points=9, weight="bold")
_VALUE = Style(points=8)
_CHOSEN_VALUE = Style(points=8, weight="bold")
_MARK = Style(points=8.5)
_CHOSEN_MARK = Style(points=8.5, weight="bold")
_ROW_MM = 4.4
_OFF_MM = 1.8
"""A value keeps so far from the middle of its dot."""
_FROM_ZERO = 0.35
"""A panel starts at zero unless its least value is above this part of its greatest."""


BAND_STYLE: dict[str, Any] = {"facecolor": "none", "edgecolor": "#A8A8A8", "linewidth": 0.0, "zorder": 0.5}
"""How levels that are not allowed are hatched."""


@dataclass(frozen=True, slots=True)
class Curve:
    """One quantity over the level, both ``(n,)`` in the user's units; its dashes, how a value is written."""

    name: str
    levels: Floats
    values: Floats
    dash: Any
    said: Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Mark:
    """One choice of level: its words, the level in the user's unit, its value in each panel."""

    words: str
    level: float
    values: tuple[float, ...]
    chosen: bool


@dataclass(frozen=True, slots=True)
class Band:
    """Levels that are not allowed, from ``low`` to ``high`` in the user's unit, and their hatch."""

    low: float
    high: float
    hatch: str


@dataclass(frozen=True, slots=True)
class Panel:
    """A rectangle on the page [mm] and the values at its edges."""

    box: Box
    levels: tuple[float, float]
    values: tuple[float, float]

    def to_page(self, levels: Any, values: Any) -> Floats:
        """Turn levels and values ``(n,)`` into places ``(n, 2)`` [mm]."""
        left, bottom, right, top = self.box
        x = left + (np.asarray(levels, dtype=float) - self.levels[0]) / (self.levels[1] - self.levels[0]) * (
            right - left
        )
        y = bottom + (np.asarray(values, dtype=float) - self.values[0]) / (
            self.values[1] - self.values[0]
        ) * (top - bottom)
        return np.column_stack(np.broadcast_arrays(x, y))


def lay_panels(curves: Sequence[Curve], box: Box, *, gap: float) -> list[Panel]:
    """Divide ``box`` [mm] into one panel for each curve, the first on top, ``gap`` mm apart."""
    left, bottom, right, top = box
    height = (top - bottom - gap * (len(curves) - 1)) / len(curves)
    ends = (float(curves[0].levels[0]), float(curves[0].levels[-1]))
    return [
        Panel(
            (left, top - n * (height + gap) - height, right, top - n * (height + gap)),
            ends,
            _value_range(curve.values),
        )
        for n, curve in enumerate(curves)
    ]


def _value_range(values: Floats) -> tuple[float, float]:
    low, high = float(np.min(values)), float(np.max(values))
    if high <= low:
        high = low + max(abs(low) * 0.1, 1e-9)
    base = 0.0 if 0.0 <= low <= _FROM_ZERO * high else low - 0.08 * (high - low)
    return base, high + 0.12 * (high - base)


def draw_panel(page: Page, panel: Panel, curve: Curve) -> None:
    """Draw a panel's frame, its ticks and its curve; the curve is named inside the panel."""
    left, bottom, right, top = panel.box
    page.box(left, bottom, right - left, top - bottom, fill=False, linewidth=pens.FINE, zorder=5)
    for value, text in ticks(*panel.values, most=5):
        y = float(panel.to_page([panel.levels[0]], [value])[0, 1])
        page.strokes([((left, y), (right, y))], color=pens.FAINT, width=pens.GRID, zorder=1)
        page.write(text, (left - 1.5, y), _TICK, across="right", up="center", role="tick")
    page.strokes(
        [panel.to_page(curve.levels, curve.values)],
        color=pens.BLACK,
        width=pens.pen(0.5),
        dash=curve.dash,
        zorder=4,
        gid=curve.name,
    )
    clear_label(page, curve.name, (left + 2.0, top - 4.2), _NAME, role="curve")


def clear_label(page: Page, text: str, place: tuple[float, float], style: Style, *, role: str) -> Box:
    """Write ``text`` from ``place`` (left, baseline) [mm] on a white ground and return the box it takes."""
    line = page.write(text, place, style, role=role)
    left, bottom, right, top = line.box
    box = (left - 0.5, bottom - 0.7, right + 0.5, top + 0.6)
    page.clear_ground(np.array([(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]))
    return box


def draw_level_axis(page: Page, panels: Sequence[Panel], show: Display) -> None:
    """Write the levels below the lowest panel and draw their lines through all."""
    name = f"Finished level, {show.unit_title}"
    left, bottom, right, _ = panels[-1].box
    for value, text in level_ticks(*panels[0].levels, show):
        x = float(panels[-1].to_page([value], [panels[-1].values[0]])[0, 0])
        lines = [((x, panel.box[1]), (x, panel.box[3])) for panel in panels]
        page.strokes(lines, color=pens.FAINT, width=pens.GRID, zorder=1)
        half = width_mm(text, _TICK.points) / 2
        middle = min(max(x, left - 10 + half), right + 3 - half)
        page.write(text, (middle, bottom - 1.4), _TICK, across="center", up="top", role="tick")
    page.write(name, ((left + right) / 2, bottom - 5.4), _NAME, across="center", up="top", role="axis")


def draw_bands(page: Page, panels: Sequence[Panel], bands: Sequence[Band]) -> None:
    """Hatch the levels that are not allowed in every panel."""
    for band in bands:
        low, high = (min(max(end, panels[0].levels[0]), panels[0].levels[1]) for end in (band.low, band.high))
        if high <= low:
            continue
        for panel in panels:
            x0, x1 = panel.to_page([low, high], panel.values[0])[:, 0]
            left, bottom, width, height = float(x0), panel.box[1], float(x1 - x0), panel.box[3] - panel.box[1]
            page.box(left, bottom, width, height, gid="not allowed", hatch=band.hatch, **BAND_STYLE)


def rows_for_marks(marks: Sequence[Mark], panel: Panel) -> list[tuple[float, int]]:
    """Where each mark's words stand: their middle [mm] and their row, 0 the lowest, so that none overlap."""
    left, _, right, _ = panel.box
    ends: list[list[tuple[float, float]]] = []
    found = []
    for mark in marks:
        half = width_mm(mark.words, _CHOSEN_MARK.points, "bold") / 2 + 1.0
        x = float(panel.to_page([mark.level], [panel.values[0]])[0, 0])
        middle = min(max(x, left - 8 + half), right + 3 - half)
        row = next(
            (
                n
                for n, taken in enumerate(ends)
                if all(middle + half <= a or middle - half >= b for a, b in taken)
            ),
            len(ends),
        )
        if row == len(ends):
            ends.append([])
        ends[row].append((middle - half, middle + half))
        found.append((middle, row))
    return found


def marks_height(marks: Sequence[Mark], panel: Panel) -> float:
    """How much room the words of the marks take above the panels [mm]."""
    return _ROW_MM * (max((row for _, row in rows_for_marks(marks, panel)), default=-1) + 1) + 1.5


def draw_marks(page: Page, panels: Sequence[Panel], curves: Sequence[Curve], marks: Sequence[Mark]) -> None:
    """Draw each choice as a line through all panels, its words above, its value beside its dot in each."""
    top, bottom = panels[0].box[3], panels[-1].box[1]
    rows = rows_for_marks(marks, panels[0])
    for mark, (middle, row) in sorted(zip(marks, rows, strict=True), key=lambda pair: not pair[0].chosen):
        x = float(panels[0].to_page([mark.level], [panels[0].values[0]])[0, 0])
        up = top + 1.0 + _ROW_MM * row
        width, dash = (pens.pen(0.45), pens.SOLID) if mark.chosen else (pens.RULE, pens.EVEN_DASH)
        page.strokes(
            [((x, bottom), (x, up))],
            color=pens.WATER,
            zorder=3,
            gid=f"mark {mark.words}",
            width=width,
            dash=dash,
        )
        style = _CHOSEN_MARK if mark.chosen else _MARK
        half = width_mm(mark.words, style.points, style.weight) / 2
        clear_label(page, mark.words, (middle - half, up + 0.7), style, role="mark")
    for n, (panel, curve) in enumerate(zip(panels, curves, strict=True)):
        _draw_values(page, panel, curve, [(mark, mark.values[n]) for mark in marks])


def _names_taken(panel: Panel, curve: Curve) -> Taken:
    """The room in a panel that its name and its curve take."""
    left, bottom, right, top = panel.box
    taken = Taken((left + 0.5, bottom + 0.5, right - 0.5, top - 0.5))
    taken.take((left, top - 6.0, left + 4.0 + width_mm(curve.name, _NAME.points, "bold"), top))
    line = panel.to_page(curve.levels, curve.values)
    for a, b in pairwise(line):
        taken.take((float(a[0]), float(min(a[1], b[1])) - 0.3, float(b[0]), float(max(a[1], b[1])) + 0.3))
    return taken


def _draw_values(page: Page, panel: Panel, curve: Curve, values: Sequence[tuple[Mark, float]]) -> None:
    """Draw the dots of all marks in a panel, and each value beside its own, that of the chosen one first."""
    taken = _names_taken(panel, curve)
    dots = [panel.to_page([mark.level], [value])[0] for mark, value in values]
    for (mark, _), (x, y) in zip(values, dots, strict=True):
        face = pens.BLACK if mark.chosen else "white"
        page.axes.plot([x], [y], "o", markersize=4.5, color=pens.BLACK, markerfacecolor=face, zorder=7.5)
        taken.take(box_around((float(x), float(y)), 1.6, 1.6))
    for n in sorted(range(len(values)), key=lambda n: not values[n][0].chosen):
        mark, value = values[n]
        style = _CHOSEN_VALUE if mark.chosen else _VALUE
        text = curve.said(value)
        width, height = width_mm(text, style.points, style.weight), height_mm(style.points)
        others = [float(dot[0]) for k, dot in enumerate(dots) if k != n]
        for side, dy in _beside(float(dots[n][0]), width + _OFF_MM, others):
            x, y = float(dots[n][0]) + side * (width / 2 + _OFF_MM), float(dots[n][1]) + dy
            if taken.take_if_free(box_around((x, y), width, height, 0.4)):
                clear_label(page, text, (x - width / 2, y - height / 2), style, role="value")
                break


def _beside(x: float, reach: float, others: Sequence[float]) -> list[tuple[int, float]]:
    """Places for a value beside its dot at ``x`` [mm], best first: the side (right 1, left -1), how far up.

    Where another dot stands within ``reach`` on one side only, the other side comes first: of two dots close
    together the left one has its value on the left, the right one on the right.
    """
    places = [(side, dy) for dy in (0.0, 2.6, -2.6, 4.5, -4.5, 7.0, -7.0) for side in (1, -1)]
    crowded = {side for side in (1, -1) if any(0.0 < side * (other - x) < reach for other in others)}
    return sorted(places, key=lambda place: place[0] in crowded) if len(crowded) == 1 else places


def draw_feet(page: Page, panel: Panel, feet: Sequence[tuple[float, str]], *, bottom: float) -> None:
    """Point at levels from below the axis, each with its words, ``bottom`` [mm] the words' lowest line."""
    inside = [(level, words) for level, words in feet if panel.levels[0] <= level <= panel.levels[1]]
    marks = [Mark(words, level, (), False) for level, words in inside]
    for mark, (middle, row) in zip(marks, rows_for_marks(marks, panel), strict=True):
        x = float(panel.to_page([mark.level], [panel.values[0]])[0, 0])
        y = bottom + 4.0 * row
        page.strokes(
            [((x, panel.box[1]), (x, panel.box[1] + 2.2))], color=pens.EARTH, width=pens.pen(0.6), zorder=6
        )
        page.axes.plot([x], [panel.box[1]], "^", markersize=5, color=pens.EARTH, zorder=7.5, gid="ground")
        page.write(mark.words, (middle, y), _MARK, across="center", role="ground")


_HEIGHT_MM = 190.0
_LEFT_MM, _RIGHT_MM = 19.0, WIDTH_MM - 5.0
_GAP_MM = 4.0
_AXIS_MM = 12.0
_FEET_MM, _TABLE_ROW_MM = 6.0, 4.3
_ALL = 3
_DASHES = (pens.SOLID, (0, (8, 2.5)), (0, (8, 2, 1.5, 2)))


def draw_curve(plan: Plan) -> matplotlib.figure.Figure:
    """Draw gravel, digging and, where there are prices, cost against the finished level.

    The choice of every rule is marked, the one that the job takes in bold; levels that a limit of the job
    forbids are hatched. Returns a matplotlib Figure for ``save.figure_bytes``.
    """
    with steady():
        page = Page(height_mm=_HEIGHT_MM)
        show, pad = plan.job.show, plan.pad
        curve = pad_curve(pad)
        curves = _curves(pad, curve, show)
        marks = _marks(pad, len(curves), show)
        frame.draw_title(
            page,
            title=name(plan.job.name),
            subtitle="What each finished level takes"
            + ("" if len(curves) == _ALL else " (no prices, so no cost)"),
            right=[f"Finished level {show.elevation(pad.chosen.level)}", f"rule: {_rule_words(pad.chosen)}"],
            stamp=plan.stamp("pad"),
        )
        foot = frame.draw_caution(page, frame.source_words(plan.stations.file, plan.stations.xyz))
        limits = _limits_in_reach(pad, curve)
        rows = foot + 2.0 + _TABLE_ROW_MM * len(limits)
        box = (_LEFT_MM, rows + _FEET_MM + _AXIS_MM, _RIGHT_MM, _HEIGHT_MM - frame.TITLE_MM)
        room = marks_height(marks, lay_panels(curves, box, gap=_GAP_MM)[0])
        panels = lay_panels(curves, (*box[:3], box[3] - room), gap=_GAP_MM)
        draw_bands(page, panels, [_band(limit, show) for limit in limits])
        for panel, one in zip(panels, curves, strict=True):
            draw_panel(page, panel, one)
        draw_level_axis(page, panels, show)
        draw_marks(page, panels, curves, marks)
        draw_feet(page, panels[-1], _ground(pad, plan.stations.ground), bottom=rows)
        _draw_limits(page, pad, limits, show, bottom=foot + 2.0)
        return page.finish()


def _ground(pad: Pad, show: Display) -> list[tuple[float, str]]:
    """The lowest and the highest ground under the pad, in the user's unit, with their words."""
    heights = pad.pieces.heights
    return [
        (show.in_units(height), f"▲ {words} ground under the pad: {show.elevation(height)}")
        for height, words in ((float(heights.min()), "lowest"), (float(heights.max()), "highest"))
    ]


def _limits_in_reach(pad: Pad, curve: PadCurve) -> list[LevelLimit]:
    """The tightest lower and the tightest upper limit on the level, where the curve reaches them."""
    low, high = float(curve.levels[0]), float(curve.levels[-1])
    lower = [limit for limit in pad.limits if limit.least and limit.level > low]
    upper = [limit for limit in pad.limits if not limit.least and limit.level < high]
    found = []
    if lower:
        found.append(max(lower, key=lambda limit: limit.level))
    if upper:
        found.append(min(upper, key=lambda limit: limit.level))
    return found


def _band(limit: LevelLimit, show: Display) -> Band:
    level = show.in_units(limit.level)
    ends = (-math.inf, level) if limit.least else (level, math.inf)
    return Band(*ends, _hatch(limit))


def _hatch(limit: LevelLimit) -> str:
    """Too low leans one way, too high the other: where both hold, the hatches cross."""
    return "\\" if limit.least else "/"


def _draw_limits(page: Page, pad: Pad, limits: Sequence[LevelLimit], show: Display, *, bottom: float) -> None:
    """Say below the panels what the hatched levels break, one line for each limit."""
    spec = pad.spec
    reasons = {
        "what can be built": "the pad cannot be built so low",
        "height above grade": f"the pad is less than {show.depth(spec.freeboard)} above grade at its edge",
        "cut depth": f"the digging goes deeper than {show.depth(spec.max_cut)}",
        "edge height": f"the edge stands more than {show.depth(spec.max_height)} above the ground",
        "gravel depth": f"the gravel is deeper than {show.depth(spec.most_gravel)}",
    }
    for number, limit in enumerate(reversed(limits)):
        y = bottom + _TABLE_ROW_MM * number
        page.box(_LEFT_MM, y - 0.5, 10.0, 3.2, gid="limit sample", hatch=_hatch(limit), **BAND_STYLE)
        page.box(_LEFT_MM, y - 0.5, 10.0, 3.2, fill=False, edgecolor=pens.FAINT, linewidth=pens.GRID)
        side = "below" if limit.least else "above"
        words = f"{side} {show.elevation(limit.level)} {reasons[limit.name]}"
        page.write(words, (_LEFT_MM + 12.0, y), Style(points=8), role="limit")


def _curves(pad: Pad, curve: PadCurve, show: Display) -> list[Curve]:
    """The panels from top to bottom: gravel by weight, digging in place, cost if every price is known."""
    levels = curve.levels / show.metres_per_unit
    tons, digging = curve.gravel * _tons_per_m3(pad, show), curve.excavation / _m3_per_unit(show)
    unit = "tons of 2,000 lb" if show.us else show.mass_unit
    curves = [
        Curve(f"Gravel, {unit} (dry)", levels, tons, _DASHES[0], _one_place),
        Curve(f"Digging, {show.volume_unit} in place", levels, digging, _DASHES[1], _one_place),
    ]
    if np.isfinite(curve.cost).all():
        curves.append(Curve("Cost, in the money of the prices", levels, curve.cost, _DASHES[2], _whole))
    return curves


def _one_place(value: float) -> str:
    return fixed(value, 1 if abs(value) < 100 else 0)


def _whole(value: float) -> str:
    return fixed(value, 0)


def _tons_per_m3(pad: Pad, show: Display) -> float:
    """Dry weight of one compacted cubic metre in the user's tons."""
    kilograms = pad.spec.material.compacted.mass(CompactedVolume(1.0))
    return short_tons(kilograms) if show.us else tonnes(kilograms)


def _m3_per_unit(show: Display) -> float:
    return M3_PER_YD3 if show.us else 1.0


def _marks(pad: Pad, panels: int, show: Display) -> list[Mark]:
    """One mark for each level that is chosen; rules that agree to what is shown share theirs."""
    together: dict[str, list[PadChoice]] = {}
    for choice in pad.choices:
        together.setdefault(show.elevation(choice.level), []).append(choice)
    marks = []
    for elevation, choices in together.items():
        taken = any(choice.rule == pad.chosen.rule for choice in choices)
        rules = " = ".join(_rule_words(choice) for choice in choices)
        first = choices[0]
        values = (
            first.gravel * _tons_per_m3(pad, show),
            first.dug / _m3_per_unit(show),
            first.cost if first.cost is not None else math.nan,
        )
        words = f"{rules}: {elevation}" + (" (taken)" if taken else "")
        marks.append(Mark(words, show.in_units(first.level), values[:panels], taken))
    return sorted(marks, key=lambda mark: mark.level)


def _rule_words(choice: PadChoice) -> str:
    if choice.rule == "balanced" and not choice.allowed:
        return "balanced, were earth fill allowed"
    return "level given" if choice.rule == "given" else choice.rule
