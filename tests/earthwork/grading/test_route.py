"""The route of a swale on yards of one plane: offset, inverts and where it comes out, by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.grading.route import (
    Edges,
    PadSides,
    Route,
    SwaleSpec,
    Way,
    edges_beside,
    line_of,
    walk,
)
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

PAD = np.array([(12, 10), (18, 10), (18, 14), (12, 14)], dtype=float)
"""Its side 2, from (18, 14) to (12, 14), is the uphill one."""

SPEC = SwaleSpec()
START = 10.0
UP = 0.12


def yard(ground: Ground, along: float = 0.0, size: float = 30.0) -> Surface:
    """Rises ``UP`` toward +y and ``along`` toward +x; 10.3 on the middle of the uphill edge."""
    places = [(x, y) for x in (0.0, 11.0, 19.0, size) for y in (0.0, 9.0, 16.0, size)]
    return ground([(x, y, 10.3 + UP * (y - 14.0) + along * (x - 15.0)) for x, y in places])


def edges_of(surface: Surface) -> tuple[Edges, ...]:
    return edges_beside(surface, PAD, SPEC.reach)


def only(routes: tuple[Route, ...]) -> Route:
    (route,) = routes
    return route


def test_the_ground_along_a_line_bends_at_the_edges(ground: Ground) -> None:
    surface = ground([(0, 0, 1.0), (10, 0, 1.0), (10, 8, 1.0), (0, 8, 1.0), (5, 4, 3.0)])
    at, height = Edges.of(surface).profile(np.array([0.0, 4.0]), np.array([10.0, 4.0]))
    assert at.tolist() == [0.0, 5.0, 10.0]
    assert height.tolist() == [1.0, 3.0, 1.0]
    inside, _ = Edges.of(surface).profile(np.array([4.0, 4.0]), np.array([30.0, 4.0]))
    assert inside.tolist() == [0.0, 1.0, 6.0]  # to the edge of the survey
    outside, _ = Edges.of(surface).profile(np.array([-4.0, 4.0]), np.array([30.0, 4.0]))
    assert len(outside) == 0


def test_the_line_goes_round_corners_at_its_offset() -> None:
    line = line_of(PadSides.of(PAD), Way((2, 3), 0, 0, False, True), 1.5)
    assert line.joints[1] == pytest.approx(6.0 + 1.5)
    assert line.zero.tolist() == pytest.approx([0.0, 6.0 + 3.0])
    assert line.places(np.array([0.0, 7.5, 9.0])).tolist() == pytest.approx(
        np.array([(18.0, 15.5), (10.5, 15.5), (10.5, 14.0)])
    )


def test_a_swale_across_the_slope_comes_out_where_the_ground_falls_to_it(ground: Ground) -> None:
    """One plane, out to the left only, over side 1: every figure follows from the offset."""
    route = only(walk(edges_of(yard(ground)), PAD, Way((1, 2), 1, 1, True, False), START, SPEC))
    offset = route.line.offset
    top = START - max(SPEC.depth, 0.05 * offset)
    # from the closed end at (12, 14 + T): 6 + T along side 2, then down side 1, on x = 18 + T
    run = 6.0 + offset
    corner, ground_at_corner = top - 0.02 * run, 10.3 + UP * offset
    down = (ground_at_corner - corner) / (UP - 0.02)
    assert route.daylights
    assert route.line.places(np.array(route.outlets)).tolist()[0] == pytest.approx(
        [18.0 + offset, 14.0 + offset - down], abs=1e-6
    )
    # the offset is what the bench's width asks for at the lowest invert beside the pad
    beside = max(down - offset - 4.0, 0.0)  # comes out beyond the pad's last corner: from there on no bench
    lowest = corner - 0.02 * (down - beside)
    assert offset == pytest.approx(SPEC.bench + 3.0 * (START - 0.05 * SPEC.bench - lowest), abs=1e-4)
    assert route.depth(float(route.crest[0])) == pytest.approx(10.3 + UP * offset - top)


def test_it_falls_less_once_it_is_clear_of_the_building(ground: Ground) -> None:
    route = only(walk(edges_of(yard(ground, along=0.03)), PAD, Way((2,), 0, 0, False, True), START, SPEC))
    beyond = np.sqrt(SPEC.reach**2 - route.line.offset**2)
    assert route.breaks[1] == pytest.approx(6.0 + beyond)
    falls = -np.diff(route.invert) / np.diff(route.at)
    past = route.at[:-1] >= route.breaks[1] - 1e-9
    assert past.any()
    assert falls[~past] == pytest.approx(0.02)
    assert falls[past] == pytest.approx(0.01)


def test_it_says_where_the_survey_ends_too_early(ground: Ground) -> None:
    """Level along the line: it never comes out."""
    route = only(walk(edges_of(yard(ground)), PAD, Way((2,), 0, 0, False, True), START, SPEC))
    assert route.short == (False, True)
    assert not route.daylights
    assert route.outlets == ()
    assert route.line.places(route.at[-1:])[0, 0] == pytest.approx(0.0)


def test_it_falls_to_both_ends_from_a_crest(ground: Ground) -> None:
    routes = walk(edges_of(yard(ground)), PAD, Way((1, 2, 3), 1, 1, True, True), START, SPEC)
    halfway = routes[0]
    assert halfway.crest[0] == pytest.approx(0.5 * sum(halfway.needed))
    assert len(halfway.outlets) == 2
    left, right = halfway.line.places(np.array(halfway.outlets))
    assert left[1] == pytest.approx(right[1])
    assert left[0] + right[0] == pytest.approx(30.0)


def test_no_line_fits_where_it_would_be_too_far_out(ground: Ground) -> None:
    """At the least offset, 0.975 m, the bottom has fallen too low for the bench; 1 m is not enough."""
    edges, way = edges_of(yard(ground)), Way((2,), 0, 0, False, True)
    assert walk(edges, PAD, way, START, replace(SPEC, reach=1.0)) == ()
    assert len(walk(edges, PAD, way, START, replace(SPEC, reach=1.5))) == 1


def test_nothing_fits_where_the_line_leaves_the_survey(ground: Ground) -> None:
    near = ground([(x, y, 10.0 + UP * y) for x in (0, 15, 30) for y in (0, 8, 14.5)])
    assert walk(edges_of(near), PAD, Way((2,), 0, 0, True, False), START, SPEC) == ()
