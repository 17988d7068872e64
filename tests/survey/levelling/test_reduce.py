"""Level books: reduction, closing, sharing, standard errors, faults and findings."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.fieldnotes.levels import LevelNotes, LevelRow, read_levels
from gradework.survey.levelling.heights import book_heights
from gradework.survey.levelling.reduce import reduce_levels
from gradework.survey.quality import judge
from gradework.survey.repeat_findings import repeat_findings

ROUNDING = 1e-9  # metres: sums of a few dozen readings in double precision


def notes(*rows: tuple, unit="m") -> LevelNotes:
    """Rows as (station, bs, is, fs[, known]) with lines from 2."""
    made = [
        LevelRow(r[0], *r[1:4], known=r[4] if len(r) > 4 else None, line=number)
        for number, r in enumerate(rows, start=2)
    ]
    return LevelNotes(tuple(made), "yard.csv", unit)


def codes(found) -> list[str]:
    return [f.code for f in found]


def book_from(levels, seats, *, noise=None, known_end=True):
    """Notes of an instrument ``seats`` above its backsights: three points a set-up, the last turned on."""
    rows = []
    noise = iter(noise) if noise is not None else iter(lambda: 0.0, 1)
    start = levels[0]
    turn, turn_level = "P0", start
    points = list(enumerate(levels))[1:]
    for index, seat in enumerate(seats):
        here = points[index * 3 : index * 3 + 3]
        hi = turn_level + seat
        back = seat + next(noise)
        if rows:
            rows[-1] = dataclasses.replace(rows[-1], backsight=back)
        else:
            rows.append(LevelRow(turn, backsight=back, known=start, line=2))
        for k, level in here:
            reading = hi - level + next(noise)
            last = k == here[-1][0]
            rows.append(
                LevelRow(
                    f"P{k}",
                    intermediate=None if last else reading,
                    foresight=reading if last else None,
                    known=level if known_end and k == points[-1][0] else None,
                    line=len(rows) + 2,
                )
            )
        turn, turn_level = f"P{here[-1][0]}", here[-1][1]
    return LevelNotes(tuple(rows), "yard.csv", "m")


levels = st.floats(-50, 50, allow_nan=False)


@settings(deadline=None, max_examples=60)
@given(
    st.integers(1, 5).flatmap(
        lambda n: st.tuples(
            st.lists(levels, min_size=3 * n + 1, max_size=3 * n + 1),
            st.lists(st.floats(0, 5), min_size=n, max_size=n),
        )
    )
)
def test_notes_made_from_known_heights_come_back_exactly(drawn):
    truth, seats = drawn
    book = reduce_levels(book_from(truth, seats))
    heights = book_heights(book)
    assert heights.names == tuple(f"P{k}" for k in range(len(truth)))
    np.testing.assert_allclose(heights.elevation, truth, atol=ROUNDING * 10)
    assert book.misclosure == pytest.approx(0, abs=ROUNDING * 10)
    assert book.setups == len(seats)


def test_standard_errors_hold_over_many_draws():
    rng = np.random.default_rng(20)
    truth = rng.normal(30, 1, 13)
    seats = [1.5, 1.2, 1.4, 1.1]
    sd, draws = 0.001, 400
    chi, sigma = [], None
    for _ in range(draws):
        book = reduce_levels(book_from(truth, seats, noise=rng.normal(0, sd, 40)), reading_sd=sd)
        heights = book_heights(book)
        assert book.shared == "setups"
        sigma = heights.sd[1:-1]
        chi.append(((heights.elevation - truth)[1:-1] / sigma) ** 2)
        assert heights.sd[0] == heights.sd[-1] == 0
    # Each mean of 400 squared standard normals lies within 1 ± 4·sqrt(2/400) but once in 16,000.
    np.testing.assert_allclose(np.mean(chi, axis=0), 1, atol=4 * np.sqrt(2 / draws))


def test_open_line_grows_with_the_root_of_the_set_ups():
    truth = np.linspace(10, 13, 10)
    book = reduce_levels(book_from(truth, [1, 1, 1], known_end=False), reading_sd=0.002)
    np.testing.assert_allclose(
        [line.sd for line in book.lines if line.row.foresight is not None],
        0.002 * np.sqrt([2, 4, 6]),
    )
    assert "levels-not-closed" in codes(book.findings)
    assert book.misclosure is None
    assert book.shared == "no"


def test_misclosure_beyond_its_allowance_is_not_shared():
    book = reduce_levels(
        notes(("BM", 1.5, None, None, 10.0), ("A", None, 1.2, None), ("BM", None, None, 1.45))
    )
    assert book.misclosure == pytest.approx(0.05)
    assert book.shared == "no"
    assert book.lines[1].elevation == book.lines[1].raw
    assert "misclosure-too-large" in codes(book.findings)
    assert book_heights(book).elevation[0] == 10.0


def test_closing_in_one_set_up_with_an_intermediate_sight():
    book = reduce_levels(
        notes(
            ("BM", 1.5, None, None, 10.0),
            ("A", None, 1.2, None),
            ("BM", None, 1.503, None),
            ("B", None, 1.0, None),
        )
    )
    assert book.misclosure == pytest.approx(-0.003)
    assert [line.elevation for line in book.lines] == pytest.approx([10.0, 10.303, 10.0, 10.503])


def test_stretches_between_known_marks_are_closed_one_by_one():
    book = reduce_levels(
        notes(
            ("A", 1.0, None, None, 10.0),
            ("B", 1.0, None, 1.004, 10.0),  # 4 mm low
            ("T", 1.0, None, 1.0),
            ("C", None, None, 1.002, 10.0),  # 2 mm more
        )
    )
    assert [c.misclosure for c in book.closures] == pytest.approx([-0.004, -0.002])
    assert [c.setups for c in book.closures] == [1, 2]
    assert [line.elevation - line.raw for line in book.lines] == pytest.approx([0, 0.004, 0.005, 0.006])


def test_sharing_by_distance_needs_every_leg():
    rows = [
        LevelRow("A", backsight=1.0, known=10.0, distance=30.0, line=2),
        LevelRow("T", backsight=1.0, foresight=1.0, distance=30.0, back_distance=10.0, line=3),
        LevelRow("A", foresight=1.004, distance=10.0, line=4),
    ]
    book = reduce_levels(LevelNotes(tuple(rows)), share="distance")
    assert book.shared == "distance"
    assert book.lines[1].elevation - book.lines[1].raw == pytest.approx(0.003)
    assert book.closures[0].distance == 80.0
    rows[2] = dataclasses.replace(rows[2], distance=None)
    book = reduce_levels(LevelNotes(tuple(rows)), share="distance")
    assert book.shared == "setups"
    assert book.lines[1].elevation - book.lines[1].raw == pytest.approx(0.002)
    assert "legs-not-measured" in codes(book.findings)


def test_the_kind_of_work_sets_the_allowance():
    made = notes(("BM", 1.5, None, None, 10.0), ("T", 1.0, None, 1.2), ("BM", None, None, 1.30))
    assert reduce_levels(made).allowable == pytest.approx(0.02 * 0.3048 * np.sqrt(2))
    assert reduce_levels(made, work="construction").allowable == pytest.approx(0.025 * 0.3048 * np.sqrt(2))
    assert reduce_levels(made, work="third order").allowable is None  # only a rule by distance, none measured
    with pytest.raises(ValueError, match="work must be one of yard"):
        reduce_levels(made, work="fine")


def test_foresights_that_nothing_turned_on_are_side_shots():
    book = reduce_levels(
        notes(
            ("BM", 5.0, None, None, 100.0),
            ("A", None, None, 4.0),
            ("B", None, None, 6.0),
            ("BM", None, None, 5.0),
        )
    )
    assert book.sum_foresights == 5.0
    assert [line.raw for line in book.lines] == [100.0, 101.0, 99.0, 100.0]
    assert "foresight-not-turned-on" in codes(book.findings)


def test_a_benchmark_without_an_elevation_is_assumed():
    made = notes(("stump", 1.5, None, None), ("A", None, 1.0, None), ("stump", None, None, 1.5))
    assert reduce_levels(made).lines[0].raw == 30.0
    feet = reduce_levels(dataclasses.replace(made, unit="ft"))
    assert feet.lines[0].raw == pytest.approx(100 * 0.3048)
    assert "benchmark-assumed" in codes(feet.findings)
    assert feet.misclosure == pytest.approx(0)


def test_a_second_run_may_start_on_a_point_already_shot():
    book = reduce_levels(
        notes(
            ("BM", 1.5, None, None, 10.0),
            ("A", None, 1.2, None),
            ("BM", None, None, 1.5),
            ("A", 1.0, None, None),
            ("B", None, None, 0.5),
        ),
        reading_sd=0.001,
    )
    assert book.lines[4].raw == pytest.approx(10.8)
    assert [p.run for p in book.pages] == [0, 1]
    # A: 1.5 and 1.2 read, less the whole miss (1.5 and 1.5 read): its own reading and the closing one are
    # left.
    assert book.lines[1].sd == pytest.approx(0.001 * np.sqrt(2))
    assert book.lines[4].sd == pytest.approx(0.001 * np.sqrt(4))
    assert book.lines[3].sd == book.lines[1].sd


def test_the_booked_page_is_checked_step_by_step():
    rows = notes(
        ("BM", 5.5, None, None, 100.0), ("A", None, 4.0, None), ("B", None, 3.0, None), ("C", None, None, 2.0)
    )
    booked = (100.0, 101.5, 102.6, 103.6)  # a slip of 0.1 at B, carried on to C
    made = dataclasses.replace(
        rows, rows=tuple(dataclasses.replace(r, booked=b) for r, b in zip(rows.rows, booked, strict=True))
    )
    found = {f.code: f for f in reduce_levels(made).findings}
    assert found["booked-elevation-differs"].where == "B, line 4"
    assert found["booked-elevation-differs"].value == pytest.approx(-0.1)
    assert found["page-check-fails"].value == pytest.approx(-0.1)


def test_odd_readings_are_pointed_at():
    found = codes(
        reduce_levels(
            notes(("BM", 1.5, None, None, 10.0), ("A", None, -0.5, None), ("B", None, None, 123.0))
        ).findings
    )
    assert "rod-reading-negative" in found
    assert "rod-reading-long" in found


def test_a_point_read_twice_gets_the_mean_and_is_in_doubt_when_they_differ():
    heights = book_heights(
        reduce_levels(
            notes(
                ("BM", 1.5, None, None, 10.0),
                ("A", None, 1.2, None),
                ("A", None, 1.3, None),
                ("BM", None, None, 1.5),
            )
        )
    )
    assert heights.elevation[1] == pytest.approx(10.25)
    (found,), doubted = repeat_findings(heights.readings, heights.unit, 0.003)
    assert (found.where, doubted) == ("A, lines 3 and 4", {"A"})
    assert not heights.elevation.flags.writeable


@pytest.mark.parametrize(
    ("rows", "code", "line"),
    [
        ([], "levels-no-backsight", 0),
        ([("A", None, 1.0, None)], "levels-no-backsight", 0),
        ([("A", None, 1.0, None), ("BM", 1.0, None, None), ("B", None, 1.0, None)], "levels-no-backsight", 2),
        ([("BM", 1.0, None, None)], "levels-backsight-unused", 2),
        ([("BM", 1.0, None, None), ("A", None, None, None)], "levels-no-reading", 3),
        ([("BM", 1.0, None, None), ("A", None, 1.0, 1.0)], "levels-two-readings", 3),
        ([("BM", 1.0, 1.0, None), ("A", None, 1.0, None)], "levels-two-readings", 2),
        ([("BM", 1.0, None, None), ("A", None, float("nan"), None)], "levels-not-finite", 3),
        ([("BM", 1.0, None, None), ("A", None, 1e8 * 0.3048, None)], "rod-reading-impossible", 3),
        ([("BM", -1e12, None, None), ("A", None, 1.0, None)], "rod-reading-impossible", 2),
        (
            [("BM", 1.0, None, None), ("A", None, None, 1e300), ("B", 1.0, None, None)],
            "rod-reading-impossible",
            3,
        ),
        (
            [
                ("BM", 1.0, None, None, 5.0),
                ("A", None, 1.0, None),
                ("X", 1.0, None, None),
                ("B", None, 1.0, None),
            ],
            "levels-backsight-lost",
            4,
        ),
        ([("BM", 1.0, None, None, 5.0), ("BM", None, 1.0, None, 5.1)], "levels-mark-twice", 3),
    ],
)
def test_what_cannot_be_reduced_is_refused_with_its_line(rows, code, line):
    with pytest.raises(InputError) as caught:
        reduce_levels(notes(*rows))
    assert (code, line) in [(f.code, f.line) for f in caught.value.faults]


def test_readings_that_only_just_can_be_are_reduced():
    # cancels to nothing, but for the last digits of every reading on the way
    rows = [("BM", -300.0, None, None, 1e6), ("A", None, 304.7, None), ("B", None, -304.7, None)]
    book = reduce_levels(notes(*rows, ("C", 300.1, None, 0.1), ("D", None, None, -299.9)))
    assert [f.code for f in book.findings].count("rod-reading-long") == 2


def spoiled_loop(**changed):
    """A loop over two set-ups in feet that closes exactly, with some readings of its turning points
    changed."""
    values = {"bs1": 5.12, "fs1": 4.76, "bs2": 6.31, "fs2": 6.67} | changed
    foot = 0.3048
    return notes(
        ("BM", values["bs1"] * foot, None, None, 100 * foot),
        ("TP", values["bs2"] * foot, None, values["fs1"] * foot),
        ("BM", None, None, values["fs2"] * foot),
        unit="ft",
    )


def test_the_loop_closes_when_nothing_is_spoiled():
    assert reduce_levels(spoiled_loop()).misclosure == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"fs1": 5.76}, "a whole foot in any one backsight or turning point"),
        ({"bs2": 3.61}, "swapped digits in the BS on line 3 (3.61 ft for 6.31 ft)"),
        ({"fs1": 4.633}, "tenths taken for inches in the FS on line 3 (4.63 ft for 4.76 ft)"),
    ],
)
def test_a_slip_that_explains_the_miss_is_named(changed, words):
    found = [f for f in reduce_levels(spoiled_loop(**changed)).findings if f.code == "misclosure-too-large"]
    assert words in found[0].advice


def test_a_miss_that_no_slip_explains_names_none():
    (found,) = [f for f in reduce_levels(spoiled_loop(fs1=5.21)).findings if f.code == "misclosure-too-large"]
    assert "explain" not in found.advice
    assert "Look for a misread backsight" in found.advice


def test_names_of_a_book_that_differ_in_capitals_are_refused_with_both_lines():
    rows = [
        LevelRow("BM", backsight=1.5, known=30.0, line=2),
        LevelRow("A", intermediate=1.2, line=3),
        LevelRow("Bm", foresight=1.5, line=4),
    ]
    with pytest.raises(InputError) as caught:
        reduce_levels(LevelNotes(tuple(rows)))
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("station-names-alike", 4)
    assert "Bm here and BM on line 2" in fault.found


def test_a_miss_that_no_rule_allows_is_not_shared():
    """10 + 1.500 - 1.200 = 10.300 at TP; + 1.400 - 2.701 = 8.999, or 1.001 low, over unmeasured sights."""
    rows = [
        LevelRow("BM", backsight=1.5, known=10.0, line=2),
        LevelRow("A", intermediate=1.3, line=3),
        LevelRow("TP", backsight=1.4, foresight=1.2, line=4),
        LevelRow("BM", foresight=2.701, line=5),
    ]
    for work in ("third order", "second order I"):
        book = reduce_levels(LevelNotes(tuple(rows)), work=work)
        assert book.shared == "no"
        assert (book.misclosure, book.allowable) == (pytest.approx(-1.001), None)
        assert [line.elevation for line in book.lines[:3]] == pytest.approx([10.0, 10.2, 10.3])
        (told,) = (f for f in book.findings if f.code == "misclosure-without-rule")
        assert (told.severity, told.value, told.limit) == ("warning", pytest.approx(-1.001), None)
        assert judge(book.findings).grade == "fair"
    # with the sights measured the rule judges it: 12 mm for the root of 0.16 km, far less than a metre
    for i, (back, ahead) in enumerate([(40.0, None), (None, 40.0), (40.0, 40.0), (None, 40.0)]):
        length = ahead or back
        rows[i] = dataclasses.replace(rows[i], distance=length, back_distance=back if ahead else None)
    book = reduce_levels(LevelNotes(tuple(rows)), work="third order")
    assert book.allowable == pytest.approx(0.012 * np.sqrt(0.16))
    assert "misclosure-too-large" in codes(book.findings)
    # nothing to share: the mark is met exactly, whatever the rule
    rows = [LevelRow("BM", backsight=1.5, known=10.0, line=2), LevelRow("BM", foresight=1.5, line=3)]
    book = reduce_levels(LevelNotes(tuple(rows)), work="third order")
    assert codes(book.findings) == ["misclosure"]


def test_routes_are_not_adjusted_where_no_rule_allows_a_miss():
    rows = [
        LevelRow("M", backsight=1.0, known=10.0, line=2),
        LevelRow("P", foresight=1.0, backsight=1.0, line=3),
        LevelRow("N", foresight=1.002, known=10.0, backsight=1.0, line=4),
        LevelRow("P", foresight=1.0, line=5),
    ]
    assert reduce_levels(LevelNotes(tuple(rows))).shared == "network"
    book = reduce_levels(LevelNotes(tuple(rows)), work="third order")
    assert book.shared == "no"
    assert "misclosure-without-rule" in codes(book.findings)


ONE_COLUMN = (
    LevelRow("BM", backsight=1.5, known=10.0, distance=40.0, line=2),
    LevelRow("TP", backsight=1.4, foresight=1.2, distance=40.0, line=3),
    LevelRow("BM", foresight=1.7, distance=40.0, line=4),
)


def test_one_column_of_sights_counts_for_both_sides_of_a_turning_point():
    book = reduce_levels(LevelNotes(ONE_COLUMN), work="construction", share="distance")
    assert book.closures[0].distance == 160.0
    missed = dataclasses.replace(ONE_COLUMN[2], foresight=1.704)
    book = reduce_levels(LevelNotes((*ONE_COLUMN[:2], missed)), share="distance")
    assert book.shared == "distance"
    assert book.lines[1].elevation - book.lines[1].raw == pytest.approx(0.002)  # midway


def test_one_column_without_a_sight_to_the_mark_holds_legs():
    """Legs of 30 and 90 m: the first takes a quarter of the 4 mm."""
    legs = (
        dataclasses.replace(ONE_COLUMN[0], distance=None),
        dataclasses.replace(ONE_COLUMN[1], distance=30.0),
        dataclasses.replace(ONE_COLUMN[2], foresight=1.704, distance=90.0),
    )
    book = reduce_levels(LevelNotes(legs), share="distance")
    assert book.closures[0].distance == 120.0
    assert book.lines[1].elevation - book.lines[1].raw == pytest.approx(0.001)


def test_a_sight_that_was_not_measured_is_not_half_a_leg():
    """A second column that says nothing of the turning point: its backsight is as long as nobody knows."""
    rows = [*ONE_COLUMN[:2], dataclasses.replace(ONE_COLUMN[2], foresight=1.704)]
    rows.insert(2, LevelRow("T2", backsight=1.0, foresight=1.0, distance=40.0, back_distance=40.0, line=5))
    book = reduce_levels(LevelNotes(tuple(rows)), share="distance")
    assert (book.shared, book.closures[0].distance) == ("setups", None)
    assert "legs-not-measured" in codes(book.findings)


def test_the_faults_of_a_book_are_told_together():
    rows = (
        LevelRow("A", intermediate=1.0, line=2),
        LevelRow("BM", backsight=1.5, known=10.0, line=3),
        LevelRow("B", line=4),
        LevelRow("BM", foresight=1.5, known=11.0, line=5),
    )
    with pytest.raises(InputError) as caught:
        reduce_levels(LevelNotes(rows))
    assert [(f.code, f.line) for f in caught.value.faults] == [
        ("levels-no-backsight", 2),
        ("levels-no-reading", 4),
        ("levels-mark-twice", 5),
    ]
    # a reading lost in a bad row is told once, there
    with pytest.raises(InputError) as caught:
        reduce_levels(LevelNotes((rows[1], rows[2])))
    assert [(f.code, f.line) for f in caught.value.faults] == [("levels-no-reading", 4)]


def test_notes_of_one_column_are_told_of_readings_only():
    """A closing reading of 1.250 for 1.520, one of 2.500 for 1.500, and a mark that two contradict."""

    def read(text):
        return reduce_levels(read_levels(text.encode(), "one.csv", unit="m"))

    book = read("station,reading,known\nBM,1.520,10\nA,1.3,\nBM,1.250,\n")
    (told,) = (f for f in book.findings if f.code == "misclosure-too-large")
    assert "in the reading on line 4" in told.advice
    book = read("station,reading,known\nBM,1.5,10\nN,1.3,10.2\nM,1.2,10.4\nBM,1.5,\n")
    (told,) = (f for f in book.findings if f.code == "routes-disagree")
    for one in (book, read("station,reading,known\nBM,1.5,10\nA,1.3,\nBM,2.5,\n")):
        words = " ".join(f.advice for f in one.findings)
        assert not {"BS", "IS", "FS", "backsight", "foresight", "turning"} & set(re.findall(r"\w+", words))
    with pytest.raises(InputError) as caught:
        read("station,reading\nBM,\nA,\n")
    assert "BS" not in str(caught.value)
