"""A page looked at as a reader does: its words and lines, none over another, none outside, none too small."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line

LEAST_MM = 2.0


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
