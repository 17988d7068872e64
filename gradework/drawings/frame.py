"""The furniture of a page: title, border, scale bar, check bars, axis arrows, caution, blank lines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib
from gradework.drawings.lettering import shortened, width_mm, wrapped, write
from gradework.drawings.page import MM_PER_INCH, WIDTH_MM, MapWindow, Scale, round_steps
from gradework.units import Display

TITLE_MM = 14.0
"""The title takes so much at the top of the page [mm]."""

CAUTION = (
    "A plan for a small, light, detached building, drawn from the builder's own shots. Have buried services "
    "located before digging. Local code, permit, setback and frost rules and a licensed engineer or surveyor "
    "decide."
)


def draw_title(axes: Any, *, top: float, title: str, subtitle: str, right: Sequence[str]) -> None:
    """Draw the title block across the page, its upper edge at ``top`` [mm]; ``right`` stands at the right."""
    side = max(width_mm(right[0], 11, "bold"), *(width_mm(line, 8) for line in right[1:]))
    title = shortened(title, 15, WIDTH_MM - side - 6, "bold")
    write(axes, (0, top - 1), title, points=15, weight="bold", va="top", color=ink.BLACK)
    write(axes, (0, top - 12.2), subtitle, points=9, va="baseline", color=ink.BLACK)
    write(axes, (WIDTH_MM, top - 1.5), right[0], points=11, weight="bold", ha="right", va="top")
    for number, line in enumerate(right[1:]):
        write(
            axes,
            (WIDTH_MM, top - 8.7 - 3.6 * number),
            line,
            points=8,
            ha="right",
            va="baseline",
            color=ink.SOFT,
        )


def _ticks(low: float, high: float, *, unit: float, step: float) -> list[float]:
    """Round coordinates between two [m], in the user's unit."""
    first = math.ceil(low / unit / step - 1e-9)
    return [k * step for k in range(first, math.floor(high / unit / step + 1e-9) + 1)]


def draw_border(axes: Any, window: MapWindow, show: Display) -> None:
    """Draw the map's border, round coordinates along its left and lower side, and crosses inside."""
    unit = show.metres_per_unit
    (x0, y0), (x1, y1) = window.to_site(np.array([window.box[:2], window.box[2:]]))
    step = round_steps((x1 - x0) / unit, 6)
    xs, ys = (_ticks(a, b, unit=unit, step=step) for a, b in ((x0, x1), (y0, y1)))
    crosses = np.array([(x * unit, y * unit) for x in xs for y in ys]).reshape(-1, 2)
    page = window.to_page(crosses)
    axes.plot(*page.T, "+", color=ink.FAINT, markersize=5, markeredgewidth=ink.GRID, zorder=0.5)
    box = matplotlib.patches.Rectangle(
        window.box[:2],
        window.right - window.left,
        window.top - window.bottom,
        fill=False,
        linewidth=ink.RULE,
        zorder=9,
    )
    axes.add_patch(box)
    _write_coordinates(axes, window, unit, xs, ys)


def _write_coordinates(axes: Any, window: MapWindow, unit: float, xs: list[float], ys: list[float]) -> None:
    across = window.to_page(np.array([(x * unit, window.middle[1]) for x in xs]).reshape(-1, 2))[:, 0]
    up = window.to_page(np.array([(window.middle[0], y * unit) for y in ys]).reshape(-1, 2))[:, 1]
    strokes = [((x, window.bottom), (x, window.bottom - 1.2)) for x in across]
    strokes += [((window.left, y), (window.left - 1.2, y)) for y in up]
    axes.add_collection(
        matplotlib.collections.LineCollection(strokes, colors=ink.BLACK, linewidths=ink.FINE), autolim=False
    )
    for x, value in zip(across, xs, strict=True):
        place = (min(max(x, 8.0), WIDTH_MM - 4), window.bottom - 1.7)
        write(axes, place, _plain(value), points=7, ha="center", va="top", color=ink.SOFT)
    for y, value in zip(up, ys, strict=True):
        place = (window.left - 1.7, y)
        write(axes, place, _plain(value), points=7, ha="right", va="center", rotation=90, color=ink.SOFT)


def _plain(value: float) -> str:
    """A round number in full: no exponent, no needless zero, a true minus sign."""
    return f"{value:.10g}".replace("-", "−")


def draw_scale_bar(
    axes: Any, place: tuple[float, float], scale: Scale, show: Display, *, longest: float
) -> None:
    """Draw a bar of four round parts, at most ``longest`` mm, its left end at ``place`` [mm]."""
    unit = show.metres_per_unit
    mm_per_unit = unit * scale.mm_per_m
    step = round_steps(longest / mm_per_unit, 5)
    parts = max(1, min(4, math.floor(longest / mm_per_unit / step + 1e-9)))
    left, bottom = place
    for part in range(parts):
        box = matplotlib.patches.Rectangle(
            (left + part * step * mm_per_unit, bottom),
            step * mm_per_unit,
            1.8,
            facecolor=ink.BLACK if part % 2 == 0 else "white",
            edgecolor=ink.BLACK,
            linewidth=ink.FINE,
        )
        axes.add_patch(box)
    for part in range(parts + 1):
        last = part == parts
        text = _plain(part * step) + (f" {show.unit_name}" if last else "")
        middle = left + part * step * mm_per_unit
        shift = width_mm(_plain(part * step), 7.5) / 2
        write(axes, (middle - shift, bottom + 2.6), text, points=7.5, va="baseline")


def draw_check_bars(axes: Any, place: tuple[float, float]) -> None:
    """Draw bars of exactly 50 mm and 2 in, so that a ruler tells whether the page was printed at 100 %."""
    left, bottom = place
    for number, (length, words) in enumerate(((50.0, "50 mm"), (2 * MM_PER_INCH, "2 in"))):
        y = bottom + 5.4 * (1 - number)
        ends = [((left, y), (left + length, y)), ((left, y - 1), (left, y + 1))]
        ends.append(((left + length, y - 1), (left + length, y + 1)))
        axes.add_collection(
            matplotlib.collections.LineCollection(
                ends, colors=ink.BLACK, linewidths=ink.FINE, gid=f"check {words}"
            ),
            autolim=False,
        )
        note = f"measures {words} when printed at 100 %"
        write(axes, (left, y + 0.9), note, points=6.5, va="baseline", color=ink.SOFT)


def draw_axis_arrows(axes: Any, place: tuple[float, float], *, length: float = 10.0) -> None:
    """Draw the plan's x and y axes as two arrows from ``place`` [mm]: the yard's own axes, not a compass."""
    left, bottom = place
    for (dx, dy), label in (((length, 0.0), "x"), ((0.0, length), "y")):
        axes.add_patch(
            matplotlib.patches.FancyArrowPatch(
                (left, bottom),
                (left + dx, bottom + dy),
                arrowstyle="-|>,head_length=3,head_width=1.6",
                mutation_scale=1.0,
                shrinkA=0,
                shrinkB=0,
                linewidth=ink.RULE,
                color=ink.BLACK,
            )
        )
        write(
            axes,
            (left + dx * 1.22, bottom + dy * 1.22),
            label,
            points=10,
            ha="center",
            va="center",
            style="italic",
        )


def draw_rows(
    axes: Any, place: tuple[float, float], heading: str, rows: Sequence[tuple[str, str]], *, width: float
) -> float:
    """Draw a small table of names and values downwards from ``place`` (left, top); return its end [mm]."""
    left, top = place
    write(axes, (left, top), heading, points=9, weight="bold", va="top", color=ink.BLACK)
    y = top - 7.2
    for words, value in rows:
        strong = words.startswith("*")
        lines = wrapped(
            words.lstrip("*"), 7.5, width - width_mm(value, 8, "bold" if strong else "normal") - 2
        )
        weight = "bold" if strong else "normal"
        write(
            axes, (left + width, y), value, points=8, ha="right", va="center", weight=weight, color=ink.BLACK
        )
        for number, line in enumerate(lines):
            write(
                axes, (left, y - 3.2 * number), line, points=7.5, va="center", weight=weight, color=ink.BLACK
            )
        y -= 4.6 + 3.2 * (len(lines) - 1)
    return y + 2.3


def draw_caution(axes: Any, *, bottom: float, source: str) -> float:
    """Draw the caution and the drawing's source at the foot of the page; return its upper edge [mm]."""
    lines = [*wrapped(CAUTION, 7, WIDTH_MM), shortened(source, 7, WIDTH_MM)]
    for number, line in enumerate(reversed(lines)):
        write(axes, (0, bottom + 0.6 + 3.1 * number), line, points=7, va="baseline", color=ink.SOFT)
    top = bottom + 0.6 + 3.1 * len(lines) + 0.6
    axes.plot([0, WIDTH_MM], [top, top], color=ink.BLACK, linewidth=ink.FINE)
    return top


def draw_blank_lines(axes: Any, *, left: float, right: float, top: float, bottom: float) -> None:
    """Leave lines to write on: the date first, then notes, as many as there is room for."""
    y = top - 7.5
    words = ["Date surveyed", "Date printed"]
    while y > bottom + 1:
        label = f"{words.pop(0)}:" if words else ""
        write(axes, (left, y + 0.8), label, points=7.5, va="baseline", color=ink.BLACK)
        start = left + (width_mm(label, 7.5) + 1.5 if label else 0.0)
        axes.plot([start, right], [y, y], color=ink.FAINT, linewidth=ink.GRID)
        y -= 7.0
