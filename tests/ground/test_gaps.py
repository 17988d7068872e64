"""Gaps in the survey under an outline: where to shoot more."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.gaps import find_gaps


@pytest.fixture(scope="module")
def yard_with_gap(ground):
    """Return a function: shots every 2 m on 20 x 20 m, none between x = 6 and x = 14."""
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0, 21, 2.0), np.arange(0, 21, 2.0)))
    keep = (x <= 6) | (x >= 14)

    def make(unit="m", shift=(0.0, 0.0)):
        return ground(np.column_stack([x + shift[0], y + shift[1], x / 10])[keep], unit)

    return make


def box(x, y, width, height):
    return np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]], dtype=float)


def test_a_building_across_the_gap_is_told_where_to_shoot(yard_with_gap):
    findings = find_gaps(yard_with_gap(), [box(7, 8.5, 4, 1)])
    assert findings
    for finding in findings:
        assert (finding.code, finding.severity) == ("gap-under-outline", "warning")
        assert finding.value >= 8.0
        assert finding.limit == 6.0
    assert "usually 2.00 m apart" in findings[0].advice
    assert "shot at x " in findings[0].advice
    assert "8.00 m" in findings[0].advice


def test_places_are_in_the_users_unit(yard_with_gap):
    advice = find_gaps(yard_with_gap("ft", shift=(1e5, 2e5)), [box(1e5 + 7, 2e5 + 8.5, 4, 1)])[0].advice
    assert " ft" in advice
    assert " m " not in advice


@pytest.mark.parametrize("ring", [box(0.5, 3, 4, 5), box(15, 3, 4, 5), box(500, 0, 3, 3)])
def test_a_building_on_well_shot_ground_or_off_the_survey_has_none(yard_with_gap, ring):
    assert find_gaps(yard_with_gap(), [ring]) == ()


def test_only_touching_the_gap_is_not_under_the_building(yard_with_gap):
    assert find_gaps(yard_with_gap(), [box(2, 3, 4, 5)]) == ()
    assert find_gaps(yard_with_gap(), [box(2, 3, 4.1, 5)]) != ()


def test_the_way_round_of_the_outline_does_not_matter(yard_with_gap):
    ring = box(7, 8.5, 4, 3)
    assert find_gaps(yard_with_gap(), [ring]) == find_gaps(yard_with_gap(), [ring[::-1]])


def test_a_gap_in_the_hole_of_an_outline_does_not_count(yard_with_gap):
    outside, hole = box(5, 3, 10, 10), box(6, 3.5, 8, 9)
    beside = box(5, 3, 10, 10)
    assert find_gaps(yard_with_gap(), [beside])
    with_hole = find_gaps(yard_with_gap(), [outside, hole[::-1]])
    # what is left across the gap are the two strips beside the hole
    assert 0 < len(with_hole) <= 5
    assert all(not ("y 7." in f.where or "y 8." in f.where or "y 9." in f.where) for f in with_hole)


def test_at_most_five_places_and_not_side_by_side(yard_with_gap):
    findings = find_gaps(yard_with_gap(), [box(6.2, 0.2, 7.6, 19.6)])
    assert 1 < len(findings) <= 5
    places = np.array([[float(part.split()[1]) for part in f.where.split(", ")] for f in findings])
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    assert apart[~np.eye(len(places), dtype=bool)].min() >= 4.0 - 0.02


def test_the_place_named_lies_under_the_building(yard_with_gap):
    ring = box(7, 8.5, 4, 1)
    for finding in find_gaps(yard_with_gap(), [ring]):
        x, y = (float(part.split()[1]) for part in finding.where.split(", "))
        assert 7 <= x <= 11
        assert 8.5 <= y <= 9.5


def test_beside_a_slanting_hull_is_not_under_the_building(ground):
    x, y = (a.ravel() for a in np.meshgrid(np.arange(5.0), np.arange(5.0)))
    far = [[20, 0, 1.0], [0, 20, 1.0]]
    surface = ground(np.vstack([np.column_stack([x, y, 0 * x]), far]))
    assert find_gaps(surface, [box(18, 18, 1, 1)]) == ()
    assert find_gaps(surface, [box(15, 3, 1, 1)]) != ()
    assert find_gaps(surface, [box(0, 0, 0, 0)]) == ()


@pytest.mark.parametrize("missing", [3, 4])
def test_a_hole_in_a_regular_grid_is_a_gap_though_the_tie_rule_fans_it(ground, missing):
    """The corners of such a hole lie on circles: what bridges it is the width of a fan, not a side."""
    n = 6 + missing
    x, y = (a.ravel() for a in np.meshgrid(np.arange(n), np.arange(n)))
    inside = (x > 2) & (x < n - 3) & (y > 2) & (y < n - 3)
    shots = np.column_stack([x, y, x / 10])[~inside]
    middle = (n - 1) / 2
    ring = box(middle - 1, middle - 1, 2, 2)
    found = find_gaps(ground(shots), [ring])
    assert found
    assert found[0].limit == 3.0
    # the same yard with every shot a hair off its place, which leaves no ties: the same is said of it
    rng = np.random.default_rng(4)
    moved = shots + np.column_stack([rng.uniform(-0.02, 0.02, (len(shots), 2)), np.zeros(len(shots))])
    assert found[0].value == pytest.approx(find_gaps(ground(moved), [ring])[0].value, rel=0.1)
    assert found[0].where == f"x {middle:.2f} m, y {middle:.2f} m"
    # and a full grid, whose fans are no wider than a cell, has none
    assert find_gaps(ground(np.column_stack([x, y, x / 10])), [ring]) == ()
    order = rng.permutation(len(shots))
    again = find_gaps(ground(shots[order]), [ring])
    assert [(f.where, f.value) for f in again] == [(f.where, f.value) for f in found]
