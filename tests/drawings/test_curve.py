"""The curve of a real pad: its marks at the rules' levels, its figures in the user's units."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from gradework.drawings.curve import draw_curve
from gradework.drawings.lettering import Letters, Line
from gradework.foundations.pad.design import pad_curve
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.units.amounts import cubic_yards, short_tons

DATA = Path(__file__).parents[2] / "data"
PRICES = """
[prices]
gravel = "38 per short ton"
dig = "60 per yd3"
haul = "25 per yd3"
boards = "3.50 per sq ft"
"""


@lru_cache
def studio(extra: str = "", *, drain: bool = True) -> Plan:
    folder = DATA / "orchard-studio"
    # the pad alone: the demo also compares it with piers and slab, at prices of its own
    text = (folder / "job.toml").read_text(encoding="utf-8").partition("\n[piers]")[0] + "\n" + extra
    if not drain:
        text = text.replace("drain    = true", "drain    = false")
    job = read_job(text.encode(), "job.toml")
    return plan(job, (folder / job.survey.notes).read_bytes())


def lines_of(figure, role: str) -> list[Line]:  # type: ignore[no-untyped-def]
    letters = (artist for artist in figure.axes[0].get_children() if isinstance(artist, Letters))
    return [line for one in letters for line in one.lines if line.role == role]


def test_each_rules_choice_is_marked_and_the_taken_one_said() -> None:
    done = studio(PRICES)
    figure, show = draw_curve(done), done.job.show
    marks = [line.text for line in lines_of(figure, "mark")]
    for choice in done.pad.choices:
        (mark,) = (text for text in marks if choice.rule in text)
        assert show.elevation(choice.level) in mark
        assert ("(taken)" in mark) == (choice.level == done.pad.chosen.level)
    assert len(lines_of(figure, "curve")) == 3


def test_values_at_the_marks_are_those_of_the_choices_in_tons_and_yards() -> None:
    done = studio(PRICES)
    chosen = done.pad.chosen
    texts = {line.text for line in lines_of(draw_curve(done), "value")}
    assert f"{short_tons(chosen.gravel_mass):.1f}" in texts
    assert f"{cubic_yards(chosen.dug):.1f}" in texts  # the working room beside the boxed edge too
    assert chosen.cost is not None
    assert f"{chosen.cost:.0f}" in texts


def test_dots_lie_on_the_curves_at_the_rules_levels() -> None:
    done = studio(PRICES)
    axes = draw_curve(done).axes[0]
    curves = [c.get_segments()[0] for c in axes.collections if c.get_gid() and str(c.get_gid())[0] in "GDC"]
    assert len(curves) == 3
    levels = pad_curve(done.pad).levels
    left, right = curves[0][0, 0], curves[0][-1, 0]
    places = [
        left + (choice.level - levels[0]) / (levels[-1] - levels[0]) * (right - left)
        for choice in done.pad.choices
    ]
    dots = [line for line in axes.lines if line.get_marker() == "o"]
    at = [float(dot.get_xdata()[0]) for dot in dots]
    tenth_of_a_mm = 0.1
    for place in places:  # rules that agree share their dots
        assert sum(abs(x - place) < tenth_of_a_mm for x in at) == len(curves)
    assert all(min(abs(x - place) for place in places) < tenth_of_a_mm for x in at)
    for dot in dots:
        x, y = float(dot.get_xdata()[0]), float(dot.get_ydata()[0])
        # exact, also where the edge changes and the cost jumps: the curve is drawn through the choices
        assert min(abs(np.interp(x, curve[:, 0], curve[:, 1]) - y) for curve in curves) < 1e-6


def test_without_prices_there_is_no_cost_and_that_is_said() -> None:
    figure = draw_curve(studio())
    assert len(lines_of(figure, "curve")) == 2
    assert "no prices" in lines_of(figure, "subtitle")[0].text


def test_limits_are_hatched_and_explained() -> None:
    done = studio(drain=False)
    figure, show = draw_curve(done), done.job.show
    lines = [line.text for line in lines_of(figure, "limit")]
    lower = max((limit for limit in done.pad.limits if limit.least), key=lambda limit: limit.level)
    assert any(text.startswith(f"below {show.elevation(lower.level)} ") and "2 in" in text for text in lines)
    hatches = {p.get_hatch() for p in figure.axes[0].patches if p.get_gid() == "not allowed"}
    assert len(hatches) == len(lines) >= 1


def test_the_ground_under_the_pad_is_pointed_at() -> None:
    done = studio()
    texts = [line.text for line in lines_of(draw_curve(done), "ground")]
    heights = done.pad.pieces.heights
    assert texts == [
        f"▲ lowest ground under the pad: {done.job.show.elevation(heights.min())}",
        f"▲ highest ground under the pad: {done.job.show.elevation(heights.max())}",
    ]
