"""The finished ground on a plan: its contours where they are not those of the survey, and where sections run.

Both surfaces are straight between the corners of their triangles, and each triangle of the finished one lies
in one of the surveyed. So a piece of a contour in one triangle differs from the survey all along or not at
all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.labels import Place, box_around, corners_of, crosses
from gradework.drawings.lettering import Style, height_mm, width_mm
from gradework.earthwork.grading.finished import DAYLIGHT
from gradework.ground.contours import Contour, trace

if TYPE_CHECKING:
    from gradework.drawings.plan.ground import PlanCanvas
    from gradework.drawings.section.cut import CutLine
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

_MARK = Style(points=10, weight="bold")
_STROKE_MM, _OFF_MM = 5.0, 3.2
_STEPS_MM = np.arange(1.0, 40.0, 1.5).tolist()


def finished_contours(surface: Surface, finished: Surface, levels: Iterable[float]) -> list[Contour]:
    """The contours of the finished ground at ``levels`` [m] as far as they lie off the surveyed ground."""
    if finished is surface:
        return []
    return [part for line in trace(finished, levels) for part in _differing(line, surface)]


def _differing(line: Contour, surface: Surface) -> Iterator[Contour]:
    """The runs of a contour along which the surveyed ground does not have its level."""
    xy = np.vstack([line.xy, line.xy[:1]]) if line.closed else line.xy
    ground = surface.elevation(0.5 * (xy[:-1] + xy[1:]))
    differs = np.abs(ground - line.level) > DAYLIGHT
    if differs.all():
        yield line
        return
    edges = np.flatnonzero(np.diff(np.concatenate(([False], differs, [False])).astype(int)))
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield Contour(line.level, xy[first : last + 1], False)


def mark_sections(
    canvas: PlanCanvas, lines: Sequence[CutLine], outline: Floats, bends: Sequence[Floats] = ()
) -> None:
    """Mark where sections are cut: a stroke with its letter at both ends, off the ``outline`` (k, 2) [m].

    ``bends`` (m, 3) [m] : lines drawn later on which no letter stands.
    """
    page = [canvas.window.to_page(line[:, :2]) for line in bends]
    off = [(tuple(a.tolist()), tuple(b.tolist())) for line in page for a, b in pairwise(line)]
    for line in lines:
        at = (outline - line.start) @ line.along
        for u, way, words in (
            (float(at.min()), -1.0, line.letter),
            (float(at.max()), 1.0, f"{line.letter}'"),
        ):
            _mark(canvas, line.at(u), way * line.along, words, off)


def _mark(
    canvas: PlanCanvas, place: Floats, way: Floats, words: str, off: Sequence[tuple[Place, Place]]
) -> None:
    """Set one mark at the first free place outward from ``place`` (2,) [m]; none where all is taken."""
    start = canvas.window.to_page(place[None])[0]
    wide, high = width_mm(words, _MARK.points, _MARK.weight), height_mm(_MARK.points)
    for away in _STEPS_MM:
        first, last = start + away * way, start + (away + _STROKE_MM) * way
        x, y = (last + _OFF_MM * way).tolist()
        letters = box_around((x, y), wide, high, 0.4)
        middle = 0.5 * (first + last)
        stroke = box_around((float(middle[0]), float(middle[1])), *(np.abs(last - first) + 1.0).tolist())
        if any(crosses(one, letters) for one in off):
            continue
        if canvas.taken.take_if_free(letters, stroke):
            canvas.lettered.take(letters)
            canvas.lines(
                [np.array([first, last])], color=pens.BLACK, width=pens.FOOTPRINT, zorder=6, gid="section"
            )
            canvas.page.clear_ground(corners_of(letters))
            canvas.page.write(words, (x, y), _MARK, across="center", up="center", role="section")
            return
