"""Cut and fill on a plan: two hatches of different kind, signed numbers, light tints last.

Against the level plane of the finished pad: cut where the ground stands above it, fill where it lies below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import box_around
from gradework.drawings.lettering import Style, height_mm, width_mm
from gradework.drawings.page import Scale, area_entry, line_entry, text_entry
from gradework.drawings.plan.ground import PlanCanvas
from gradework.earthwork.outline import Outline
from gradework.sitework.setout import FINISHED, to
from gradework.units.display import Display

Floats = NDArray[np.float64]

_STYLE = Style(points=8, weight="bold")
_CROSS_MM = 1.4
_NODE_MM = 16.0
_MOST_NODES = 12
_MOST_POINTS = 300


@dataclass(frozen=True, slots=True)
class LevelParts:
    """Triangles parted by a level plane: pieces above (cut), pieces below (fill), the line between.

    ``cut`` and ``fill`` hold arrays of polygons ``(n, corners, 2)``; ``line`` holds ``(n, 2, 2)``; all in
    the unit and frame of the corners that were given.
    """

    cut: tuple[Floats, ...]
    fill: tuple[Floats, ...]
    line: Floats


def part_at_level(corners: Floats, level: float) -> LevelParts:
    """Part triangles ``(k, 3, 3)`` by the plane at ``level``; one that only touches it stays whole.

    >>> parts = part_at_level(np.array([[[0, 0, 0], [2, 0, 0], [0, 2, 2.0]]]), 1.0)
    >>> [len(p) for p in parts.cut], [len(p) for p in parts.fill], len(parts.line)
    ([0, 1, 0], [0, 0, 1], 1)
    """
    order = np.argsort(corners[:, :, 2], axis=1, kind="stable")
    low, middle, high = np.moveaxis(np.take_along_axis(corners, order[:, :, None], axis=1), 1, 0)
    whole_cut, whole_fill = low[:, 2] >= level, (high[:, 2] <= level) & (low[:, 2] < level)
    split = ~whole_cut & ~whole_fill

    def between(a: Floats, b: Floats) -> Floats:
        share = (level - a[:, 2]) / (b[:, 2] - a[:, 2])
        point: Floats = a[:, :2] + share[:, None] * (b[:, :2] - a[:, :2])
        return point

    upper = split & (middle[:, 2] > level)  # two corners above
    lower = split & ~upper
    p, q = between(low[upper], high[upper]), between(low[upper], middle[upper])
    r, s = between(low[lower], high[lower]), between(middle[lower], high[lower])
    return LevelParts(
        cut=(
            corners[whole_cut][:, :, :2],
            np.stack([high[lower][:, :2], r, s], axis=1),
            np.stack([q, middle[upper][:, :2], high[upper][:, :2], p], axis=1),
        ),
        fill=(
            corners[whole_fill][:, :, :2],
            np.stack([low[upper][:, :2], q, p], axis=1),
            np.stack([low[lower][:, :2], middle[lower][:, :2], s, r], axis=1),
        ),
        line=np.concatenate([np.stack([p, q], axis=1), np.stack([r, s], axis=1)]),
    )


def _path_of(polygons: tuple[Floats, ...], canvas: PlanCanvas) -> Any:
    """Join polygons ``(n, corners, 2)`` [m, site] into one path on the page; None without any."""
    path = matplotlib.path.Path
    vertices, codes = [], []
    for group in polygons:
        count, size = group.shape[:2]
        if count:
            closed = np.concatenate([group, group[:, :1]], axis=1)
            vertices.append(canvas.window.to_page(closed.reshape(-1, 2)))
            one = np.array([path.MOVETO, *[path.LINETO] * (size - 1), path.CLOSEPOLY], dtype=np.uint8)
            codes.append(np.tile(one, count))
    return path(np.concatenate(vertices), np.concatenate(codes)) if vertices else None


def draw_cut_and_fill(canvas: PlanCanvas, corners: Floats, level: float) -> None:
    """Hatch and tint where the ground ``(k, 3, 3)`` [m, site] stands above and below ``level`` [m]."""
    parts = part_at_level(corners, level)
    for polygons, words, tint, hatch, color in (
        (parts.cut, f"Cut: above {FINISHED}", pens.CUT_TINT, pens.CUT_HATCH, pens.EARTH),
        (parts.fill, f"Fill: below {FINISHED}", pens.FILL_TINT, pens.FILL_HATCH, pens.SOFT),
    ):
        path = _path_of(polygons, canvas)
        if path is None:
            continue
        patch = matplotlib.patches.PathPatch
        # a hair of the same tint closes the seams that screens show between neighbouring pieces
        tinted = patch(path, facecolor=tint, edgecolor=tint, linewidth=0.3, zorder=1.0)
        hatched = patch(path, facecolor="none", edgecolor=color, linewidth=0.0, hatch=hatch, zorder=1.1)
        for artist in (tinted, hatched):
            canvas.page.axes.add_artist(canvas.clip(artist))
        hatched.set_gid(words.partition(":")[0].lower())
        canvas.entries.append(area_entry(words, face=tint, hatch=hatch, edge=color))
    if len(parts.line):
        lines = list(canvas.window.to_page(parts.line.reshape(-1, 2)).reshape(-1, 2, 2))
        canvas.lines(
            lines, color=pens.BLACK, width=pens.CONTOUR, dash=pens.DOTTED, zorder=2.5, gid="no cut, no fill"
        )
        words = f"Ground at {FINISHED}"
        canvas.entries.append(line_entry(words, color=pens.BLACK, width=pens.CONTOUR, dash=pens.DOTTED))


def signed_difference(ground: float, level: float, show: Display) -> str:
    """Say how much is to cut (C) or to fill (F) from ``ground`` to ``level`` [m] in the user's unit.

    >>> signed_difference(30.9, 30.8, Display("m")), signed_difference(30.8, 30.861, Display("ft"))
    ('C 0.100', 'F 0.20')
    """
    difference = show.stake(abs(ground - level))
    if difference == show.stake(0.0):
        return difference
    return f"{'C' if ground > level else 'F'} {difference}"


def draw_differences(
    canvas: PlanCanvas, points: Floats, ground: Floats, level: float, *, stakes: int = 0
) -> int:
    """Write C or F and the amount at ``points`` ``(n, 2)`` [m, site] where there is room; return how many.

    ``ground`` ``(n,)`` [m]; points without ground (NaN) are passed over, and those under lettering. The
    number stands beside a small cross on the point, on the side that is free. At the first of them, the
    ``stakes``, what it leads to follows, as on the sheet for setting out; elsewhere the legend says it.
    """
    page = canvas.window.to_page(points)
    crosses = []
    for number, ((x, y), z) in enumerate(zip(page.tolist(), ground.tolist(), strict=True)):
        cross = box_around((x, y), _CROSS_MM, _CROSS_MM)
        if not math.isfinite(z) or not canvas.lettered.is_free(cross):
            continue
        text = signed_difference(z, level, canvas.show)
        if (number < stakes and _stands(canvas, f"{text} {to(FINISHED)}", (x, y))) or _stands(
            canvas, text, (x, y)
        ):
            crosses.append((x, y))
            canvas.taken.take(cross)
            canvas.lettered.take(cross)
    if crosses:
        canvas.page.axes.plot(
            *np.array(crosses).T,
            "x",
            color=pens.BLACK,
            markersize=3.2,
            markeredgewidth=pens.CONTOUR,
            zorder=8,
        )
        words = f"Cut (C), fill (F) {to(FINISHED)}"
        example = signed_difference(0.0, canvas.show.metres_per_unit / 6, canvas.show)
        canvas.entries.append(text_entry(words, example, _STYLE))
    return len(crosses)


def _stands(canvas: PlanCanvas, text: str, place: tuple[float, float]) -> bool:
    """Write ``text`` beside a place [mm] where that is free; tell whether it stands."""
    width, height = width_mm(text, _STYLE.points, _STYLE.weight), height_mm(_STYLE.points)
    return any(
        canvas.label(text, middle, _STYLE, role="difference") for middle in _beside(place, width, height)
    )


def _beside(place: tuple[float, float], width: float, height: float) -> Iterator[tuple[float, float]]:
    x, y = place
    yield from ((x + side * (width / 2 + 1.5), y) for side in (1, -1))
    yield from ((x, y + side * (height / 2 + 1.6)) for side in (-1, 1))
    for dx in (1, -1):
        yield from ((x + dx * (width / 2 + 1.0), y + dy * (height / 2 + 1.2)) for dy in (1, -1))


def difference_points(outline: Outline, inside: Floats, scale: Scale) -> Floats:
    """Choose where to write cut or fill in a pad: its corners, the stations ``inside``, a grid between.

    ``inside`` is ``(n, 2)`` [m]; grid points about 16 mm apart on paper are added where no other point is
    near. Returns ``(m, 2)`` [m].
    """
    step = _NODE_MM / scale.mm_per_m
    low, high = np.array(outline.bounds).reshape(2, 2)
    counts = np.clip(np.ceil((high - low) / step).astype(int), 1, _MOST_NODES)
    places = [lo + (np.arange(n) + 0.5) * (hi - lo) / n for lo, hi, n in zip(low, high, counts, strict=True)]
    grid = np.array([(x, y) for y in places[1] for x in places[0]])
    grid = grid[outline.contains(grid)]
    inside = inside.reshape(-1, 2)[:: max(1, math.ceil(len(inside) / _MOST_POINTS))]
    first = np.concatenate([*outline.rings, inside])
    if len(grid):
        apart = np.hypot(*(grid[:, None] - first[None]).transpose(2, 0, 1)).min(axis=1)
        grid = grid[apart > 0.6 * step]
    return np.concatenate([first, grid])
