"""The reduced field book in words: widths, digits, signs, closures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.report.survey import field_book_text, table_lines
from gradework.survey.levelling.reduce import reduce_levels
from gradework.units.form import Form, saying

FOOT = 0.3048


def book(rows: Sequence[tuple[Any, ...]], *, unit: Any = "m", scale: float = 1.0, **more: Any) -> Any:
    """Rows as (station, BS, IS, FS[, known]) in the unit of ``scale`` metres."""
    made = [
        LevelRow(
            r[0],
            *(None if v is None else v * scale for v in r[1:4]),
            known=r[4] * scale if len(r) > 4 else None,
            line=number,
        )
        for number, r in enumerate(rows, start=2)
    ]
    return reduce_levels(LevelNotes(tuple(made), "book.csv", unit), **more)


LOOP = [("BM", 1.5, None, None, 50.0), ("A", None, 1.2, None), ("BM", None, None, 1.502)]


def test_each_figure_stands_under_its_heading() -> None:
    text = field_book_text(book(LOOP))
    heading, bench, station, closing, sums = text.split("\n\n")[1].splitlines()
    end = heading.index("BS") + 2
    assert bench[end - 5 : end] == sums[end - 5 : end] == "1.500"
    end = heading.index("FS") + 2
    assert closing[end - 5 : end] == sums[end - 5 : end] == "1.502"
    end = heading.index("Rise") + 4
    assert station[end - 6 : end] == "+0.300"
    assert closing[end - 6 : end] == "-0.302"
    end = heading.index("Elevation") + 9
    assert station[end - 6 : end] == "50.300"


def test_words_about_the_start_and_the_closure() -> None:
    text = field_book_text(book(LOOP))
    assert text.startswith("Field book book.csv, in metres: 1 set-up, from BM, given as 50.000 m.")
    assert "misclosure -0.002 m; allowed 0.006 m (yard work): good" in " ".join(text.split())
    assert "shared out equally" in text
    assumed = field_book_text(book([("BM", 1.5, None, None), ("A", None, 1.2, None)]))
    assert "assumed at 30.000 m" in assumed
    assert "No closing mark" in assumed


def test_a_miss_that_is_too_large_is_not_shared_and_said_so() -> None:
    text = field_book_text(book([LOOP[0], LOOP[1], ("BM", None, None, 1.55)]))
    assert "too much" in text
    assert "not shared out" in text


def test_work_without_a_rule_says_so() -> None:
    text = field_book_text(book(LOOP, work="third order"))
    assert "third order work has no rule for what was measured" in " ".join(text.split())


def test_two_runs_have_a_check_each() -> None:
    rows = [*LOOP, ("A", 1.0, None, None), ("B", None, None, 1.25)]
    text = field_book_text(book(rows))
    assert text.count("sum BS - sum FS") == 2
    assert "Page check, lines 2 to 4" in text
    assert "Page check, lines 5 to 6" in text


@pytest.mark.parametrize(
    ("form", "backsight", "elevation", "error"),
    [
        ("inches", "4' 7 1/2\"", "102' 7 1/2\"", "0.17"),
        ("tenths", "4.62", "102.62", "0.014"),
        ("m", "1.409", "31.280", "4.2"),
        ("mm", "1.409", "31.280", "4.2"),
    ],
)
def test_readings_and_elevations_are_said_in_one_form(
    form: Form, backsight: str, elevation: str, error: str
) -> None:
    rows = [("BM", 4.6242, None, None, 100.0), ("A", None, 2.0, None)]
    with saying(form):
        made = book(rows, unit="ft", scale=FOOT)
    marks, station = (line for line in field_book_text(made).splitlines() if line.startswith(("BM ", "A ")))
    assert backsight in marks
    assert elevation in station
    assert station.endswith(f" {error}")


def test_what_was_adjusted_is_no_finer_than_its_error_earns() -> None:
    rows = [("BM", 4.62, None, None, 100.0), ("A", None, 2.057, None)]
    made = book(rows, unit="ft", scale=FOOT)
    coarse = replace(made, lines=tuple(replace(line, sd=0.2 * FOOT) for line in made.lines))
    assert [text.split()[-2] for text in field_book_text(coarse).splitlines() if text.startswith("A ")] == [
        "102.6"
    ]


def test_long_names_and_large_figures_still_fit_eighty_columns() -> None:
    rows = [
        ("the old oak by the gate", 10 + 5.125 / 12, None, None, 12345.678),
        ("a station with a name", None, 11 + 3.375 / 12, None),
        ("the old oak by the gate", None, None, 10 + 5.25 / 12),
    ]
    text = field_book_text(book(rows, unit="ft", scale=FOOT))
    assert max(map(len, text.splitlines())) <= 80
    assert "the old..." in text


def test_names_of_the_user_cannot_move_the_cursor() -> None:
    text = field_book_text(book([("B\x1b[2JM", 1.5, None, None), ("A", None, 1.2, None)]))
    assert "\x1b" not in text


def test_tables_give_names_the_left_and_figures_the_right() -> None:
    assert table_lines([["Station", "x"], ["A", "1.25"]]) == ["Station     x", "A        1.25"]
