"""Neighbours, corners and rows of piers, from their places alone."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.foundations.piers.neighbours import corners, neighbours, rows

GRID = np.array([(x, y) for y in (0.0, 3.0) for x in (0.0, 2.0, 4.0)])


def turned(places: np.ndarray, degrees: float) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return places @ np.array([[c, s], [-s, c]]) + (1234.5, -77.7)


places = st.lists(
    st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=1, max_size=12, unique=True
).map(lambda pairs: np.array(pairs, float) / 4)


@pytest.mark.parametrize("degrees", [0.0, 30.0, -117.3])
def test_even_rows_have_neighbours_along_and_across_and_no_diagonal(degrees: float) -> None:
    assert neighbours(turned(GRID, degrees)) == ((0, 1), (0, 3), (1, 2), (1, 4), (2, 5), (3, 4), (4, 5))


@settings(max_examples=80, deadline=None)
@given(places)
def test_neighbours_are_those_whose_circle_is_empty(spots: np.ndarray) -> None:
    """Straight from the definition, in whole numbers: exact."""
    exact = np.rint(spots * 4).astype(int)
    expected = set()
    for a, b in itertools.combinations(range(len(exact)), 2):
        others = [k for k in range(len(exact)) if k not in (a, b)]
        if all((exact[a] - exact[k]) @ (exact[b] - exact[k]) > 0 for k in others):
            expected.add((a, b))
    assert set(neighbours(spots)) == expected


@settings(max_examples=40, deadline=None)
@given(places, st.randoms())
def test_the_order_of_places_changes_nothing(spots: np.ndarray, random) -> None:  # type: ignore[no-untyped-def]
    order = list(range(len(spots)))
    random.shuffle(order)
    mixed = spots[order]
    again = {tuple(sorted((order[a], order[b]))) for a, b in neighbours(mixed)}
    assert again == set(neighbours(spots))
    assert {order[k] for k in corners(mixed)} == set(corners(spots))


@settings(max_examples=40, deadline=None)
@given(places)
def test_a_chain_of_neighbours_leads_everywhere(spots: np.ndarray) -> None:
    reached, pairs = {0}, neighbours(spots)
    for _ in spots:
        reached |= {k for pair in pairs if reached & set(pair) for k in pair}
    assert reached == set(range(len(spots)))


def test_corners_are_where_the_outline_of_all_piers_turns() -> None:
    assert corners(GRID) == (0, 2, 3, 5)
    assert corners(turned(GRID, 41.0)) == (0, 2, 3, 5)
    bulged = GRID + np.array([(0, 0), (0, -0.05), (0, 0), (0, 0), (0, 0.05), (0, 0)])
    assert corners(bulged) == (0, 2, 3, 5)  # 5 cm off a side of 4 m is no corner
    assert corners(GRID[:3]) == (0, 2)
    assert corners(GRID[:1]) == (0,)
    given_round = np.array([(0.0, 10.0), (10.0, 10.0), (10.0, 0.0), (0.0, 0.0), (5.0, 5.0)])
    assert corners(given_round) == (0, 1, 2, 3)


def test_rows_are_found_where_piers_line_up() -> None:
    mixed = GRID[[5, 0, 3, 2, 1, 4]]
    assert rows(mixed) == ((2, 3), (1, 1), (2, 1), (1, 3), (1, 2), (2, 2))
    assert rows(GRID[:3]) == ((1, 1), (1, 2), (1, 3))
    assert rows(GRID[:1]) == ((1, 1),)
    assert rows(np.array([(0.0, 0.0), (5.0, 0.0), (2.0, 3.0)])) is None
