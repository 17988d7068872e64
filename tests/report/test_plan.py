"""The words of a plan: his questions in his order, honest digits, 80 columns, cautions at the end."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.earthwork.footprint import Line
from gradework.errors import Finding
from gradework.project.buying import paying
from gradework.project.designed import option_of, ordered
from gradework.project.job.read import read_job
from gradework.project.plan import plan
from gradework.report.ground import falls, slope_words
from gradework.report.plan import finding_lines, finding_text, order_lines, summary
from gradework.report.text import WIDTH, filled
from gradework.sitework.cautions import CAUTIONS
from gradework.sitework.order import OrderLine
from gradework.units.display import FEET, METRIC

DATA = Path(__file__).parents[2] / "data"


def of_site(site: str, old: str = "", new: str = "") -> str:
    job = read_job((DATA / site / "job.toml").read_text().replace(old, new).encode())
    return summary(plan(job, (DATA / site / job.survey.notes).read_bytes()))


@pytest.mark.parametrize("site", ["orchard-studio", "spring-pump-house"])
def test_the_questions_come_in_their_order_and_the_cautions_last(site: str) -> None:
    text = of_site(site)
    headings = ["Your readings", "The ground", "The pad", "To order", "Findings", "Before you dig"]
    places = [re.search(rf"^{heading}$", text, re.MULTILINE) for heading in headings]
    assert all(places)
    starts = [place.start() for place in places if place]
    assert starts == sorted(starts)
    last = " ".join(text[starts[-1] :].split())
    assert all(" ".join(caution.split()) in last for caution in CAUTIONS)


@pytest.mark.parametrize("site", ["orchard-studio", "spring-pump-house"])
def test_eighty_columns_no_minus_zero_and_a_ton_is_told_once(site: str) -> None:
    text = of_site(site)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert not re.search(r"-0\.0+(?!\d)", text)
    assert "short ton" not in text
    first = re.search(r"\b[Tt]ons?\b.*", text)
    assert (first is None) == (site == "spring-pump-house")  # metric: tonnes only
    assert first is None or "2,000 lb" in first.group(0)
    assert not any(line != line.rstrip() for line in text.splitlines())
    assert "nan" not in text.split()


def test_figures_of_a_plane(plane_job: bytes, plane_notes: bytes) -> None:
    text = summary(plan(read_job(plane_job.replace(b'"least fill"', b"19.4")), plane_notes))
    flat = " ".join(text.split())
    assert "64 shots in yard.csv" in flat
    assert "High spot S00, 20.000 m, at x 0.00 m, y 0.00 m" in flat
    assert "Building 12.0 m² of ground" in flat
    assert re.search(r"highest 19\.600 m, at x 4\.00 m, y \d\.\d\d m lowest 19\.200 m, at x 8\.00 m", flat)
    assert "fall 0.400 m in all; slope 10.0 %, downhill along x (0° from the x axis)" in flat
    assert "sides corner 1 to 2 falls 0.400 m; corner 2 to 3 is level" in flat
    assert "corner 3 to 4 rises 0.400 m; corner 4 to 1 is level" in flat
    assert "across corner 1 to 3 falls 0.400 m; corner 2 to 4 rises 0.400 m" in flat
    assert "Level 19.400 m, as given; 250 mm below the highest ground" in flat
    assert "250 mm above the lowest" in flat
    # 3.25 m³ under the pad; beside it 0.3 m of room and a face 1:1 up from 19.3 m, on ground that falls 1 in
    # 10: 0.76 m³ uphill, 0.51 m³ at the sides across as far as x = 7, and 0.20 m³ at their two corners
    assert re.search(r"\* given +19\.400 +4\.72 +3\.25", text)
    assert "Dig 4.72 m³ in place, 350 mm at the deepest; 1.47 m³ of it beside the pad" in flat
    assert re.search(r"least cost: needs prices for dig, haul, gravel, boards \(under \[prices\]\)", flat)
    assert re.search(r"  least cost +- +- +-  no answer, see below", text)
    assert "--level" not in flat
    without = summary(plan(read_job(plane_job), plane_notes))
    assert "given: try a level of your own with --level" in without
    assert re.search(r"  given +- +- +-  no answer, see below", without)


PRICES = b'[prices]\ngravel = "40 per tonne"\ndig = "50 per m3"\nhaul = "20 per m3"\nboards = "30 per m2"\n'


def test_prices_bring_a_column_of_cost(plane_job: bytes, plane_notes: bytes) -> None:
    text = summary(plan(read_job(plane_job + PRICES), plane_notes))
    assert re.search(r"gravel \(m³\) +net cost", text)
    assert re.search(r"least cost +\d", text)
    assert "needs prices" not in text


@pytest.mark.parametrize("rule", ["least fill", "least cost"])
def test_the_rows_of_rules_tell_what_all_of_it_costs(rule: str, plane_job: bytes, plane_notes: bytes) -> None:
    """Each row's money is that of a plan with the level of the row given, before its soil is placed."""
    text = plane_job.replace(b'"least fill"', f'"{rule}"'.encode()) + PRICES
    found = plan(read_job(text), plane_notes)
    rows = re.findall(r"^  [ *] ([a-z ]+?)  +([\d.]+)  .*?(\d+) +(\d+)$", summary(found), re.MULTILINE)
    assert {name for name, *_ in rows} >= {"least fill", "least cost"}
    for name, level, _, all_of_it in rows:
        exact = next(one.level for one in found.pad.choices if one.rule == name)
        assert f"{exact:.3f}" == level
        there = plan(read_job(plane_job.replace(b'"least fill"', repr(exact).encode()) + PRICES), plane_notes)
        around = there.foundations.around["pad"]
        order = ordered(there.job, there.surface, there.nearby, there.pad, around)  # all soil hauled
        own = option_of(there.job, there.building, there.pad.pieces, there.pad)
        paid = paying(there.job, own, order, there.foundations.prices, around)
        assert float(all_of_it) == pytest.approx(paid.money, abs=1.0)
    flat = " ".join(summary(found).split())
    assert "all of it: as bought, with what keeps water off, all soil hauled" in flat
    assert ('level = "least cost" looks for the level' in flat) is (rule != "least cost")


def test_soil_that_goes_back_is_not_told_as_gravel(plane_job: bytes, plane_notes: bytes) -> None:
    job = plane_job.replace(b'"least fill"', b'"balanced"\nnative_fill = true')
    flat = " ".join(summary(plan(read_job(job), plane_notes)).split())
    assert re.search(r"Gravel 2\.00 m³ compacted, 100 mm at the least, ", flat)
    assert re.search(
        r"Fill 1\.\d\d m³ of the dug soil, compacted, under the gravel; with it \d\d\d mm at the", flat
    )
    assert "Earth fill and gravel are up to" in flat


def test_of_many_sides_the_steepest_are_told() -> None:
    lines = [Line(f"corner {n}", f"corner {n + 1}", 1.0, 0.01 * n) for n in range(1, 11)]
    told = falls(lines, METRIC)
    assert told.startswith("corner 10 to 11 falls 0.100 m; corner 9 to 10 falls 0.090 m")
    assert told.endswith("; the other 2 fall or rise less")
    assert falls([], METRIC) == ""


@pytest.mark.parametrize(
    ("quantity", "unit", "computed", "words"),
    [
        (1, "rolls", 0.257, "1 roll  |calculated 0.257;"),
        (1.0, "boards", 0.8351, "1 board  |calculated 0.835;"),
        (2.5, "short tons", 2.26, "2.5 tons  |calculated 2.26;"),
        (1.0, "short tons", 0.99, "1 ton  |calculated 0.99;"),
        (1379, "bags of 40 lb", 1193.4, "1,379 bags of 40 lb  |calculated 1,193;"),
        (1, "bulk bags of 850 kg", 0.5, "1 bulk bag of 850 kg  |calculated 0.5;"),
    ],
)
def test_one_is_one_and_no_amount_has_an_exponent(
    quantity: float, unit: str, computed: float, words: str
) -> None:
    line = OrderLine(
        item="stone",
        quantity=quantity,
        unit=unit,
        computed=computed,
        needed=quantity,
        step=0.5,
        allowance="whole steps",
        reason="",
        mass_kg=0.0,
    )
    first, second = order_lines([line], FEET)[:2]
    amount, _, reckoned = words.partition("|")
    assert first.startswith(amount)
    assert second.strip().startswith(reckoned)


def test_a_swale_is_told_with_its_digging_and_its_end() -> None:
    text = " ".join(of_site("spring-pump-house").split())
    assert "Swale to divert the water past the walls (corners 3-4 and 4-1): " in text
    assert "dig 3." in text.partition("Swale")[2]
    assert "and 5.15 m³ for the swale with its topsoil; 5.13 m³ in place is hauled away, the rest" in text
    assert "dig 3.77 m³ in place, besides the pad" in text  # to the levels that are given
    assert "dig there 75 mm below the levels that are given (1.38 m³ more to dig)" in text
    assert "not in the order" not in text
    orchard = " ".join(of_site("orchard-studio", '"least fill"', "100.29").split())
    assert "not in the order, the cost or the hours, since where it ends is not known" in orchard
    assert "That is more digging than the pad (9.85 yd³);" in orchard  # with the room beside it
    assert "That is more digging than the pad (2.05 m³); a higher pad may need less of it" in text
    assert "comes out 48." in text
    assert "the ground falls away from these walls as the rule asks, out to the swale" in text


def test_battered_edges_are_told_as_slopes() -> None:
    assert "side slopes 2:1" in of_site("spring-pump-house")


def test_the_gravest_finding_comes_first() -> None:
    told = finding_lines(
        Finding("a-b", severity, "", None, None, f"This is a {severity}.")
        for severity in ("note", "stop", "warning")
    )  # type: ignore[arg-type]
    assert [line.partition(":")[0] for line in told] == ["stop", "warning", "note"]


def test_a_place_is_named_once() -> None:
    twice = Finding("a-b", "note", "x 1.0 ft, y 2.0 ft", None, None, "Shoot more at x 1.0 ft, y 2.0 ft.")
    assert finding_text(twice) == "note: Shoot more at x 1.0 ft, y 2.0 ft. [a-b]"
    once = Finding("a-b", "note", "D7", None, None, "Misread rod?")
    assert finding_text(once) == "note: D7: Misread rod? [a-b]"


def test_control_characters_in_names_are_shown_as_escapes(plane_job: bytes, plane_notes: bytes) -> None:
    job = read_job(plane_job.replace(b'"Tool store"', b'"\\u001b[2JTool"'))
    text = summary(plan(job, plane_notes.replace(b"S00", b"S\x0700")))
    assert not any(ord(c) < 32 and c != "\n" for c in text)


@pytest.mark.parametrize(
    ("degrees", "words"),
    [
        (0, "along x"),
        (44, "toward +x and +y"),
        (90, "along y"),
        (180, "against x"),
        (269.6, "against y"),
        (359.9, "along x (0°"),
    ],
)
def test_directions_in_words(degrees: float, words: str) -> None:
    assert words in slope_words(0.1, degrees, FEET)


def test_level_ground_has_no_direction() -> None:
    assert slope_words(0.0, float("nan"), FEET) == "nearly level"
    assert slope_words(0.0001, 90.0, FEET) == "nearly level"


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.sampled_from(
            ["word", "4 1/2 in", "12.9 yd³", "16' 0\"", "8.0 tons", "7.5 tons", "192 sq ft", "a"]
        ),
        max_size=40,
    )
)
def test_breaking_lines_loses_nothing_and_parts_no_figure(words: list[str]) -> None:
    lines = filled(" ".join(words), width=30)
    assert " ".join(lines) == " ".join(words)
    assert all(len(line) <= 30 for line in lines)
    for line in lines[1:]:
        assert not line.startswith(("1/2", "in", "yd³", '0"', "tons", "sq", "ft"))
