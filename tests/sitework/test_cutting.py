"""Cutting stock: least length proved against trying every grouping, laws, and lists drawn by hand."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.sitework import cutting
from gradework.sitework.cutting import cut_stock

FOOT = 0.3048


def groupings(items: Sequence[float]) -> Iterator[list[list[float]]]:
    """Every way to part a list into groups: the slow and obvious way to try all cutting plans."""
    if not items:
        yield []
        return
    head, rest = items[0], items[1:]
    for groups in groupings(rest):
        yield [[head], *groups]
        for i in range(len(groups)):
            yield [*groups[:i], [head, *groups[i]], *groups[i + 1 :]]


def brute_force(pieces: Sequence[int], stock: Sequence[int], kerf: int) -> tuple[int, int]:
    """Least total length and then fewest bars, in whole millimetres."""
    best = (10**9, 10**9)
    for groups in groupings(pieces):
        total = 0
        for group in groups:
            need = sum(group) + kerf * (len(group) - 1)
            fits = [s for s in stock if s >= need]
            if not fits:
                break
            total += min(fits)
        else:
            best = min(best, (total, len(groups)))
    return best


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.sampled_from([450, 600, 900, 1219, 1500, 1829, 2400, 2999]), min_size=1, max_size=7),
    st.sets(st.sampled_from([3000, 3048, 3600, 4200, 4877]), min_size=1, max_size=3),
    st.sampled_from([0, 3, 4]),
)
def test_agrees_with_trying_every_grouping(pieces: list[int], stock: set[int], kerf: int) -> None:
    plan = cut_stock([p / 1000 for p in pieces], [s / 1000 for s in stock], kerf=kerf / 1000)
    length, bars = brute_force(pieces, sorted(stock), kerf)
    assert plan.proved
    assert plan.bought == pytest.approx(length / 1000, abs=1e-9)
    assert len(plan.bars) == bars


@settings(deadline=None, max_examples=40)
@given(st.lists(st.floats(0.1, 3.0), min_size=1, max_size=12), st.floats(0.0, 0.005))
def test_every_piece_is_cut_once_and_fits(pieces: list[float], kerf: float) -> None:
    plan = cut_stock(pieces, [3.0, 3.6], kerf=kerf)
    assert Counter(round(p, 4) for bar in plan.bars for p in bar.pieces).total() == len(pieces)
    for bar in plan.bars:
        assert math.fsum(bar.pieces) + kerf * (len(bar.pieces) - 1) <= bar.stock + 2e-4 * len(bar.pieces)


def test_the_order_of_the_list_does_not_matter() -> None:
    pieces = [3.0, 1.2, 2.4, 1.2, 0.6, 1.8]
    assert cut_stock(pieces, [3.0, 4.8]) == cut_stock(pieces[::-1], [4.8, 3.0])


def test_boards_for_a_pad_drawn_by_hand() -> None:
    # two sides of 16 ft and two of 12 ft from 16 ft and 12 ft boards: no waste at all
    plan = cut_stock([16 * FOOT, 12 * FOOT, 16 * FOOT, 12 * FOOT], [8 * FOOT, 12 * FOOT, 16 * FOOT])
    assert plan.count() == {16 * FOOT: 2, 12 * FOOT: 2}
    assert plan.offcuts == ()


def test_the_saw_takes_its_share() -> None:
    assert len(cut_stock([1.5, 1.5], [3.0]).bars) == 1
    assert len(cut_stock([1.5, 1.5], [3.0], kerf=0.003).bars) == 2


def test_a_long_list_of_odd_pieces_says_that_it_is_not_proved(monkeypatch: pytest.MonkeyPatch) -> None:
    pieces = [0.51 + 0.07 * i for i in range(20)]
    plan = cut_stock(pieces, [3.0, 3.6])
    assert not plan.proved
    assert sorted(p for bar in plan.bars for p in bar.pieces) == pytest.approx(sorted(pieces))
    monkeypatch.setattr(cutting, "MOST_RESTS", 0)
    easy = cut_stock([3.0, 3.0], [3.0, 3.6])
    assert (easy.proved, easy.count()) == (False, {3.0: 2})


def test_nothing_to_cut() -> None:
    assert cut_stock([], [3.0]).bars == ()


@pytest.mark.parametrize(
    ("pieces", "stock"),
    [([3.1], [3.0]), ([0.0], [3.0]), ([float("nan")], [3.0]), ([1.0], []), ([1.0], [0.0])],
)
def test_what_cannot_be_cut_is_refused(pieces: list[float], stock: list[float]) -> None:
    with pytest.raises(ValueError, match=r"longer|above 0"):
        cut_stock(pieces, stock)
