"""The law of the answer: never more lines, never a wider one, every stop there, the order's heaviest kept."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.report.answer import FIRST_OF_ORDER, MOST, Part, fit

VERDICT = Part("verdict", "Not buildable as drawn: 12 things stop it.")
LEVEL = Part("level", "Gravel pad, finished level 100.29 ft, 14 in below ground at the uphill corner.")
DIG = Part("dig", "6.73 yd³ in place, 18 in at the deepest.", label="Dig")
SENTENCE = "The ground under the pad is far too steep for a frame, and nothing would hold it. Go elsewhere."


def stops(count: int) -> list[Part]:
    return [
        Part(
            "stop", f"stop: {n}. {SENTENCE} [stop-{n}]", f"stop: {n}. {SENTENCE} [stop-{n}]", code=f"stop-{n}"
        )
        for n in range(count)
    ]


def walls(count: int) -> list[Part]:
    return [
        Part("warning", f"corners {n}-{n + 1}: the ground rises {SENTENCE}", label="Water", code="drainage")
        for n in range(count)
    ]


def things(count: int) -> list[Part]:
    return [
        Part("order", f"{n} pieces of thing {n}", label="Order", weight=float(n % 7)) for n in range(count)
    ]


def test_twelve_stops_twenty_things_and_eight_walls_fit() -> None:
    lines = fit([VERDICT, *stops(12), LEVEL, DIG, *things(20), *walls(8)])
    assert len(lines) == MOST
    assert lines[0] == VERDICT.text
    assert all(
        line.startswith(f"stop: {n}. ") and line.endswith(f"[stop-{n}]") for n, line in enumerate(lines[1:13])
    )
    assert all(f"corners {n}-{n + 1}:" in lines[13 + n] for n in range(8))
    assert lines[21] == LEVEL.text
    assert lines[22].startswith("Dig      6.73 yd³")
    assert lines[23].strip() == "20 more lines in order.csv"
    assert max(map(len, lines)) <= 80


def test_the_heaviest_of_the_order_stay_and_the_rest_is_counted() -> None:
    lines = fit([VERDICT, LEVEL, DIG, *things(26)])
    assert len(lines) == MOST
    assert lines[-1].strip() == "6 more lines in order.csv"
    left_out = {n for n in range(26) if not any(f"thing {n}" == line.partition("of ")[2] for line in lines)}
    assert len(left_out) == 6
    assert max(n % 7 for n in left_out) <= min(n % 7 for n in set(range(26)) - left_out)
    assert [line.startswith("Order") for line in lines].count(True) == 1


def test_single_lines_stand_longer_than_the_light_end_of_the_order() -> None:
    cost = Part("cost", "736", label="Cost")
    lines = fit([VERDICT, LEVEL, DIG, *things(40), cost])
    assert "Cost     736" in lines
    crowded = fit([VERDICT, *stops(12), LEVEL, DIG, *things(FIRST_OF_ORDER + 4), cost])
    assert "Cost     736" in crowded


def test_what_fits_is_said_in_full_and_shorter_before_anything_is_cut() -> None:
    long = Part("warning", SENTENCE + " " + SENTENCE, "Too steep.")
    assert " ".join(line.strip() for line in fit([VERDICT, long])[1:]) == long.text
    lines = fit([VERDICT, *[long] * 12])
    assert len(lines) <= MOST
    assert lines[1].startswith("The ground under the pad")  # the first stay in full
    assert lines[-1] == "Too steep."


def test_words_that_gain_no_line_stay() -> None:
    named = Part("verdict", "Mill Lane shed: gravel pad can be built.", "Gravel pad can be built.")
    lines = fit([named, *[Part("warning", SENTENCE, "Too steep.", code="steep")] * 23, *things(3)])
    assert len(lines) <= MOST
    assert "steep (23 places)" in lines[1]
    assert lines[0] == named.text
    full = [named, *[Part("warning", SENTENCE + " " + SENTENCE, "Too steep.")] * 12, DIG]
    assert fit(full)[0] == named.text


def test_the_light_end_of_the_order_goes_before_the_ifs_of_the_verdict() -> None:
    ifs = "if the ground is firm and was never filled, and if skids and joists are treated for ground contact"
    able = Part("verdict", f"Shed: gravel pad can be built, {ifs}.", f"Gravel pad can be built, {ifs}.")
    lines = fit([able, LEVEL, DIG, *things(21)])
    assert " ".join(lines[:2]).replace("  ", " ").endswith("ground contact.")
    assert lines[-1].strip() == "2 more lines in order.csv"
    assert len(lines) == MOST
    crowded = fit([able, *stops(12), LEVEL, DIG, *things(8), *walls(8)])  # where no room is left it is cut
    assert crowded[0].endswith("...")
    assert len(crowded) == MOST


def test_more_findings_than_lines_are_told_by_their_names() -> None:
    lines = fit([VERDICT, *stops(40), *walls(30), LEVEL, DIG, *things(3)])
    text = " ".join(lines)
    assert len(lines) <= MOST
    assert all(f"stop-{n}" in text for n in range(40))
    assert "warning: drainage (30 places)" in text
    assert LEVEL.text in lines


def test_no_room_at_all_is_counted() -> None:
    lines = fit([VERDICT, *stops(400), *walls(5)], most=6)
    assert len(lines) <= 6
    assert "more" in " ".join(lines)
    assert lines[0] == VERDICT.text


WORDS = st.text("ab cd.", max_size=90)
FOUND = st.builds(
    lambda kind, text, n: Part(kind, f"{kind}: {text} [{kind}-{n}]", code=f"{kind}-{n}"),
    st.sampled_from(["stop", "warning"]),
    WORDS,
    st.integers(0, 25),
)
OTHER = st.builds(
    Part,
    st.sampled_from(["level", "dig", "order", "cost", "trust", "files", "next", "caution"]),
    WORDS.map(lambda text: f"x{text}"),
    label=st.sampled_from(["", "Order", "Dig"]),
    weight=st.floats(0, 1e4),
)


@settings(deadline=None, max_examples=120)
@given(
    st.lists(FOUND, max_size=40),
    st.lists(OTHER.filter(lambda part: part.kind != "caution"), max_size=40),
    st.lists(OTHER.filter(lambda part: part.kind == "caution"), max_size=1),
    st.integers(60, 100),
)
def test_the_law(found: list[Part], others: list[Part], caution: list[Part], width: int) -> None:
    found.sort(key=lambda part: part.kind)
    parts = [VERDICT, *found, *others, *caution]
    lines = fit(parts, width=width)
    text = " ".join(" ".join(lines).split())
    assert len(lines) <= MOST
    assert max(map(len, lines)) <= width
    assert text.startswith(VERDICT.text)
    assert [part.code for part in found if part.code not in text] == []
    if caution:
        assert " ".join(caution[0].text.split())[:20] in text
    shown = sum(part.kind == "order" for part in others)
    if "more line" in lines[-1]:
        shown -= int(lines[-1].split()[0])
        assert "in order.csv" in lines[-1]
    assert shown >= 0


@pytest.mark.parametrize("width", [60, 80, 100])
def test_a_word_wider_than_the_line_is_broken(width: int) -> None:
    assert max(map(len, fit([Part("verdict", "x" * 300), *stops(2)], width=width))) <= width
