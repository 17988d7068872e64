"""Contours of the finished ground on a plan: on the surface, and only where it is not the survey's."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from gradework.drawings.page import MapWindow, Page, Scale
from gradework.drawings.plan.finished import finished_contours, mark_sections
from gradework.drawings.plan.ground import PlanCanvas
from gradework.drawings.section.cut import CutLine
from gradework.earthwork.grading.whole import whole_ground
from gradework.earthwork.outline import Outline
from gradework.ground.contours import Contour, trace
from gradework.ground.surface import Surface
from gradework.units.display import METRIC

Ground = Callable[..., Surface]

LEVELS = np.arange(9.0, 13.0, 0.1)


@pytest.fixture(scope="module")
def both(ground: Ground) -> tuple[Surface, Surface]:
    """Ground that falls 1 in 10 and a pad in it with slopes of 2:1, dug and filled."""
    rng = np.random.default_rng(5)
    places = [(x, y) for x in range(0, 31, 3) for y in range(0, 31, 3)]
    surface = ground([(x, y, 10 + 0.1 * x + rng.normal(0, 0.03)) for x, y in places])
    pad = Outline.rectangle((12.0, 11.0), (6.0, 5.0), turn=10.0)
    return surface, whole_ground(surface, pad, 11.43, batter=2.0).surface


def length(lines: list[Contour]) -> float:
    rings = [np.vstack([one.xy, one.xy[:1]]) if one.closed else one.xy for one in lines]
    return float(sum(np.hypot(*np.diff(ring, axis=0).T).sum() for ring in rings))


def test_they_lie_on_the_finished_ground_at_their_level(both: tuple[Surface, Surface]) -> None:
    surface, made = both
    found = finished_contours(surface, made, LEVELS)
    assert len({one.level for one in found}) >= 8
    for one in found:
        assert made.elevation(one.xy) == pytest.approx(one.level, abs=1e-6)
        middles = 0.5 * (one.xy[1:] + one.xy[:-1])
        assert (np.abs(surface.elevation(middles) - one.level) > 1e-4).all()


def test_with_those_that_stay_they_make_up_all_of_them(both: tuple[Surface, Surface]) -> None:
    """Surveyed contours off the shaped ground and the new ones on it: as long as all of the finished."""
    surface, made = both
    new = finished_contours(surface, made, LEVELS)
    stays = 0.0
    for one in trace(surface, LEVELS):
        ring = np.vstack([one.xy, one.xy[:1]]) if one.closed else one.xy
        t = np.linspace(0.0, 1.0, 401)[:-1] + 1 / 800
        for a, b in pairwise(ring):
            there = made.elevation(a + t[:, None] * (b - a))
            stays += float(np.hypot(*(b - a))) * float((np.abs(there - one.level) < 1e-4).mean())
    assert length(new) + stays == pytest.approx(length(trace(made, LEVELS)), rel=2e-3)


def test_none_where_nothing_is_shaped(both: tuple[Surface, Surface]) -> None:
    surface, _ = both
    assert finished_contours(surface, surface, LEVELS) == []


def test_both_ends_of_a_section_are_marked_off_the_pad_and_off_the_swale() -> None:
    page = Page()
    window = MapWindow(10.0, 40.0, 180.0, 240.0, (15.0, 13.5), Scale(100.0, "1:100"))
    canvas = PlanCanvas.start(page, window, METRIC)
    pad = Outline.rectangle((12.0, 11.0), (6.0, 5.0))
    lines = [
        CutLine("A", np.array([15.0, 13.5]), np.array([1.0, 0.0])),
        CutLine("B", np.array([15.0, 13.5]), np.array([0.0, 1.0])),
    ]
    swale = np.array([[20.4, 5.0, 9.0], [20.4, 22.0, 9.0]])
    mark_sections(canvas, lines, pad.rings[0], [swale])
    marks = {line.text: line.box for line in page.written}
    assert set(marks) == {"A", "A'", "B", "B'"}
    low, high = window.to_page(np.array([pad.rings[0].min(axis=0), pad.rings[0].max(axis=0)]))
    x = float(window.to_page(swale[:1, :2])[0, 0])
    for left, bottom, right, top in marks.values():
        assert right < low[0] or left > high[0] or top < low[1] or bottom > high[1]
        assert not left < x < right
