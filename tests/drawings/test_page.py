"""The page: standard scales, millimetres, round steps."""

from __future__ import annotations

from itertools import islice, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.drawings.frame import draw_blank_lines
from gradework.drawings.page import MapWindow, Page, Scale, choose_scale, standard_scales
from gradework.units.display import FEET, METRIC, Display
from gradework.units.numbers import round_steps

LETTER_MM, A4_MM = (215.9, 279.4), (210.0, 297.0)  # ANSI A, ISO 216
SMALLEST_MARGIN_MM = 10.0


def test_the_page_fits_a4_and_letter_with_a_printers_margin() -> None:
    page = Page()
    figure, axes = page.figure, page.axes
    wide, high = figure.get_size_inches() * 25.4
    for paper in (LETTER_MM, A4_MM):
        assert paper[0] - wide >= 2 * SMALLEST_MARGIN_MM - 1e-9
        assert paper[1] - high >= 2 * SMALLEST_MARGIN_MM - 1e-9
    assert axes.get_xlim() == pytest.approx((0.0, wide))
    assert axes.get_ylim() == pytest.approx((0.0, high))


@pytest.mark.parametrize("show", [FEET, METRIC, Display("in"), Display("ftUS")])
def test_scales_grow_without_end_and_each_says_what_it_is(show: Display) -> None:
    scales = list(islice(standard_scales(show), 30))
    assert all(one.ratio < other.ratio for one, other in pairwise(scales))
    for scale in scales:
        if show.us:
            feet = float(scale.words.split("=")[1].split()[0])
            assert scale.ratio == pytest.approx(feet * 12, rel=3e-6)
        else:
            assert scale.words == f"1:{scale.ratio:.0f}"


def test_an_engineers_scale_is_ten_feet_to_the_inch() -> None:
    scale = choose_scale((60 * 0.3048, 40 * 0.3048), (180, 160), FEET)
    assert scale.words == "1 in = 10 ft"
    assert scale.mm_per_m * 0.3048 * 10 == pytest.approx(25.4)


@given(st.floats(0.5, 5000), st.floats(0.5, 5000))
@settings(deadline=None, max_examples=60)
def test_the_chosen_scale_fits_and_the_next_larger_does_not(wide: float, high: float) -> None:
    room = (178.0, 160.0)
    scales = list(islice(standard_scales(METRIC), 40))
    chosen = choose_scale((wide, high), room, METRIC)
    number = scales.index(chosen)
    assert wide * chosen.mm_per_m <= room[0]
    assert high * chosen.mm_per_m <= room[1]
    if number:
        larger = scales[number - 1]
        assert wide * larger.mm_per_m > room[0] or high * larger.mm_per_m > room[1]


def test_the_way_to_the_page_and_back() -> None:
    window = MapWindow(6, 80, 190, 240, (1.0e6, 2.0e6), Scale(100.0, "1:100"))
    places = np.array([[1.0e6, 2.0e6], [1.0e6 + 5, 2.0e6 - 3]])
    page = window.to_page(places)
    assert page == pytest.approx(np.array([[98.0, 160.0], [148.0, 130.0]]))
    assert window.to_site(page) == pytest.approx(places)
    assert window.contains(page, 1.0).tolist() == [True, True]
    assert window.contains(np.array([[5.0, 100.0], [6.5, 100.0]]), 1.0).tolist() == [False, False]


@given(st.floats(1e-3, 1e7), st.integers(2, 8))
@settings(deadline=None, max_examples=60)
def test_steps_are_round_and_not_too_many(length: float, most: int) -> None:
    step = round_steps(length, most)
    assert length / step <= most * (1 + 1e-6)
    assert f"{step:.6e}"[:3] in {"1.0", "2.0", "5.0"}
    assert length / step > most / 2.6  # the next smaller step would have been too fine


@pytest.mark.parametrize(
    ("room", "words"),
    [
        (5.0, []),
        (8.0, [["Benchmark:", "Surveyed:", "Printed:"]]),
        (15.0, [["Benchmark:"], ["Surveyed:", "Printed:"]]),
        (22.0, [["Benchmark:"], ["Surveyed:", "Printed:"], ["Notes:"]]),
        (29.0, [["Benchmark:"], ["Surveyed:", "Printed:"], ["Notes:"], [""]]),
    ],
)
def test_blank_lines_are_led_by_the_benchmark_however_short_the_room(room: float, words: list) -> None:
    page = Page()
    rows = (("Benchmark:",), ("Surveyed:", "Printed:"), ("Notes:",))
    draw_blank_lines(page, top=20.0 + room, bottom=20.0, rows=rows)
    lines: dict[float, list[str]] = {}
    for line in page.written:
        lines.setdefault(line.y, []).append(line.text)
    assert list(lines.values()) == words
    assert all(left >= 20.0 for left in lines)
