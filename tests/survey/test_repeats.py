"""Points read more than once: the error of a reading, the misread look, the instrument that moved."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.levelling.heights import book_heights
from gradework.survey.levelling.readings import Reading, Written, book_readings, read_once
from gradework.survey.levelling.reduce import reduce_levels
from gradework.survey.repeat_findings import find_doubts, repeat_findings
from gradework.survey.repeats import APART, ENOUGH, RepeatReadings, _Fit

FOOT = 0.3048
NAMES = [f"P{k}" for k in range(12)]


def book(*setups, known=30.0):
    """A level book: each set-up begins on BM, then pairs of name and reading [m]; lines count from 2."""
    rows: list[LevelRow] = []
    for back, *shots in setups:
        rows.append(LevelRow("BM", backsight=back, known=known, line=len(rows) + 2))
        rows += [LevelRow(name, intermediate=r, line=len(rows) + 2 + k) for k, (name, r) in enumerate(shots)]
    return LevelNotes(tuple(rows), unit="ft")


def readings_of(notes):
    return book_heights(reduce_levels(notes)).readings


def told(notes):
    return [f for f in repeat_findings(readings_of(notes), notes.unit, 0.003)[0] if f.code != "reading-error"]


def feet(*pairs):
    return [(name, value * FOOT) for name, value in pairs]


def rounds(spoil=(), order=NAMES, lift=0.31, noise=0.0, seed=0):
    """Two rounds over twelve points in hundredths of a foot; ``spoil``: (round, name, reading in feet)."""
    rng = np.random.default_rng(seed)
    true = {name: 4.02 + 0.17 * k for k, name in enumerate(NAMES)}
    setups = []
    for number, shift in enumerate((0.0, lift)):
        read = {n: round(v + shift + rng.normal(0, noise), 2) for n, v in true.items()}
        read |= {name: value for which, name, value in spoil if which == number}
        shots = [(n, read[n]) for n in order]
        setups.append([(3.5 + shift) * FOOT, *feet(*shots, ("BM", round(3.5 + shift, 2)))])
    return book(*setups)


def test_the_spread_of_repeat_readings_is_the_error_of_a_reading():
    rng = np.random.default_rng(8)
    shots = [(f"P{k}", float(1 + rng.normal(0, 0.001))) for k in range(400) for _ in range(2)]
    second = RepeatReadings(readings_of(book([1.5, *shots])), "ft", 0.003)
    assert second.to_spare == 400
    assert second.spread == pytest.approx(0.001, rel=4 / np.sqrt(2 * 400))


def test_the_error_of_a_reading_is_told_and_a_bad_one_is_a_warning():
    rng = np.random.default_rng(3)
    for sd, severity in ((0.002, "note"), (0.009, "warning")):
        shots = [(f"P{k}", float(1 + 0.1 * k + rng.normal(0, sd))) for k in range(20) for _ in range(2)]
        found, _ = repeat_findings(readings_of(book([1.5, *shots])), "ft", 0.003)
        (error,) = [f for f in found if f.code == "reading-error"]
        assert error.severity == severity
        assert error.value == pytest.approx(sd, rel=0.5)


def test_leaving_a_look_out_is_what_the_shift_says():
    """The second way: take the look out, fit stations and standings to the rest by plain least squares."""
    rng = np.random.default_rng(5)
    readings = [
        Reading(f"P{k}", s, float(rng.normal(0, 0.001) + 0.2 * k + 0.03 * s), Written(1.0, -1))
        for s in range(3)
        for k in range(9)
        if (s, k) != (2, 4)
    ]
    second = RepeatReadings(readings, "m", 0.003)
    assert second.found == ()
    for i in (0, 7, 25):
        rest = [reading for j, reading in enumerate(readings) if j != i]
        a = np.zeros((len(rest), 12))
        for row, reading in enumerate(rest):
            a[row, int(reading.station[1:])] = a[row, 9 + reading.setup] = 1.0
        x, *_ = np.linalg.lstsq(a, np.array([reading.level for reading in rest]), rcond=None)
        predicted = x[int(readings[i].station[1:])] + x[9 + readings[i].setup]
        assert second.off(i)[0] == pytest.approx(readings[i].level - predicted, abs=1e-12)


@pytest.mark.parametrize(
    ("which", "name", "wrong", "kind", "right"),
    [
        (0, "P2", 4.33, "black bars counted as hundredths", "4.36 ft"),
        (1, "P2", 5.67, "a whole foot", "4.67 ft"),
        (0, "P9", 5.458, "tenths taken for inches", "5.55 ft"),
        (0, "P4", 4.07, "swapped digits", "4.70 ft"),
    ],
)
def test_a_slip_is_named_with_line_and_likely_reading(which, name, wrong, kind, right):
    notes = rounds([(which, name, wrong)])
    finding, *more = told(notes)
    assert not more
    assert finding.code == "reading-misread"
    line = int(name[1:]) + (17 if which else 3)
    if kind == "a whole foot":  # either of the two may be it
        assert f"{kind} on line {line}: " in finding.advice
        assert right in finding.advice
    elif kind == "tenths taken for inches":
        assert f"Likely {kind} on line {line}: 5.46 ft written for {right}" in finding.advice
    else:
        assert f"Likely {kind} on line {line}: {wrong:.2f} ft written for {right}" in finding.advice


def test_the_ground_tells_which_of_the_two_is_wrong():
    notes = rounds([(1, "P2", 5.67)])
    readings = readings_of(notes)
    wrong = next(i for i, reading in enumerate(readings) if reading.written.line == 19)
    right = next(i for i, reading in enumerate(readings) if reading.written.line == 5)
    for at, other in ((wrong, right), (right, wrong)):
        (doubt,), _ = find_doubts(readings, "ft", 0.003, {"P2": (readings[other].level, 0.02)})
        assert doubt.suspects[0].reading == at


def test_two_readings_in_each_others_line_are_one_doubt():
    notes = rounds([(0, "P3", 5.21), (0, "P7", 4.53)])
    (finding,) = told(notes)
    assert "P7" in finding.advice
    assert "lines 6 and 10 or lines 20 and 24" in finding.advice


def test_sound_rounds_say_nothing_but_the_error():
    for seed in range(40):
        assert told(rounds(noise=0.002, seed=seed)) == []


def test_an_odd_reading_among_three_is_known_by_itself():
    a, b, c = 1.2, 1.203, 1.45
    notes = book([1.5, ("A", a), ("B", 1.1), ("A", b), ("C", 1.0), ("A", c), ("B", 1.101), ("BM", 1.5)])
    (doubt,), _ = find_doubts(readings_of(notes), "ft", 0.003)
    (suspect,) = {s.reading for s in doubt.suspects}
    assert readings_of(notes)[suspect].written.line == 7


def test_a_reading_that_others_frame_is_not_put_down_to_the_instrument():
    notes = book(
        [
            4.1 * FOOT,
            *feet(("A", 5.12), ("C", 5.76), ("D", 6.02), ("A", 5.12), ("C", 5.73), ("D", 6.02), ("BM", 4.1)),
        ]
    )
    (finding,) = told(notes)
    assert finding.code == "reading-misread"
    assert "black bars counted as hundredths on line 7: 5.73 ft written for 5.76 ft" in finding.advice


def test_few_readings_that_differ_without_a_slip_are_told():
    (finding,) = told(book([1.5, ("A", 1.2), ("B", 1.1), ("A", 1.2 + 0.031), ("B", 1.1), ("BM", 1.5)]))
    assert (finding.code, finding.where) == ("shots-disagree", "A, lines 3 and 5")
    assert told(book([1.5, ("A", 1.2), ("A", 1.2 + APART - 1e-6), ("BM", 1.5)])) == []


def test_a_closing_shot_that_differs_names_the_lines_between():
    (finding,) = told(
        book([1.5, ("A", 1.2), ("B", 1.3), ("BM", 1.501), ("C", 1.1), ("D", 1.0), ("BM", 1.53)])
    )
    assert (finding.code, finding.where) == ("instrument-moved", "BM, lines 5 and 8")
    assert finding.value == pytest.approx(0.03)


def test_a_point_that_reads_the_same_in_between_narrows_the_lines():
    (finding,) = told(
        book([1.5, ("A", 1.2), ("B", 1.3), ("C", 1.1), ("A", 1.231), ("C", 1.1), ("BM", 1.531)])
    )
    # C read the same on lines 5 and 7: it stood still from line 5 on
    assert (finding.code, finding.where) == ("instrument-moved", "BM, lines 3 and 5")
    assert "so do the points read with it" in finding.advice


def test_a_move_is_bracketed_from_behind_too():
    # C is read after the move and again, alike, at the end.
    (finding,) = told(book([1.5, ("A", 1.2), ("C", 1.13), ("BM", 1.53), ("C", 1.131)]))
    assert (finding.code, finding.where) == ("instrument-moved", "BM, lines 2 and 4")


def test_an_instrument_that_stood_still_says_nothing():
    assert told(book([1.5, ("A", 1.2), ("BM", 1.502)])) == []


def test_a_move_among_many_is_one_move_and_no_misreading():
    notes = rounds()
    rows = list(notes.rows)
    for i in range(8, len(rows) // 2):  # from the eighth reading on the first set-up stands 0.05 ft higher
        rows[i] = LevelRow(
            rows[i].station, intermediate=rows[i].intermediate + 0.05 * FOOT, line=rows[i].line
        )
    (finding,) = told(LevelNotes(tuple(rows), unit="ft"))
    assert finding.code == "instrument-moved"
    assert finding.where.endswith("lines 9 and 10")


def test_every_reading_comes_out_of_the_book():
    notes = book([1.5, ("A", 1.2), ("A", 1.25)], [1.4, ("B", 1.0)])
    readings = readings_of(notes)
    assert [(x.station, x.setup, x.back) for x in readings] == [
        ("BM", 1, True), ("A", 1, False), ("A", 1, False), ("BM", 2, True), ("B", 2, False),
    ]  # fmt: skip
    assert [x.level for x in readings] == pytest.approx([30.0, 30.3, 30.25, 30.0, 30.4])
    assert read_once(readings) == {"B": Written(1.0, -1, 6)}
    assert book_readings(reduce_levels(notes)) == readings


@given(
    st.lists(st.integers(-40, 40), min_size=9, max_size=14),
    st.integers(-300, 300),
    st.integers(-10, 10),
    st.randoms(use_true_random=False),
)
def test_datum_standing_and_order_change_nothing(errors, datum, lift, random):
    """What is found is found again when the datum moves, a set-up stands higher, or points change place."""

    def readings(datum, lift, order):
        found = []
        for s in (0, 1):
            for k in order:
                error = errors[k] / 4000 if s else 0.0
                found.append(
                    Reading(
                        f"P{k}", s, k / 7 + error + datum + s * lift, Written(1 + k / 8, -1, 100 * s + k + 1)
                    )
                )
        return found

    straight, mixed = list(range(len(errors))), list(range(len(errors)))
    random.shuffle(mixed)
    one = RepeatReadings(readings(0.0, 0.0, straight), "m", 0.003)
    two = RepeatReadings(readings(float(datum), lift / 8, straight), "m", 0.003)
    assume(one.to_spare >= ENOUGH)  # with fewer left, set-ups are compared as they stand
    assert [c.readings for c in one.found] == [c.readings for c in two.found]
    assert one.spread == pytest.approx(two.spread, abs=1e-9)
    if all(c.between is None for c in one.found):  # a move depends on the order, a misread look does not
        three = readings(0.0, 0.0, mixed)
        other = RepeatReadings(three, "m", 0.003)
        if all(c.between is None for c in other.found):
            names = [sorted(three[i].written.line for i in c.readings) for c in other.found]
            assert names == [
                sorted(readings(0.0, 0.0, straight)[i].written.line for i in c.readings) for c in one.found
            ]


def test_the_sum_of_squares_by_exact_fractions():
    """Two looks each: the spread is the root of half the mean square difference, offsets taken out."""
    levels = {"A": (3, 5), "B": (4, 4), "C": (9, 10), "D": (1, 3), "E": (2, 2), "F": (6, 7), "G": (0, 1),
              "H": (5, 5), "I": (8, 9), "J": (7, 7)}  # fmt: skip
    readings = [Reading(n, s, v[s] / 1000, Written(1.0, -1)) for s in (0, 1) for n, v in levels.items()]
    differences = [Fraction(b - a) for a, b in levels.values()]
    mean = sum(differences) / len(differences)
    square = sum((d - mean) ** 2 for d in differences) / 2 / (len(differences) - 1)
    assert RepeatReadings(readings, "m", 0.003).spread == pytest.approx(
        float(square) ** 0.5 / 1000, abs=1e-12
    )


@pytest.mark.parametrize("free", [False, True])
def test_each_look_by_itself_is_a_column_with_one_look(free):
    """The closed form of a unit column against the projection of it, with more columns than one block."""
    rng = np.random.default_rng(7)
    n = 400
    names = [f"P{k}" for k in rng.integers(0, 150, n)]
    fit = _Fit(np.arange(n), rng.normal(30, 0.01, n), names, np.sort(rng.integers(0, 40, n)), free=free)
    shift, weight = fit.shifts(np.eye(len(fit.index)))
    assert fit.each()[0] == pytest.approx(shift, abs=1e-12, nan_ok=True)
    assert fit.each()[1] == pytest.approx(weight, abs=1e-12, nan_ok=True)
