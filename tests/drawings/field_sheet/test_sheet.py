"""The field sheet: every station to tick and to write at, room for a pencil, the check, the safety line."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from gradework.drawings.field_sheet.content import entries, job_lines, reading_table
from gradework.drawings.field_sheet.sheet import ROW_MM, SAFETY, draw_field_sheet, share_out
from gradework.drawings.field_sheet.sketch import LEAST_PITCH_MM, panels
from gradework.drawings.lettering import Letters, Line
from gradework.drawings.page import LEAST_RULE_MM, Page, draw_blank_line
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.spots import read_spots
from gradework.project.field_sheet import FieldSheet, sheet_for_grid
from gradework.project.stations.forms import ReadingsForm
from gradework.project.stations.reduce import reduce_readings
from gradework.survey.levelling.given import String
from gradework.survey.levelling.ways import WAYS
from gradework.units.display import FEET, METRIC, Display

FOOT = 0.3048
LEAST_ROW_MM = 7.0
WIDE, HIGH = 190.0, 259.0


def sheet(
    method: Any = "level", rows: int = 6, columns: int = 8, show: Display = FEET, **more: Any
) -> FieldSheet:
    step = 4 * FOOT if show.us else 1.25
    grid = LetteredGrid((step, step), more.pop("origin", (0.0, 0.0)), more.pop("turn", 0.0))
    return sheet_for_grid(grid, rows=rows, columns=columns, method=method, show=show, **more)


def lines_of(figure: Any) -> list[Line]:
    return [
        line
        for artist in figure.axes[0].get_children()
        if isinstance(artist, Letters)
        for line in artist.lines
    ]


def words(figure: Any, *roles: str) -> list[str]:
    return [line.text for line in lines_of(figure) if not roles or line.role in roles]


def strokes(figure: Any, gid: str) -> list[np.ndarray]:
    found = [a for a in figure.axes[0].collections if a.get_gid() == gid]
    return [np.asarray(s) for a in found for s in a.get_segments()]


SHEETS = [
    *(sheet(method, show=show) for method in WAYS for show in (FEET, METRIC)),
    sheet("level", rows=2, columns=2),
    sheet("level", rows=17, columns=16),
    sheet("spots", rows=28, columns=6, show=METRIC, origin=(-1234.5, 987.25), turn=30.0),
    sheet("level", rows=5, columns=7, ties=("barn A", "barn B", "the oak by the lower gate", "D")),
    sheet("laser", title="A garden studio with a name that is far too long to stand on one line of a sheet"),
]


@lru_cache
def pages(number: int) -> list[Any]:
    """The pages of one of the sheets; drawn once, they are only looked at."""
    return draw_field_sheet(SHEETS[number])


IDS = [f"{s.method}-{s.show.unit}-{s.columns}x{s.rows}" for s in SHEETS]


@pytest.mark.parametrize("number", range(len(SHEETS)), ids=IDS)
def test_each_station_stands_once_on_a_sketch_and_once_in_the_table(number: int) -> None:
    asked, figures = SHEETS[number], pages(number)
    wanted = Counter(name for row in asked.names for name in row)
    drawn: Counter[str] = Counter()
    written: Counter[str] = Counter()
    for figure in figures:
        stations = [t for t in words(figure, "station") if t not in ("", "BM")]
        (drawn if figure.axes[0].findobj(lambda a: a.get_gid() == "border") else written).update(stations)
    assert drawn == wanted
    assert written == (wanted + wanted if asked.ties else wanted)  # once more in the table of ties


@pytest.mark.parametrize("number", range(len(SHEETS)), ids=IDS)
def test_no_words_leave_the_page_or_run_into_each_other(number: int) -> None:
    for figure in pages(number):
        wide, high = figure.get_size_inches() * 25.4
        assert (wide, high) == pytest.approx((WIDE, HIGH))
        boxes = [(line.box, line.text) for line in lines_of(figure) if line.text]
        for (left, bottom, right, top), text in boxes:
            assert min(left, bottom) >= 0, text
            assert right <= WIDE, text
            assert top <= HIGH, text
        boxes.sort()
        for place, (one, text) in enumerate(boxes):
            for other, second in boxes[place + 1 :]:
                if other[0] >= one[2]:
                    break
                apart = other[3] <= one[1] or other[1] >= one[3]
                assert apart, (text, second)


@pytest.mark.parametrize("number", range(len(SHEETS)), ids=IDS)
def test_every_page_carries_the_safety_line_and_every_table_its_check(number: int) -> None:
    figures = pages(number)
    for place, figure in enumerate(figures):
        assert " ".join(words(figure, "safety")) == SAFETY
        assert f"page {place + 1} of {len(figures)}" in words(figure)
        if "Date" not in words(figure):
            assert "Check it before you leave" in words(figure)


@pytest.mark.parametrize("number", range(len(SHEETS)), ids=IDS)
def test_rows_are_high_enough_to_write_in(number: int) -> None:
    assert ROW_MM >= LEAST_ROW_MM
    for figure in pages(number):
        heights = sorted({round(float(s[0, 1]), 6) for s in strokes(figure, "rows")})
        gaps = [b - a for a, b in pairwise(heights)]
        assert all(gap >= LEAST_ROW_MM - 1e-6 for gap in gaps)
        for rule in strokes(figure, "rule to write on"):
            assert rule[1, 0] - rule[0, 0] >= LEAST_RULE_MM - 1e-6
            assert rule[1, 0] <= WIDE


def test_the_first_page_asks_for_what_is_forgotten_at_home() -> None:
    (first, *_) = draw_field_sheet(sheet())
    text = " ".join(words(first))
    for asked in (
        "Date",
        "Weather",
        "Instrument",
        "Benchmark (BM)",
        "100.00 ft if it has none",
        "x runs toward",
    ):
        assert asked in text
    assert {"x", "y"} <= set(words(first, "arrow"))
    assert "N" not in words(first, "arrow")


def test_directions_turn_with_the_grid() -> None:
    """The sketch stands on the grid's own frame, so in one turned by 30 degrees x points down."""
    (first, *_) = draw_field_sheet(sheet(turn=30.0))
    (along,) = strokes(first, "arrow x")
    (up,) = strokes(first, "arrow y")
    assert np.degrees(np.arctan2(*(along[1] - along[0])[::-1])) == pytest.approx(-30)
    assert np.degrees(np.arctan2(*(up[1] - up[0])[::-1])) == pytest.approx(60)
    assert any("30° anticlockwise" in text for text in words(first))


def test_level_table_opens_and_closes_on_the_benchmark_and_leaves_room_to_turn() -> None:
    rows = list(entries(sheet("level", rows=3, columns=4)))
    kinds = [row.kind for row in rows]
    assert kinds[0] == kinds[-1] == "mark"
    assert kinds.count("turn") == 2
    assert kinds.count("station") == 12
    headings = [column.heading for column in reading_table("level", FEET).columns]
    assert headings == ["Station", "BS +", "IS -", "FS -", "HI", "Elevation", "Note"]
    assert [headings[i] for i in rows[0].shut] == ["IS -", "FS -"]
    assert [headings[i] for i in rows[-1].shut] == ["BS +", "IS -", "HI"]


def test_steps_go_from_point_to_point() -> None:
    names = [r.cells[0] for r in entries(sheet("steps", rows=3, columns=3))]
    assert names == ["BM", "A1", "A2", "A3", "B3", "B2", "B1", "C1", "C2", "C3", "BM"]


def test_no_wall_runs_through_a_name() -> None:
    step = 4 * FOOT
    for turn in (0.0, 20.0):
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        ring = np.array([[1.0, 1.1], [4.2, 1.1], [4.2, 3.2], [1.0, 3.2]]) @ np.array([[c, s], [-s, c]]) * step
        asked = replace(sheet(), building=(ring,))
        (first, *_) = draw_field_sheet(asked)
        (wall,) = strokes(first, "building")
        names = [line for line in lines_of(first) if line.role == "station"]
        assert len(names) == 48
        for line in names:
            left, bottom, right, top = line.box
            t = np.linspace(0, 1, 400)[:, None]
            points = np.vstack([a + t * (b - a) for a, b in pairwise(wall)])
            inside = (points > (left, bottom)).all(axis=1) & (points < (right, top)).all(axis=1)
            assert not inside.any(), line.text


def test_spots_know_where_they_stand() -> None:
    rows = {r.cells[0]: r.cells for r in entries(sheet("spots", show=METRIC, origin=(10.0, 20.0)))}
    assert rows["A1"][1:3] == ("10", "20")
    assert rows["B3"][1:3] == ("12.5", "21.25")


def test_bands_never_end_a_block_and_nothing_is_lost() -> None:
    asked = sheet("string", rows=7, columns=3)
    given = list(entries(asked))
    for rows in range(3, 12):
        parts = share_out(given, lambda *_, rows=rows: rows, 1)
        blocks = [block for part in parts for block in part.blocks]
        assert all(len(block) == rows and block[-1].kind != "band" for block in blocks)
        assert [r for block in blocks for r in block if r.kind != "spare"] == given


def test_pages_before_are_asked_for_only_where_there_are_some() -> None:
    single = draw_field_sheet(sheet("level", rows=2, columns=3))
    assert len(single) == 2
    assert not any("pages before" in text for text in words(single[1]))
    several = draw_field_sheet(sheet("level", rows=6, columns=8))
    assert any("pages before" in text for text in words(several[1]))
    assert "HI from the page before" in words(several[2])


@pytest.mark.parametrize(("rows", "columns"), [(2, 2), (6, 8), (28, 35), (3, 300), (300, 3)])
def test_sketches_leave_each_station_room_for_its_name(rows: int, columns: int) -> None:
    asked = sheet(rows=rows, columns=columns)
    seen = set()
    for panel in panels(asked, (187.0, 150.0)):
        assert panel.scale is not None
        assert panel.scale.mm_per_m * 4 * FOOT >= LEAST_PITCH_MM
        seen |= {(r, c) for r in range(*panel.rows) for c in range(*panel.columns)}
    assert len(seen) == rows * columns


def test_long_thin_squares_are_drawn_even_and_said_to_be() -> None:
    asked = sheet_for_grid(LetteredGrid((1.0, 20.0)), rows=8, columns=8, method="laser", show=METRIC)
    (first, *_) = draw_field_sheet(asked)
    assert "sketch, not to scale" in words(first)


def test_the_job_line_reads_back_as_the_grid() -> None:
    import tomllib

    asked = sheet_for_grid(
        LetteredGrid((4 * FOOT, 5 * FOOT), (-2 * FOOT, 3.5 * FOOT), 12.5),
        rows=2,
        columns=2,
        method="level",
        show=FEET,
    )
    assert tomllib.loads(job_lines(asked)) == {"grid": {"spacing": [4, 5], "origin": [-2, 3.5], "turn": 12.5}}


@pytest.mark.parametrize("method", WAYS)
def test_the_columns_to_type_in_are_those_that_are_read(method: Any) -> None:
    header = reading_table(method, FEET).csv.partition(" (")[0]
    names = header.split(",")
    assert len(names) <= len(reading_table(method, FEET).columns)
    # the benchmark first, then a station: one figure where the sheet has one
    value = {"BS": "4", "reading": "4", "known": "100", "note": "", "along": "1", "string": "A"}
    first = ",".join({"station": "BM", "FS": "", "IS": "", **value}.get(n, "3") for n in names)
    empty = dict.fromkeys(("BS", "known", "FS", "note"), "")
    second = ",".join({"station": "A1", "string": "A", **empty}.get(n, "3") for n in names)
    data = f"{header}\n{first}\n{second}\n".encode()
    if method == "spots":
        assert len(read_spots(data, "n.csv", unit="ft")) == 2
        return
    strings = {"A": String(30.0, 30.0, 5.0, 0.0)} if method == "string" else {}
    reduced = reduce_readings(data, "n.csv", ReadingsForm(strings=strings), unit="ft")
    assert reduced.method == ("level" if method == "laser" else method)
    assert "A1" in reduced.heights.names


def test_black_and_white_only() -> None:
    for figure in draw_field_sheet(sheet("level")):
        for artist in figure.axes[0].get_children():
            if isinstance(artist, Letters):
                red, green, blue, _ = artist.get_facecolor()
                assert red == green == blue


def test_rules_share_what_the_words_leave() -> None:
    page = Page()
    draw_blank_line(page, (10.0, 100.0), ("Date _", "Weather _"), width=120.0)
    first, second = strokes(page.finish(), "rule to write on")
    assert first[1, 0] - first[0, 0] == pytest.approx(second[1, 0] - second[0, 0])
    assert second[1, 0] == pytest.approx(130.0)


def test_words_give_way_before_the_rules_do() -> None:
    page = Page()
    draw_blank_line(
        page, (10.0, 100.0), ("A very long request for a figure _", "and another one _"), width=60.0
    )
    rules = strokes(page.finish(), "rule to write on")
    assert [r[1, 0] - r[0, 0] for r in rules] == pytest.approx([LEAST_RULE_MM] * 2)
    assert rules[1][1, 0] <= 70.0 + 1e-6
