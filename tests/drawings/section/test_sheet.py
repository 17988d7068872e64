"""The page of sections: true to its scale, its exaggeration said, nothing overlaps, nothing outside."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line
from gradework.drawings.section.cut import Section, cut_lines, section_at
from gradework.drawings.section.led import draw_profiles
from gradework.drawings.section.sheet import draw_section
from gradework.project.plan import Plan, drawn_with

LEAST_MM = 2.0
PLANS = ["swaled", "drained", "boxed"]


def lines_of(figure, role: str = "") -> list[Line]:  # type: ignore[no-untyped-def]
    letters = (artist for artist in figure.axes[0].get_children() if isinstance(artist, Letters))
    return [line for one in letters for line in one.lines if line.role.startswith(role)]


def strokes_of(figure, gid: str) -> list[np.ndarray]:  # type: ignore[no-untyped-def]
    return [
        np.array(line)
        for one in figure.axes[0].collections
        if one.get_gid() == gid
        for line in one.get_segments()
    ]


def assert_tidy(figure) -> None:  # type: ignore[no-untyped-def]
    wide, high = figure.get_size_inches() * 25.4
    lines = lines_of(figure)
    assert len(lines) > 15
    for line in lines:
        left, bottom, right, top = line.box
        assert min(left, bottom) >= -0.01, line
        assert right <= wide + 0.01, line
        assert top <= high + 0.01, line
        assert line.height >= LEAST_MM or line.role == "caution", line
    for one, other in combinations(lines, 2):
        assert not overlap(one.box, other.box), (one.text, other.text)
    for one in figure.axes[0].collections:
        for line in one.get_segments() if hasattr(one, "get_segments") else ():
            if len(line):
                assert (np.array(line) >= -0.01).all(), one.get_gid()
                assert (np.array(line) <= [wide + 0.01, high + 0.01]).all(), one.get_gid()


@pytest.mark.parametrize("name", PLANS)
def test_sections_are_tidy(name: str, request: pytest.FixtureRequest) -> None:
    assert_tidy(draw_section(request.getfixturevalue(name)))


def test_a_slab_and_profiles_are_tidy(drained: Plan, swaled: Plan) -> None:
    assert_tidy(draw_section(drawn_with(drained, "slab")))
    for plan in (drained, swaled):
        pages = draw_profiles(plan)
        assert pages
        for page in pages:
            assert_tidy(page)


@pytest.mark.parametrize("name", PLANS)
def test_lines_stand_to_scale_with_the_exaggeration_that_is_said(
    name: str, request: pytest.FixtureRequest
) -> None:
    plan = request.getfixturevalue(name)
    figure = draw_section(plan)
    (subtitle,) = (line.text for line in lines_of(figure, "subtitle"))
    said = 1.0 if "same scale" in subtitle else float(subtitle.split("heights drawn ")[1].split()[0])
    (scale,) = (line.text for line in lines_of(figure, "scale"))
    ratio = 1000.0 / float(scale.split(":")[1]) if ":" in scale else 25.4 / 0.3048 / float(scale.split()[4])
    for gid in ("existing", "finished"):
        drawn = strokes_of(figure, gid)
        cut = [
            getattr(section_at(plan, line), {"existing": "ground"}.get(gid, gid)) for line in cut_lines(plan)
        ]
        for page, line in zip(drawn, [part for parts in cut for part in parts], strict=True):
            moved = (page - page[0]) / [ratio, ratio * said]
            assert moved == pytest.approx(line - line[0], abs=1e-6)


def test_what_a_builder_asks_stands_on_it(swaled: Plan, boxed: Plan) -> None:
    show = swaled.job.show
    texts = [line.text for line in lines_of(draw_section(swaled))]
    for line in cut_lines(swaled):
        one = section_at(swaled, line)
        assert f"swale bottom {show.elevation(one.bottoms[0].level)}" in texts
        assert f"dig to {show.elevation(one.deepest[1])}" in texts
    assert sum(text.startswith("Section ") for text in texts) == 2
    edges = [line.text for line in lines_of(draw_section(boxed), "edge")]
    assert len(edges) >= 3
    steps = [one.floor - boxed.surface.elevation(one.line.at(u)[None])[0] for one, u in _edges(boxed)]
    assert set(edges) <= {f"edge {boxed.job.show.depth(step)}" for step in steps}


def _edges(plan: Plan) -> list[tuple[Section, float]]:
    cut = [section_at(plan, line) for line in cut_lines(plan)]
    return [(one, u) for one in cut for span in one.spans for u in span]


def test_nothing_is_drawn_of_piers(swaled: Plan) -> None:
    assert draw_section(drawn_with(swaled, "piers")) is None
