"""Curves over the level: values where they belong, marks and words that do not overlap, round ticks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest

from gradework.drawings.curve import (
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
    rows_for_marks,
)
from gradework.drawings.labels import overlap
from gradework.drawings.page import Page
from gradework.units.display import FEET, fixed

LEVELS = np.linspace(99.0, 102.0, 61)
BOX = (20.0, 40.0, 185.0, 170.0)


def one_place(value: float) -> str:
    return fixed(value, 1)


CURVES = [
    Curve("Gravel, short tons", LEVELS, (LEVELS - 99.0) ** 2 + 4, "-", one_place),
    Curve("Digging, yd³", LEVELS, (102.0 - LEVELS) ** 2 + 2, (0, (8, 2)), one_place),
    Curve("Cost", LEVELS, 900 + 40 * (LEVELS - 100.5) ** 2, (0, (8, 2, 1, 2)), one_place),
]
MARKS = [
    Mark("least cost: 100.50 ft", 100.5, (6.25, 4.25, 900.0), False),
    Mark("balanced: 100.52 ft", 100.52, (6.31, 4.19, 900.02), False),
    Mark("least fill: 101.95 ft (taken)", 101.95, (12.7, 2.0, 984.1), True),
]


def drawn(marks: Sequence[Mark] = MARKS) -> Page:
    page = Page(height_mm=190)
    panels = lay_panels(CURVES, BOX, gap=4)
    for panel, curve in zip(panels, CURVES, strict=True):
        draw_panel(page, panel, curve)
    draw_level_axis(page, panels, FEET)
    draw_marks(page, panels, CURVES, marks)
    draw_feet(
        page, panels[-1], [(99.4, "lowest ground"), (101.9, "highest ground"), (105.0, "outside")], bottom=20
    )
    return page


def test_panels_share_the_box_and_the_levels() -> None:
    panels = lay_panels(CURVES, BOX, gap=4)
    assert panels[0].box[3] == 170
    assert panels[-1].box[1] == pytest.approx(40)
    for upper, lower in pairwise(panels):
        assert upper.box[1] - lower.box[3] == pytest.approx(4)
    for panel, curve in zip(panels, CURVES, strict=True):
        page = panel.to_page(curve.levels, curve.values)
        left, bottom, right, top = panel.box
        assert page[0, 0] == pytest.approx(left)
        assert page[-1, 0] == pytest.approx(right)
        assert (page[:, 1] >= bottom).all()
        assert (page[:, 1] <= top).all()


def test_a_panel_starts_at_zero_unless_that_would_flatten_the_curve() -> None:
    gravel, _, cost = lay_panels(CURVES, BOX, gap=4)
    assert gravel.values[0] == 0.0
    assert 880 < cost.values[0] < 900


def test_a_constant_quantity_still_has_a_panel() -> None:
    flat = Curve("Digging", LEVELS, np.full(61, 3.0), "-", one_place)
    nothing = Curve("Gravel", LEVELS, np.zeros(61), "-", one_place)
    for panel in lay_panels([flat, nothing], BOX, gap=4):
        assert panel.values[1] > panel.values[0]


def test_each_mark_stands_at_its_level_in_every_panel() -> None:
    page = drawn()
    panels = lay_panels(CURVES, BOX, gap=4)
    dots = sorted(
        (float(line.get_xdata()[0]), float(line.get_ydata()[0]))
        for line in page.axes.lines
        if line.get_marker() == "o"
    )
    expected = sorted(
        tuple(panel.to_page([mark.level], [mark.values[n]])[0].tolist())
        for mark in MARKS
        for n, panel in enumerate(panels)
    )
    assert np.array(dots) == pytest.approx(np.array(expected))
    values = [line.text for line in page.written if line.role == "value"]
    assert sorted(values) == sorted(one_place(value) for mark in MARKS for value in mark.values)


def test_no_words_overlap_and_all_stand_on_the_page() -> None:
    page = drawn()
    for one, other in combinations(page.written, 2):
        assert not overlap(one.box, other.box), (one.text, other.text)
    for line in page.written:
        left, bottom, right, top = line.box
        assert left >= 0
        assert right <= page.width
        assert bottom >= 0
        assert top <= page.height


def test_values_keep_off_their_curve() -> None:
    page = drawn()
    for panel, curve in zip(lay_panels(CURVES, BOX, gap=4), CURVES, strict=True):
        line = panel.to_page(curve.levels, curve.values)
        for words in (line_ for line_ in page.written if line_.role == "value"):
            left, bottom, right, top = words.box
            if panel.box[1] <= bottom <= panel.box[3]:
                under = (line[:, 0] > left) & (line[:, 0] < right)
                inside = (line[under, 1] > bottom) & (line[under, 1] < top)
                assert not inside.any(), words.text


@pytest.mark.parametrize("chosen", [0, 1])
def test_of_two_marks_close_together_the_left_value_stands_left(chosen: int) -> None:
    """Whichever is the one taken, and so drawn first."""
    marks = [replace(mark, chosen=n == chosen) for n, mark in enumerate(MARKS[:2])]
    page = drawn(marks)
    panels = lay_panels(CURVES, BOX, gap=4)
    left, right = (float(panels[0].to_page([mark.level], [5.0])[0, 0]) for mark in marks)
    assert right - left < 2.0
    values = [line for line in page.written if line.role == "value"]
    assert len(values) == 2 * len(panels)
    for panel, curve in zip(panels, CURVES, strict=True):
        here = [line for line in values if panel.box[1] <= line.box[1] <= panel.box[3]]
        (one,) = (line for line in here if line.box[2] < left)
        (other,) = (line for line in here if line.box[0] > right)
        n = CURVES.index(curve)
        assert (one.text, other.text) == (one_place(marks[0].values[n]), one_place(marks[1].values[n]))


def test_marks_close_together_get_rows_of_their_own() -> None:
    panel = lay_panels(CURVES, BOX, gap=4)[0]
    rows = [row for _, row in rows_for_marks(MARKS, panel)]
    assert rows == [0, 1, 0]
    assert marks_height(MARKS, panel) > marks_height(MARKS[:1], panel) > 0


def test_curves_differ_in_black_and_white() -> None:
    page = drawn()
    dashes = {
        str(collection.get_linestyle())
        for collection in page.axes.collections
        if collection.get_gid() in {curve.name for curve in CURVES}
    }
    assert len(dashes) == 3


def test_forbidden_levels_are_hatched_in_every_panel_and_cut_off_at_the_axis() -> None:
    page = Page()
    panels = lay_panels(CURVES, BOX, gap=4)
    draw_bands(page, panels, [Band(90.0, 99.6, "//"), Band(101.0, 103.0, "x"), Band(103.0, 104.0, "x")])
    boxes = [patch for patch in page.axes.patches if patch.get_gid() == "not allowed"]
    assert len(boxes) == 2 * len(panels)
    for box in boxes:
        assert box.get_hatch()
        assert BOX[0] - 1e-9 <= box.get_x()
        assert box.get_x() + box.get_width() <= BOX[2] + 1e-9
    share = boxes[0].get_width() / (BOX[2] - BOX[0])
    assert share == pytest.approx(0.2)


def test_only_levels_in_the_picture_are_pointed_at() -> None:
    words = [line.text for line in drawn().written if line.role == "ground"]
    assert words == ["lowest ground", "highest ground"]


def test_ticks_are_round_and_equally_precise() -> None:
    ticks = [line.text for line in drawn().written if line.role == "tick"]
    assert {"99.0", "99.5", "100.0", "102.0"} <= set(ticks)
