"""Standard errors of a level book are those of the elevations that it prints, adjusted or not.

Each test draws the same book many times with errors of a known size: the mean of n squared standard normals
lies within 1 ± 4·√(2/n) but once in 16,000.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.levelling.field_book import FieldBook
from gradework.survey.levelling.reduce import reduce_levels

SD = 0.001
DRAWS = 500
TRUTH = {"M1": 30.0, "M2": 31.2, "M3": 29.4, "T1": 30.6, "T2": 30.9, "A": 30.4, "B": 31.0, "C": 30.2}

Draw = Callable[[np.random.Generator], LevelNotes]


def book_of(rng: np.random.Generator, *walks: str, known: dict[str, float], spoiled: str = "") -> LevelNotes:
    """A book of lines of levels. A walk is words: a set-up each, the points that it reads joined by dashes;
    a set-up that begins where the one before it ended goes on with that line. The reading of the point
    ``spoiled`` in the last walk is 0.2 m too long."""
    rows: list[LevelRow] = []
    for walk in walks:
        for setup in walk.split():
            names = setup.split("-")
            for at, name in enumerate(names):
                reading = TRUTH[names[0]] + 1.4 - TRUTH[name] + float(rng.normal(0, SD))
                reading += 0.2 if name == spoiled and walk is walks[-1] and at else 0.0
                kind = "backsight" if not at else "foresight" if at == len(names) - 1 else "intermediate"
                rows.append(LevelRow(name, known=known.get(name), line=len(rows) + 2, **{kind: reading}))
    return LevelNotes(tuple(rows))


def squares(draw: Draw, shared: str, exempt: tuple[str, ...] = ()) -> NDArray[np.float64]:
    """Squared errors over their variances (draws, lines) of what books print that are ``shared`` so.

    One sound network in a hundred is called off, by design, and then not adjusted.
    """
    rng, found = np.random.default_rng(31), []
    for _ in range(DRAWS):
        book: FieldBook = reduce_levels(draw(rng), reading_sd=SD)
        if shared == "network" and book.shared == "no":
            continue
        assert book.shared == shared
        lines = [x for x in book.lines if x.sd > 0 and x.row.station not in exempt]
        found.append([((x.elevation - TRUTH[x.row.station]) / x.sd) ** 2 for x in lines])
    assert len(found) > 0.97 * DRAWS
    return np.array(found)


TRUE = {"M1": 30.0, "M2": 31.2}
FALSE = {"M1": 30.0, "M2": 31.4}  # given 0.2 m too high

CASES: dict[str, tuple[Draw, str, tuple[str, ...]]] = {
    "one line, adjusted": (
        lambda rng: book_of(rng, "M1-A-T1 T1-B-T2 T2-C-M2", known=TRUE), "setups", (),
    ),
    "one line that misses": (
        lambda rng: book_of(rng, "M1-A-T1 T1-B-T2 T2-C-M2", known=FALSE), "no", (),
    ),
    "one line, open": (
        lambda rng: book_of(rng, "M1-A-T1 T1-B-T2 T2-C-M3", known={"M1": 30.0}), "no", (),
    ),
    "a line that closes beside one that misses": (
        lambda rng: book_of(rng, "M1-M3-M2", "M1-A-T1 T1-B-T2 T2-C-M1", known=FALSE), "no", (),
    ),
    "routes that contradict each other": (
        lambda rng: book_of(rng, "M1-A-T1 T1-B-M1", "M1-T2 T2-C-M2", "M2-T2", known=TRUE, spoiled="T2"),
        "no",
        ("T2",),
    ),
    "a spur from a line that misses": (
        lambda rng: book_of(rng, "M1-A-T1 T1-B-M2", "A-C-T2", known=FALSE), "no", (),
    ),
    "a spur from a line that closes": (
        lambda rng: book_of(rng, "M1-A-T1 T1-B-M2", "A-C-T2", known=TRUE), "setups", (),
    ),
    "a run that waits for a later one, open": (
        lambda rng: book_of(rng, "T2-B-C", "M1-A-T1 T1-T2", known={"M1": 30.0}), "no", (),
    ),
    "a run that ends on its mark": (
        lambda rng: book_of(rng, "T1-A-T2 T2-C-M1", known={"M1": 30.0}), "no", (),
    ),
    "a run that begins before its first mark, adjusted": (
        lambda rng: book_of(rng, "T1-A-M1 M1-B-T2 T2-C-M2", known=TRUE), "setups", (),
    ),
    "a run that begins before its first mark, and misses": (
        lambda rng: book_of(rng, "T1-A-M1 M1-B-T2 T2-C-M2", known=FALSE), "no", (),
    ),
    "a line in two parts, the last first, adjusted": (
        lambda rng: book_of(rng, "T2-B-M2", "M1-A-T1 T1-C-T2", known=TRUE), "network", (),
    ),
    "a line in two parts, the last first, that misses": (
        lambda rng: book_of(rng, "T2-B-M2", "M1-A-T1 T1-C-T2", known=FALSE), "no", (),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_the_standard_errors_are_those_of_what_is_printed(case: str) -> None:
    found = squares(*CASES[case])
    assert np.mean(found, axis=0) == pytest.approx(1, abs=4 * np.sqrt(2 / DRAWS))


def test_what_is_not_adjusted_keeps_the_error_of_the_route_to_it() -> None:
    """Shared over its three set-ups the closing line would leave T1 and T2 with two thirds and a third of
    these variances."""
    book = reduce_levels(CASES["a line that closes beside one that misses"][0](np.random.default_rng(1)))
    sd = {x.row.line: x.sd for x in book.lines}
    assert book.shared == "no"
    assert all(x.elevation == x.raw for x in book.lines)
    assert [sd[line] ** 2 / 0.003**2 for line in (6, 7, 9, 10, 12, 13)] == pytest.approx([2, 2, 4, 4, 6, 6])
