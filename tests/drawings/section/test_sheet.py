"""The page of sections: true to its scale, its exaggeration said, nothing overlaps, nothing outside."""

from __future__ import annotations

import pytest
from tidy_page import assert_tidy, lines_of, strokes_of

from gradework.drawings.section.cut import Section, cut_lines, section_at
from gradework.drawings.section.led import draw_profiles
from gradework.drawings.section.sheet import draw_section
from gradework.project.plan import Plan, drawn_with

PLANS = ["swaled", "drained", "boxed"]


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
