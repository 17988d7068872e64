"""Level books with parts in any order: what each run is tied to, and that the order changes nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.levelling.field_book import FieldBook
from gradework.survey.levelling.reduce import reduce_levels, runs
from gradework.survey.levelling.setups import Anchor, order_runs, split_setups

SD = 0.001
WORDS = {"BS": "backsight", "IS": "intermediate", "FS": "foresight"}


def book(text: str, **known: float) -> LevelNotes:
    """Notes from words: ``BS BM 1.5 / IS A 1.2 / FS TP 1.0 BS 1.3``, a line of the book between the strokes,
    the first on line 2."""
    rows = []
    for number, line in enumerate(text.split("/"), start=2):
        first, name, reading, *more = line.split()
        given_here = dict(zip([first, *more[::2]], map(float, [reading, *more[1::2]]), strict=True))
        readings = {WORDS[kind]: value for kind, value in given_here.items()}
        rows.append(LevelRow(name, known=known.get(name), line=number, **readings))
    return LevelNotes(tuple(rows), "yard.csv")


def levels(found: FieldBook) -> dict[str, float]:
    return {line.row.station: round(line.elevation, 6) for line in found.lines}


def readings_in(found: FieldBook) -> dict[str, float]:
    """How many readings' errors stand in each elevation: its variance over that of one reading."""
    return {line.row.station: round((line.sd / SD) ** 2, 6) for line in found.lines}


def test_a_run_waits_for_the_later_part_that_gives_its_first_point() -> None:
    notes = book("BS TP7 0.8 / IS A 1.1 / IS B 0.6 / FS C 0.9 / BS BM 1.5 / FS TP7 1.2", BM=10.0)
    found = reduce_levels(notes, reading_sd=SD)
    # TP7 = 10 + 1.5 - 1.2; the line of sight of the first set-up stands 0.8 above that, at 11.1.
    assert levels(found) == {"TP7": 10.3, "A": 10.0, "B": 10.5, "C": 10.2, "BM": 10.0}
    assert readings_in(found) == {"TP7": 2, "A": 4, "B": 4, "C": 4, "BM": 0}
    assert found.lines[0].height_of_instrument == pytest.approx(11.1)
    assert [(p.run, p.first, p.last) for p in found.pages] == [
        (0, pytest.approx(10.3), pytest.approx(10.2)),
        (1, 10.0, pytest.approx(10.3)),
    ]
    assert (found.benchmark, found.datum, found.assumed) == ("BM", 10.0, False)
    assert (found.closures, found.network, found.shared) == ((), None, "no")


def test_a_run_may_meet_its_mark_at_its_end() -> None:
    found = reduce_levels(book("BS X 1.0 / IS A 1.4 / FS T 0.7 BS 1.2 / FS BM 0.9", BM=20.0), reading_sd=SD)
    # T = 20 + 0.9 - 1.2; the first line of sight is at T + 0.7 = 20.4, so X = 19.4 and A = 19.0.
    assert levels(found) == {"X": 19.4, "A": 19.0, "T": 19.7, "BM": 20.0}
    assert readings_in(found) == {"X": 4, "A": 4, "T": 2, "BM": 0}
    assert found.closures == ()
    assert "levels-not-closed" in [f.code for f in found.findings]


def test_after_the_mark_that_a_run_hangs_on_it_is_closed_and_shared() -> None:
    """The marks stand 1.0 apart and are read 4 mm less apart, over two set-ups."""
    text = "BS X 1.0 / FS M1 0.5 BS 1.5 / IS A 1.0 / FS T 1.2 BS 1.5 / FS M2 0.804"
    found = reduce_levels(book(text, M1=10.0, M2=11.0), reading_sd=SD)
    (closure,) = found.closures
    assert (closure.station, closure.setups) == ("M2", 2)
    assert closure.misclosure == pytest.approx(-0.004)
    assert found.shared == "setups"
    assert levels(found) == {"X": 9.5, "M1": 10.0, "A": 10.502, "T": 10.302, "M2": 11.0}
    # T takes half of a miss of four readings; A has its own reading in place of the turning point's.
    assert readings_in(found) == {"X": 2, "M1": 0, "A": 2, "T": 1, "M2": 0}


def test_runs_that_share_a_point_they_both_end_on() -> None:
    """The first run is tied to P by its end; the third begins on X, where the first began."""
    text = "BS X 1.0 / IS A 0.5 / FS P 1.3 / BS BM 1.6 / FS P 1.1 / BS X 2.0 / FS B 1.0"
    notes = book(text, BM=30.0)
    found = reduce_levels(notes, reading_sd=SD)
    # P = 30.5 from BM; the first line of sight is at 31.8, X = 30.8, A = 31.3; B = X + 2.0 - 1.0.
    assert levels(found) == {"X": 30.8, "A": 31.3, "P": 30.5, "BM": 30.0, "B": 31.8}
    assert readings_in(found) == {"X": 4, "A": 4, "P": 2, "BM": 0, "B": 6}
    setups = split_setups(notes)
    anchors = order_runs(notes.rows, runs(setups), {"BM"})
    assert anchors == (Anchor(1, 3, None), Anchor(0, 2, 4), Anchor(2, 5, 0))


def test_a_line_over_several_runs_is_closed_over_all_its_set_ups() -> None:
    """BM to T over two set-ups, and from there to M in a run written before: 9 mm off, allowed over three
    set-ups but not over one."""
    text = "BS T 1.0 / FS M 0.509 / BS BM 1.5 / FS S 1.0 BS 1.5 / FS T 1.5"
    found = reduce_levels(book(text, BM=10.0, M=11.0), reading_sd=SD * 3)
    (closure,) = found.closures
    assert (closure.setups, closure.misclosure) == (3, pytest.approx(-0.009))
    assert closure.allowable == pytest.approx(0.02 * 0.3048 * np.sqrt(3))
    # Three set-ups of two readings: each takes a third, S too, which stands before the run that closes.
    assert found.shared == "network"
    assert levels(found) == {"T": 10.506, "M": 11.0, "BM": 10.0, "S": 10.503}


def test_what_a_run_missed_before_is_not_counted_again() -> None:
    """B lies 4 mm off by the first run; the second, from the turn after B, adds 2 mm of its own."""
    text = "BS A 1.0 / FS B 1.004 BS 1.0 / FS T 1.0 / BS A 1.0 / FS Q 1.0 / BS T 1.0 / FS C 1.002"
    found = reduce_levels(book(text, A=10.0, B=10.0, C=10.0))
    assert [(c.station, c.setups, round(c.misclosure, 9)) for c in found.closures] == [
        ("B", 1, -0.004),
        ("C", 2, -0.002),
    ]


def test_a_way_against_the_order_of_the_set_ups_counts_them_too() -> None:
    """X is found over both set-ups of the first run, from its end; the third run closes from there."""
    text = "BS X 1.0 / FS T 1.0 BS 1.0 / FS BM 1.0 / BS X 1.0 / FS M 1.001"
    found = reduce_levels(book(text, BM=10.0, M=10.0))
    assert [(c.station, c.setups, round(c.misclosure, 9)) for c in found.closures] == [("M", 3, -0.001)]


def test_a_book_without_any_elevation_hangs_on_its_first_mark() -> None:
    found = reduce_levels(book("BS S 1.0 / FS A 1.5 / BS P 1.2 / FS B 1.0 / BS S 1.0 / FS P 0.5"))
    assert (found.benchmark, found.datum, found.assumed) == ("S", 30.0, True)
    assert levels(found) == {"S": 30.0, "A": 29.5, "P": 30.5, "B": 30.7}


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("BS X 1.0 / FS A 1.0 / BS BM 1.0 / FS B 1.0", 2, "from X (lines 2 to 3)"),
        (
            "BS BM 1 / FS B 1 / BS X 1 / FS A 1 / BS BM 1 / FS C 1 / BS A 1 / IS D 1 / FS X 1",
            4,
            "from X (lines 4 to 5) and from A (lines 8 to 10)",
        ),
        ("BS X 1.0 / FS Y 1.0 / BS Y 1.0 / FS X 1.0", 2, "from X (lines 2 to 5)"),
    ],
)
def test_runs_that_nothing_joins_to_a_mark_are_named_together(text: str, line: int, words: str) -> None:
    with pytest.raises(InputError) as caught:
        reduce_levels(book(text + " / BS BM 1 / FS Z 1", BM=5.0))
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("levels-backsight-lost", line)
    assert words in fault.found


def test_each_group_in_the_air_is_a_fault_of_its_own() -> None:
    with pytest.raises(InputError) as caught:
        reduce_levels(book("BS S 1 / FS A 1 / BS X 1 / FS B 1 / BS Y 1 / FS C 1 / BS B 1 / FS D 1"))
    assert [(f.line, f.found.count("from")) for f in caught.value.faults] == [(4, 2), (6, 1)]


def test_a_known_mark_that_nothing_was_read_on_holds_no_run() -> None:
    rows = (LevelRow("BM", known=5.0, line=2), LevelRow("X", backsight=1.0, line=3))
    with pytest.raises(InputError) as caught:
        reduce_levels(LevelNotes((*rows, LevelRow("A", foresight=1.0, line=4))))
    assert [(f.code, f.line) for f in caught.value.faults] == [("levels-backsight-lost", 3)]


@st.composite
def walks(draw: st.DrawFn) -> tuple[dict[str, float], list[list[str]], list[int], set[str]]:
    """Heights, runs (three points or more each, every run joined to an earlier one), an order, the marks."""
    names = [f"P{i}" for i in range(draw(st.integers(4, 9)))]
    heights = {name: draw(st.integers(-9000, 9000)) / 1000 for name in names}
    reached, made = [names[0]], []
    for _ in range(draw(st.integers(1, 5))):
        run = draw(st.lists(st.sampled_from(names), min_size=2, max_size=5, unique=True))
        if not set(run) & set(reached):
            run.insert(draw(st.integers(0, len(run))), draw(st.sampled_from(reached)))
        made.append(run)
        reached += run
    marks = {names[0], *draw(st.sets(st.sampled_from(names), max_size=2))}
    if not any(names[0] in run for run in made):
        made.append([names[0], next(n for n in reached if n != names[0])])
    return heights, made, draw(st.permutations(range(len(made)))), marks


def written(
    heights: dict[str, float], made: list[list[str]], marks: set[str], noise: list[float]
) -> LevelNotes:
    """A set-up for each run: its first point the backsight, its last the foresight."""
    rows: list[LevelRow] = []
    for run, off in zip(made, noise, strict=True):
        for at, name in enumerate(run):
            kind = "backsight" if not at else "foresight" if at == len(run) - 1 else "intermediate"
            reading = heights[run[0]] + 1.5 - heights[name] + (off if at else 0.0)
            known = heights[name] if name in marks else None
            rows.append(LevelRow(name, known=known, line=len(rows) + 2, **{kind: reading}))
    return LevelNotes(tuple(rows), "yard.csv")


@settings(deadline=None, max_examples=80)
@given(walks())
def test_the_order_of_the_runs_changes_nothing(drawn) -> None:
    heights, made, order, marks = drawn
    clean = [0.0] * len(made)
    first = reduce_levels(written(heights, made, marks, clean), reading_sd=SD)
    second = reduce_levels(written(heights, [made[i] for i in order], marks, clean), reading_sd=SD)
    for found in (first, second):
        assert [x.elevation for x in found.lines] == pytest.approx(
            [heights[x.row.station] for x in found.lines], abs=1e-9
        )
        assert all(abs(p.by_instrument) + abs(p.by_rise_and_fall) < 1e-9 for p in found.pages)
        assert [c.misclosure for c in found.closures] == pytest.approx([0] * len(found.closures), abs=1e-9)
    both = first.shared == second.shared == "network"
    if both or not (first.closures or second.closures):
        spread = [
            sorted((x.row.station, round(x.sd / SD, 6)) for x in found.lines) for found in (first, second)
        ]
        assert spread[0] == spread[1]


@settings(deadline=None, max_examples=40)
@given(walks(), st.lists(st.integers(-3, 3), min_size=7, max_size=7))
def test_with_small_errors_least_squares_are_the_same_in_any_order(drawn, millimetres) -> None:
    heights, made, order, marks = drawn
    noise = [m / 5000 for m in (millimetres * 2)[: len(made)]]
    first = reduce_levels(written(heights, made, marks, noise), reading_sd=SD)
    moved = written(heights, [made[i] for i in order], marks, [noise[i] for i in order])
    second = reduce_levels(moved, reading_sd=SD)
    assert (first.shared == "no") == (second.shared == "no")
    # A line in one piece is shared by the rule of the book, which moves points between by a little else.
    if first.shared == second.shared == "network":
        at = {x.row.station: x.elevation for x in first.lines}
        assert [x.elevation for x in second.lines] == pytest.approx(
            [at[x.row.station] for x in second.lines], abs=1e-9
        )
