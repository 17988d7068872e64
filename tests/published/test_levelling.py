"""Level books and closures that were published with their answers."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest

from gradework.fieldnotes.levels import LevelNotes, LevelRow, read_levels
from gradework.survey.levelling.reduce import reduce_levels
from gradework.survey.levelling.tolerances import KINDS_OF_WORK, Allowance

FOOT = 0.3048
PRINTED_FT = 0.005 * FOOT  # the books print hundredths of a foot
PRINTED_M = 0.0005  # and millimetres


def feet(rows, known) -> LevelNotes:
    made = [
        LevelRow(
            name,
            backsight=None if bs is None else bs * FOOT,
            foresight=None if fs is None else fs * FOOT,
            known=known * FOOT if index == 0 else None,
            line=index + 2,
        )
        for index, (name, bs, fs) in enumerate(rows)
    ]
    return LevelNotes(tuple(made), unit="ft")


# J. Mahun, Open Access Surveying Library, Elevations, chapter C, section 3, Fig. C-16. Page 2 starts at R.
TWO_PAGES = [
    ("BM Red", 9.73, None), ("L", 10.39, 2.88), ("TP1", 6.02, 8.26), ("M", 11.35, 1.63), ("Q", 3.23, 1.88),
    ("R", None, 5.66),
    ("R", 1.09, None), ("T", 5.96, 7.69), ("TP2", 3.87, 9.03), ("V", 1.03, 10.81), ("BM Red", None, 4.78),
]  # fmt: skip


def test_lev_1_two_page_loop():
    book = reduce_levels(feet(TWO_PAGES, 893.56))
    raw = [line.raw / FOOT for line in book.lines]
    published = [893.56, 900.41, 902.54, 906.93, 916.40, 913.97, 913.97, 907.37, 904.30, 897.36, 893.61]
    assert raw == pytest.approx(published, abs=0.005)
    instrument = [x.height_of_instrument / FOOT for x in book.lines if x.height_of_instrument is not None]
    assert instrument == pytest.approx(
        [903.29, 910.80, 908.56, 918.28, 919.63, 915.06, 913.33, 908.17, 898.39], abs=0.005
    )
    assert book.setups == 9
    assert book.misclosure == pytest.approx(
        0.05 * FOOT, abs=PRINTED_FT
    )  # the author's sign is known minus measured
    # Sums of page 1 (40.72, 20.31) and page 2 (11.95, 32.31).
    assert book.sum_backsights / FOOT == pytest.approx(40.72 + 11.95, abs=1e-9)
    assert book.sum_foresights / FOOT == pytest.approx(20.31 + 32.31, abs=1e-9)
    # Rise and fall, and the equal shares, recomputed; not published.
    (page,) = book.pages
    assert (page.rises / FOOT, page.falls / FOOT) == pytest.approx((22.84, 22.79), abs=1e-9)
    adjusted = [
        893.56,
        900.4044,
        902.5289,
        906.9133,
        916.3778,
        913.9422,
        913.9422,
        907.3367,
        904.2611,
        897.3156,
        893.56,
    ]
    assert [x.elevation / FOOT for x in book.lines] == pytest.approx(adjusted, abs=1e-4)


def test_lev_1_each_page_by_itself():
    first = reduce_levels(feet(TWO_PAGES[:6], 893.56)).pages[0]
    assert (first.backsights / FOOT, first.foresights / FOOT) == pytest.approx((40.72, 20.31), abs=1e-9)
    assert first.last / FOOT == pytest.approx(913.97, abs=0.005)
    second = reduce_levels(feet(TWO_PAGES[6:], 913.97)).pages[0]
    assert (second.backsights / FOOT, second.foresights / FOOT) == pytest.approx((11.95, 32.31), abs=1e-9)


def test_lev_2_four_point_line():
    # Civil Engineering Survey Review, 3rd ed., ch. 8, Table 8-1.
    rows = [("BM1", 7.25, None), ("TP1", 9.66, 1.07), ("TP2", 8.09, 0.48), ("BM2", None, 10.70)]
    book = reduce_levels(feet(rows, 107.34))
    assert [x.raw / FOOT for x in book.lines] == pytest.approx([107.34, 113.52, 122.70, 120.09], abs=0.005)
    assert [x.height_of_instrument / FOOT for x in book.lines[:3]] == pytest.approx(
        [114.59, 123.18, 130.79], abs=0.005
    )
    (page,) = book.pages  # sums recomputed, not published
    sums = (page.backsights, page.foresights, page.rises, page.falls)
    assert [s / FOOT for s in sums] == pytest.approx([25.00, 12.25, 15.36, 2.61], abs=1e-9)


# Exercise republished at askfilo.com (3430353738373636); the page prints 1.497 for the foresight on C, but
# all its other figures are those of 1.496.
RISE_AND_FALL = [
    ("BM", 2.191, None, None, 49.872), ("A", None, 2.507, None, 49.556), ("B", None, 2.325, None, 49.738),
    ("C", 3.019, None, 1.496, 50.567), ("D", None, 2.513, None, 51.073), ("E", 1.752, None, 2.811, 50.775),
    ("TBM", None, None, 3.817, 48.710),
]  # fmt: skip


def rise_and_fall(foresight_on_c: float) -> LevelNotes:
    known = {"BM": 49.872, "TBM": 48.719}
    rows = [
        LevelRow(n, bs, mid, foresight_on_c if n == "C" else fs, known=known.get(n), booked=level, line=line)
        for line, (n, bs, mid, fs, level) in enumerate(RISE_AND_FALL, start=2)
    ]
    return LevelNotes(tuple(rows))


def test_lev_4_rise_and_fall():
    book = reduce_levels(rise_and_fall(1.496))
    assert [x.rise for x in book.lines[1:]] == pytest.approx(
        [-0.316, 0.182, 0.829, 0.506, -0.298, -2.065], abs=PRINTED_M
    )
    assert [x.raw for x in book.lines] == pytest.approx([row[4] for row in RISE_AND_FALL], abs=PRINTED_M)
    (page,) = book.pages
    sums = (page.backsights, page.foresights, page.rises, page.falls)
    assert sums == pytest.approx((6.962, 8.124, 1.517, 2.679), abs=1e-9)
    assert page.backsights - page.foresights == pytest.approx(-1.162)
    assert page.rises - page.falls == pytest.approx(-1.162)
    assert book.misclosure == pytest.approx(-0.009, abs=PRINTED_M)
    # The equal shares over three set-ups are recomputed, not published.
    assert [x.elevation for x in book.lines[1:]] == pytest.approx(
        [49.559, 49.741, 50.570, 51.079, 50.781, 48.719], abs=PRINTED_M
    )
    assert [f.code for f in book.findings] == ["misclosure"]


def test_lev_4_the_page_check_catches_the_misprinted_millimetre():
    book = reduce_levels(rise_and_fall(1.497))
    found = {f.code: f for f in book.findings}
    assert found["page-check-fails"].value == pytest.approx(-0.001)
    assert found["booked-elevation-differs"].where == "C, line 5"
    assert found["misclosure"].value == pytest.approx(-0.010)


def test_lev_7_misclosure_by_distance():
    # La Putt, Elementary Surveying: inputs seen, adjusted elevations from memory. The circuit is made fifty
    # times smaller in its miss and its readings, so that it may be shared.
    km = [5.245, 11.271, 17.718, 21.964, 25.247, 30.500]
    observed = [728.730, 783.213, 891.764, 843.195, 739.708, 702.956, 728.486]
    scale = 0.02
    rows = [LevelRow("BM1", backsight=0.0, known=100.0, line=2)]
    for number, (a, b) in enumerate(itertools.pairwise(observed)):
        leg = (km[number] - ([0.0, *km][number])) * 1000
        name = "BM1" if number == 5 else f"BM{number + 2}"
        rows.append(LevelRow(name, foresight=(a - b) * scale, backsight=0.0, distance=leg, line=number + 3))
    rows[-1] = dataclasses.replace(rows[-1], backsight=None)
    book = reduce_levels(LevelNotes(tuple(rows)), share="distance")
    assert book.shared == "distance"
    assert [(x.elevation - x.raw) / scale for x in book.lines] == pytest.approx(
        [0, 0.042, 0.090, 0.142, 0.176, 0.202, 0.244], abs=0.0006
    )


def test_tol_1_coefficients_by_distance():
    # FGCC 1984 sec. 3.5, coefficients from memory: mm per root kilometre, of a section and of a loop.
    orders = {
        "first order I": (3, 4),
        "first order II": (4, 5),
        "second order I": (6, 6),
        "second order II": (8, 8),
        "third order": (12, 12),
    }
    for km in (1.0, 4.0, 6.25):
        for kind, (section, loop) in orders.items():
            rule = KINDS_OF_WORK[kind]
            root = km**0.5 / 1000
            assert rule.limit(setups=1, distance=km * 1000) == pytest.approx(section * root)
            assert rule.limit(setups=1, distance=km * 1000, loop=True) == pytest.approx(loop * root)
            assert rule.limit(setups=9) is None


def test_tol_1_a_book_that_comes_back_to_its_mark_is_a_loop():
    # one set-up of 40 m out and 40 m back over BM; to another mark the same length is a section
    text = "station,BS,FS,known,distance\nBM,1.5,,10,20\nTP,1.4,1.2,,20\n{},,1.7,10,20\n"
    for last, coefficient in (("BM", 4), ("BM2", 3)):
        notes = read_levels(text.format(last).encode(), "l.csv", unit="m")
        (closure,) = reduce_levels(notes, work="first order I").closures
        assert closure.distance is not None
        assert closure.allowable == pytest.approx(coefficient / 1000 * (closure.distance / 1000) ** 0.5)


def test_tol_2_third_order_in_feet_and_miles():
    # NAVEDTRA 14070/14071 ch. 7: coefficients from memory, the circuit seen in fragments.
    circuit, computed, known = 2140 * FOOT, 136.457 * FOOT, 136.442 * FOOT
    limits = {}
    for order, coefficient in (("second", 0.035), ("third", 0.05)):
        rule = Allowance(order, None, coefficient * FOOT / math.sqrt(1.609344))
        limits[order] = rule.limit(setups=1, distance=circuit)
    assert limits["third"] / FOOT == pytest.approx(0.0318, abs=5e-5)
    assert limits["second"] / FOOT == pytest.approx(0.0223, abs=5e-5)
    assert computed - known == pytest.approx(0.015 * FOOT)
    assert abs(computed - known) < limits["third"]


def test_tol_3_error_of_a_series():
    # Mahun, Elevations ch. E: E·√n.
    assert Allowance("E", 0.002, None).limit(setups=9) == pytest.approx(0.006)
    assert KINDS_OF_WORK["yard"].limit(setups=9) == pytest.approx(0.06 * FOOT)


def test_stk_1_a_one_set_up():
    # NAVEDTRA 14081 p. 15-29: BM 100.0, BS 5.5, HI 105.5, FS 2.3, elevation 103.2.
    book = reduce_levels(feet([("BM", 5.5, None), ("stake", None, 2.3)], 100.0))
    assert book.lines[0].height_of_instrument / FOOT == pytest.approx(105.5)
    assert book.lines[1].elevation / FOOT == pytest.approx(103.2)
