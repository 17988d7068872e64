"""The curve: what each finished level costs in gravel, in digging and in money, and what each rule chooses.

Every quantity has a panel of its own and a line of its own kind, so that nothing hangs on colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, ink
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.lettering import Style, name
from gradework.drawings.page import WIDTH_MM, Page
from gradework.drawings.panels import (
    BAND_STYLE,
    Band,
    Curve,
    Mark,
    draw_bands,
    draw_feet,
    draw_level_axis,
    draw_marks,
    draw_panel,
    lay_panels,
    marks_height,
)
from gradework.earthwork.conditions import CompactedVolume
from gradework.foundations.gravelpad import pad_curve
from gradework.units import bulk
from gradework.units.display import fixed

if TYPE_CHECKING:  # the types only
    from gradework.foundations.gravelpad import Pad, PadChoice, PadCurve
    from gradework.foundations.gravelpad_rules import LevelLimit
    from gradework.project.work import Plan
    from gradework.units import Display

Floats = NDArray[np.float64]

_HEIGHT_MM = 190.0
_LEFT_MM, _RIGHT_MM = 19.0, WIDTH_MM - 5.0
_GAP_MM = 4.0
_AXIS_MM = 12.0
_FEET_MM, _ROW_MM = 6.0, 4.3
_ALL = 3
_DASHES = (ink.SOLID, (0, (8, 2.5)), (0, (8, 2, 1.5, 2)))


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
            right=[f"Pad level {show.elevation(pad.chosen.level)}", f"rule: {_rule_words(pad.chosen)}"],
        )
        foot = frame.draw_caution(page, frame.source_words(plan.stations.file, plan.stations.xyz))
        limits = _limits_in_reach(pad, curve)
        rows = foot + 2.0 + _ROW_MM * len(limits)
        box = (_LEFT_MM, rows + _FEET_MM + _AXIS_MM, _RIGHT_MM, _HEIGHT_MM - frame.TITLE_MM)
        room = marks_height(marks, lay_panels(curves, box, gap=_GAP_MM)[0])
        panels = lay_panels(curves, (*box[:3], box[3] - room), gap=_GAP_MM)
        draw_bands(page, panels, [_band(limit, show) for limit in limits])
        for panel, one in zip(panels, curves, strict=True):
            draw_panel(page, panel, one)
        draw_level_axis(page, panels, f"Finished level, {show.unit_title}")
        draw_marks(page, panels, curves, marks)
        draw_feet(page, panels[-1], _ground(pad, show), bottom=rows)
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
        "freeboard": f"the pad stands less than {show.depth(spec.freeboard)} above the ground at its edge",
        "cut depth": f"the digging goes deeper than {show.depth(spec.max_cut)}",
        "edge height": f"the edge stands more than {show.depth(spec.max_height)} above the ground",
        "gravel depth": f"the gravel is deeper than {show.depth(spec.most_gravel)}",
    }
    for number, limit in enumerate(reversed(limits)):
        y = bottom + _ROW_MM * number
        page.box(_LEFT_MM, y - 0.5, 10.0, 3.2, gid="limit sample", hatch=_hatch(limit), **BAND_STYLE)
        page.box(_LEFT_MM, y - 0.5, 10.0, 3.2, fill=False, edgecolor=ink.FAINT, linewidth=ink.GRID)
        side = "below" if limit.least else "above"
        words = f"{side} {show.elevation(limit.level)} {reasons[limit.name]}"
        page.write(words, (_LEFT_MM + 12.0, y), Style(points=8), role="limit")


def _curves(pad: Pad, curve: PadCurve, show: Display) -> list[Curve]:
    """The panels from top to bottom: gravel by weight, digging in place, cost if every price is known."""
    unit = "short tons" if show.us else "tonnes"
    levels = curve.levels / show.metres_per_unit
    tons, digging = curve.gravel * _tons_per_m3(pad, show), curve.excavation / _m3_per_unit(show)
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
    return bulk.short_tons(kilograms) if show.us else bulk.tonnes(kilograms)


def _m3_per_unit(show: Display) -> float:
    return bulk.M3_PER_YD3 if show.us else 1.0


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
            first.excavation / _m3_per_unit(show),
            first.cost if first.cost is not None else math.nan,
        )
        words = f"{rules}: {elevation}" + (" (taken)" if taken else "")
        marks.append(Mark(words, show.in_units(first.level), values[:panels], taken))
    return sorted(marks, key=lambda mark: mark.level)


def _rule_words(choice: PadChoice) -> str:
    if choice.rule == "balanced" and not choice.allowed:
        return "balanced, were earth fill allowed"
    return "level given" if choice.rule == "given" else choice.rule
