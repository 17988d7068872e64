"""What a section cuts, against the surfaces sampled along its line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from gradework.drawings.section.cut import Section, cut_lines, section_at
from gradework.earthwork.rings import ring_area
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, drawn_with
from gradework.project.plan import plan as make
from gradework.sitework.past_walls import led

STEP = 0.002
"""[m] Between samples; a strip at each end of an area may be missed."""


def area(parts: Sequence[np.ndarray]) -> float:
    return sum(abs(ring_area(part)) for part in parts)


def sampled(plan: Plan, one: Section) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """u, the ground, the finished ground, and whether it is in the pad."""
    u = np.arange(one.ends[0] + STEP / 2, one.ends[1], STEP)
    places = one.line.start + u[:, None] * one.line.along
    inside = np.logical_or.reduce([(u > a) & (u < b) for a, b in one.spans])
    return u, plan.surface.elevation(places), plan.finished.elevation(places), inside


@pytest.fixture(params=["swaled", "drained", "boxed"])
def sections(request: pytest.FixtureRequest) -> tuple[Plan, list[Section]]:
    plan = request.getfixturevalue(request.param)
    return plan, [section_at(plan, line) for line in cut_lines(plan)]


def test_lines_are_those_of_the_surfaces(sections: tuple[Plan, list[Section]]) -> None:
    plan, both = sections
    assert len(both) == 2
    for one in both:
        for lines, surface in ((one.ground, plan.surface), (one.finished, plan.finished)):
            (line,) = lines
            assert (line[0, 0], line[-1, 0]) == pytest.approx(one.ends)
            middles = 0.5 * (line[1:] + line[:-1])[np.diff(line[:, 0]) > 1e-4]
            there = surface.elevation(one.line.start + middles[:, :1] * one.line.along)
            assert middles[:, 1] == pytest.approx(there, abs=1e-7)


def test_areas_are_what_lies_between_them(sections: tuple[Plan, list[Section]]) -> None:
    plan, both = sections
    spec = plan.pad.spec
    for one in both:
        _, ground, finished, inside = sampled(plan, one)
        bottom = np.minimum(ground - spec.strip, one.floor - spec.gravel)
        dug, filled = np.maximum(ground - finished, 0.0), np.maximum(finished - ground, 0.0)
        gravel = np.where(inside, one.floor - bottom, 0.0)
        assert area(one.dug) == pytest.approx(dug.sum() * STEP, abs=2e-3)
        assert area(one.filled) == pytest.approx(filled[~inside].sum() * STEP, abs=2e-3)
        assert area(one.gravel) == pytest.approx(gravel.sum() * STEP, abs=2e-3)
        assert one.deepest[1] == pytest.approx(bottom[inside].min(), abs=1e-3)
        assert not one.concrete


def test_the_pad_and_the_walls_are_cut_where_they_stand(swaled: Plan) -> None:
    along, across = (section_at(swaled, line) for line in cut_lines(swaled))
    for one, size in ((along, 3.0), (across, 2.4)):
        ((first, last),) = one.walls
        assert last - first == pytest.approx(size)
        assert one.spans[0] == pytest.approx((first - 0.3, last + 0.3))
    assert along.line.along @ across.line.along == pytest.approx(0.0, abs=1e-12)


def test_a_swale_is_cut_at_its_bottom(swaled: Plan) -> None:
    for line in cut_lines(swaled):
        one = section_at(swaled, line)
        (bottom,) = one.bottoms
        assert swaled.finished.elevation(line.at(bottom.u)[None])[0] == pytest.approx(bottom.level, abs=1e-6)


def test_a_drain_is_cut_with_its_stone(drained: Plan) -> None:
    (drain,) = led(drained.measures)
    cut = [section_at(drained, line) for line in cut_lines(drained)]
    crossed = [one for one in cut if one.stone]
    assert crossed
    for one in crossed:
        (bottom,) = one.bottoms
        low = min(float(part[:, 1].min()) for part in one.stone)
        wide = max(float(np.ptp(part[:, 0])) for part in one.stone)
        assert low < bottom.level  # stone under the pipe
        assert wide == pytest.approx(drain.spec.width, abs=0.2)  # type: ignore[attr-defined]


def test_a_slab_has_its_thickened_edge(drained: Plan) -> None:
    plan = drawn_with(drained, "slab")
    slab = plan.foundations.slab
    assert slab is not None
    spec = slab.spec
    for line in cut_lines(plan):
        one = section_at(plan, line)
        ((first, last),) = one.spans
        rib = spec.edge_depth - spec.thickness
        edges = 2.0 * (spec.edge_width * rib + 0.5 * rib**2)
        assert area(one.concrete) == pytest.approx((last - first) * spec.thickness + edges)
        assert one.floor == slab.level


def test_an_l_is_cut_through_both_of_its_wings() -> None:
    """Not along the wall that turns inward, where the middle of its bounds lies."""
    rows = [f"P{x}{y},{x},{y},{10 + 0.02 * x:.3f}" for x in range(0, 13, 3) for y in range(0, 13, 3)]
    outline = "[[2, 2], [9, 2], [9, 5], [5, 5], [5, 9], [2, 9]]"
    job = f'name = "L"\nunits = "m"\n[survey]\nnotes = "y.csv"\n[building]\noutline = {outline}\n[pad]\n'
    plan = make(read_job(job.encode(), "job.toml"), "\n".join(["station,x,y,elevation", *rows, ""]).encode())
    spans = [section_at(plan, line).walls for line in cut_lines(plan)]
    assert all(last - first == pytest.approx(7.0) for ((first, last),) in spans)


def test_piers_have_no_section(swaled: Plan) -> None:
    assert cut_lines(drawn_with(swaled, "piers")) == ()
