"""Drainage on published grids: directions, accumulation, depressions and lakes.

DRN-1: 6 x 6 cells, seen in several public test suites (R terra, xarray-spatial), by memory after Greenlee
1987 and Jenson and Domingue 1988. DRN-3: R. Barnes' hand-made depressions (richdem, testdem1;
Barnes, Lehman and Mulla 2014). DRN-5: lakes of the docstring of landlab 2.11.0, lake_fill_barnes.py.
The kernel floods any graph; here cells and their neighbours.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gradework.ground.water.flood import ends, flood, steepest

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

EIGHT = ((0, 1), (1, 0), (1, 1), (1, -1))
FOUR = EIGHT[:2]
EMPTY = ["0000000000"] * 2


def grid(text: str) -> Floats:
    return np.array([[float(word) for word in row.split()] for row in text.strip().splitlines()])


def joined(shape: tuple[int, int], ways: tuple[tuple[int, int], ...]) -> tuple[Numbers, Floats]:
    """Pairs of neighbouring cells, and how far apart they are."""
    cell = np.arange(shape[0] * shape[1]).reshape(shape)
    pairs, lengths = [], []
    for down, right in ways:
        one = cell[: shape[0] - down, max(-right, 0) : shape[1] - max(right, 0)]
        two = cell[down:, max(right, 0) : shape[1] + min(right, 0)]
        pairs.append(np.stack((one.reshape(-1), two.reshape(-1)), axis=1))
        lengths.append(np.full(one.size, np.hypot(down, right)))
    return np.concatenate(pairs), np.concatenate(lengths)


def test_directions_and_accumulation_of_the_classic_grid() -> None:
    height = grid("""
        78 72 69 71 58 49
        74 67 56 49 46 50
        69 53 44 37 38 48
        64 58 55 22 31 24
        68 61 47 21 16 19
        74 53 34 12 11 12
    """)
    codes = grid("""
        2 2 2 4 4 8
        2 2 2 4 4 8
        1 1 2 4 8 4
        128 128 1 2 4 8
        2 2 1 4 4 4
        1 1 1 1 0 16
    """)
    accumulated = grid("""
        1 1 1 1 1 1
        1 2 2 3 3 1
        1 4 8 6 5 1
        1 1 1 21 1 2
        1 1 1 2 25 1
        1 3 5 8 36 2
    """)
    pairs, lengths = joined((6, 6), EIGHT)
    below = steepest(height.reshape(-1), pairs, lengths)
    step = {1: 1, 2: 7, 4: 6, 8: 5, 16: -1, 32: -7, 64: -6, 128: -5, 0: 0}
    expected = [number + step[int(code)] for number, code in enumerate(codes.reshape(-1))]
    assert below.tolist() == expected
    # each cell counts at every cell on its way down
    counts = np.zeros(36, dtype=int)
    now = np.arange(36)
    on = np.ones(36, dtype=bool)
    while on.any():
        np.add.at(counts, now[on], 1)
        on &= below[now] != now
        now = below[now]
    assert counts.reshape(6, 6).tolist() == accumulated.tolist()
    assert set(ends(below).tolist()) == {34}


@pytest.mark.parametrize("ways", [EIGHT, FOUR])
def test_hand_made_depressions(ways: tuple[tuple[int, int], ...]) -> None:
    rows = [
        *EMPTY,
        *["0222200000", "0200222200", "0222200200", "0020200200", "0022200200", "0000222200"],
        *EMPTY,
    ]
    height = np.array([[float(digit) for digit in row] for row in rows])
    rim = np.full(height.shape, np.inf)
    rim[[0, -1]] = height[[0, -1]]
    rim[:, [0, -1]] = height[:, [0, -1]]
    pairs, lengths = joined((10, 10), ways)
    level = flood(height.reshape(-1), pairs, lengths, rim.reshape(-1)).level.reshape(height.shape)
    inner = "0222200000 0222222200 0222222200 0022222200 0022222200 0000222200"
    filled = [*EMPTY, *inner.split(), *EMPTY]
    assert level.tolist() == [[float(digit) for digit in row] for row in filled]
    assert int((level > height).sum()) == 9
    assert float((level - height).sum()) == 18.0


def test_two_lakes_with_one_open_side() -> None:
    height = grid("5 4 3 2 1 0\n5 4 3 2 .9 1.1\n5 4 .6 .3 1 0\n5 2 3 .5 1.1 0\n5 4 3 2 1 0")
    lips = np.full(height.shape, np.inf)
    lips[:, -1] = height[:, -1]
    pairs, lengths = joined((5, 6), FOUR)
    found = flood(height.reshape(-1), pairs, lengths, lips.reshape(-1))
    deep = found.level - height.reshape(-1)
    # two hollows that meet at their spill level count as one lake there
    level = np.round(found.level, 9)
    lakes = {
        float(full): (int((level[deep > 0] == full).sum()), round(float(deep[level == full].sum()), 9))
        for full in np.unique(level[deep > 0])
    }
    assert lakes == {1.0: (4, 1.7), 3.0: (1, 1.0)}
