"""Piers, slab and the comparison in words."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

from gradework.exchange.record import comparison_record
from gradework.foundations.piers.plan import stack_words
from gradework.foundations.piers.spec import FloorBuildUp
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.report.foundations import pier_lines, slab_lines
from gradework.report.plan import comparison_lines, summary
from gradework.report.text import as_wide_as, text_table
from gradework.units.display import FEET, METRIC, Display
from gradework.units.form import Form

DEMO = Path(__file__).parents[2] / "data" / "orchard-studio"


@lru_cache
def studio(*changes: tuple[str, str]) -> Plan:
    text = (DEMO / "job.toml").read_text("utf-8").replace('"least fill"', "100.29")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return plan(read_job(text.encode()), (DEMO / "yard.csv").read_bytes())


def flat(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def test_each_pier_has_its_row_with_its_own_figures() -> None:
    done = studio()
    piers, show = done.foundations.piers, done.job.show
    assert piers is not None
    lines = pier_lines(piers, show)
    for pier in piers.piers:
        (row,) = [line for line in lines if line.split()[:1] == [pier.name] and "-" in line.split()[1]]
        for text in (show.elevation_number(pier.bottom), show.depth(pier.bed), show.depth(pier.height)):
            assert text in row
    assert all(f"{goal.goal} " in flat(lines) for goal in piers.choices)


@pytest.mark.parametrize("width", range(60, 101, 4))
@pytest.mark.parametrize("form", ["inches", "tenths", "m"])
def test_the_piers_fit_every_terminal(width: int, form: Form) -> None:
    """Feet and inches are long, and so are names of the user's own."""
    piers = studio().foundations.piers
    assert piers is not None
    show = Display("ft", form)
    named = tuple(replace(pier, name=f"beside pump {pier.name}") for pier in piers.piers)
    for told in (piers, replace(piers, piers=named)):
        with as_wide_as(width):
            lines = pier_lines(told, show)
        assert max(map(len, lines)) <= width - 2
        text = flat(lines)
        for pier in told.piers:
            depths = (show.depth(part) for part in (pier.depth, pier.bed, pier.height))
            levels = show.elevation_number(pier.bottom), *depths
            figures = r";? (?:[a-z]+ )?".join(map(re.escape, levels))
            assert re.search(rf"{pier.name}:? [^:]{{5,48}}{figures}", text), (pier.name, figures, text)


def test_a_remark_without_room_stands_below_its_figures() -> None:
    rows = [["1-1", "9" * 40, "two 4 in solid blocks on a pad"]]
    with as_wide_as(60):
        assert text_table(["pier", "top", "laid"], rows) == [
            f"pier  {'top':>40}",
            "    laid",
            f"1-1   {'9' * 40}",
            "    two 4 in solid blocks on a pad",
        ]
        assert text_table(["pier", "top", ""], [["1-1", "9" * 50, "as planned"]])[1:] == [
            f"1-1   {'9' * 50}",
            "    as planned",
        ]
    with as_wide_as(60):
        told = text_table(["pier", "top", "bed", "laid"], [["1-1", "9" * 30, "8" * 30, "one pad"]])
    assert told == [f"1-1: top {'9' * 30}; bed", f"  {'8' * 30}; laid: one pad"]


@pytest.mark.parametrize(
    ("show", "sd", "figures"),
    [
        (FEET, 0.0, r"[0-9]+\.[0-9]{2}"),
        (FEET, 0.05, r"[0-9]+\.[0-9]"),
        (METRIC, 0.012, r"[0-9]+\.[0-9]{2}"),
        (METRIC, 3.0, r"[0-9]+"),
    ],
)
def test_the_ground_of_a_pier_is_no_finer_than_its_survey(show: Display, sd: float, figures: str) -> None:
    """What is built to keeps its own figures; two ends that read the same are told once."""
    done = studio()
    piers = done.foundations.piers
    assert piers is not None
    lines = pier_lines(piers, show, show.known_to(sd))
    top = rf"Top +{re.escape(show.elevation(piers.top or 0.0))} on all"
    assert re.match(top, lines[0])
    for pier in piers.piers:
        (row,) = [line for line in lines if line.split()[:1] == [pier.name] and line.count(".") > 0]
        ground, bottom = row.split()[1:3]
        assert re.fullmatch(rf"{figures}(-{figures})?", ground)
        assert bottom == show.elevation_number(pier.bottom)
        assert len(set(ground.split("-"))) == len(ground.split("-"))


def test_alternatives_are_told_with_the_piers_they_are_for() -> None:
    done = studio()
    piers = done.foundations.piers
    assert piers is not None
    text = flat(pier_lines(piers, done.job.show))
    for pier in piers.piers:
        assert pier.alternatives
        assert pier.alternatives[0].words in text


def test_units_are_counted_in_words_so_that_they_do_not_read_as_sizes() -> None:
    piers = studio().foundations.piers
    assert piers is not None
    words = {stack_words(pier.laid, pier.across, "block") for pier in piers.piers}
    assert "20 in concrete pad, two 4 in solid" in words
    assert "20 in concrete pad, two 8 in hollow, 4 in solid" in words


def test_the_slab_tells_both_ways_to_buy_concrete() -> None:
    done = studio()
    slab = done.foundations.slab
    assert slab is not None
    text = flat(slab_lines(slab, done))
    assert done.job.show.volume(slab.concrete.volume) in text
    assert f"{slab.concrete.bags} 80-lb bags (costs more)" in text
    assert f"{done.job.show.volume(slab.concrete.mix)} of ready-mix" in text
    assert "4 in of base course" in text


def test_the_comparison_says_what_is_ordered_and_why() -> None:
    text = flat(comparison_lines(studio()))
    assert "The order below is for the block piers (the cheapest that can be built)" in text
    assert "Prices: invented, January 2026." in text
    assert "corner 4-1" in text
    own = flat(comparison_lines(studio(("[survey]", 'build = "pad"\n[survey]'))))
    assert 'What is chosen is the gravel pad (the job says build = "pad")' in own


def test_the_comparison_tells_water_and_frost_of_each() -> None:
    lines = comparison_lines(studio())
    (falls,) = [line.partition("walls")[2] for line in lines if line.startswith("slope away from walls")]
    # rain runs on under the open floor of piers; three walls of the pad, which is cut in; led past the slab
    assert re.split(" {2,}", falls.strip()) == ["good", "not at 3 walls", "good"]
    (frost,) = [line.split()[1:] for line in lines if line.startswith("frost")]
    assert frost == ["note", "none", "note"]
    assert "boxed gravel pad: fails siding, water; stop drainage-toward-building (3 places);" in flat(lines)


def test_the_comparison_says_what_to_buy_as_the_orders_do() -> None:
    job = 'build = "slab"\n' + (DEMO / "job.toml").read_text("utf-8").replace('"least fill"', "100.29")
    done = plan(read_job(job.encode()), (DEMO / "yard.csv").read_bytes(), anyway=True)
    lines = comparison_lines(done)
    assert max(map(len, lines)) <= 78  # 80 with the indent of the section
    start = lines.index("To buy, with spares and waste, besides stakes, batter boards and string:")
    text = flat(lines[start : lines.index("", start)])
    _, piers, pad, slab = re.split(
        r" ?(?:block piers|boxed gravel pad|slab) - ", text[text.index("string:") + 7 :]
    )
    assert pad == "nothing, since it cannot be built as drawn"
    for kind, told in (("piers", piers), ("slab", slab)):
        for line in done.orders[kind].lines:
            if line.unit in ("boards", "yd³", "short tons") and not line.item.startswith("form board"):
                assert line.item.partition(",")[0] in told
    for line in done.orders["piers"].lines:
        if line.unit == "pieces" and "stakes" not in line.item and line.place != "batter boards":
            assert f"{line.item.partition(',')[0]}: {line.quantity:.0f}" in piers
    forms = sum(line.quantity for line in done.orders["slab"].lines if line.item.startswith("form board"))
    assert f"form boards: {forms:.0f}" in slab
    concrete = next(line for line in done.orders["slab"].lines if "concrete" in line.item)
    assert f"ready-mix concrete: {concrete.quantity:g} yd³" in slab
    assert "stakes" not in piers


def test_the_heading_names_the_thing_only_where_all_units_end_in_one() -> None:
    done = studio()
    piers, show = done.foundations.piers, done.job.show
    assert piers is not None
    assert any(line.endswith("blocks, bottom up") for line in pier_lines(piers, show))
    grey = replace(piers.spec.units[0], name="paver, assorted greys")
    odd = replace(piers, spec=replace(piers.spec, units=(grey,)), piers=())
    assert any(line.endswith("blocks, bottom up") for line in pier_lines(odd, show))


def test_the_floor_on_a_pad_is_that_of_the_piers_where_they_tell_it() -> None:
    both = studio()
    text = (DEMO / "job.toml").read_text("utf-8")
    start, end = text.index("[piers]"), text.index("[slab]")
    alone = plan(read_job((text[:start] + text[end:]).encode()), (DEMO / "yard.csv").read_bytes())
    assert alone.foundations.piers is None
    for done in (both, alone):
        assert done.foundations.comparison is not None
        (pad,) = [o for o in done.foundations.comparison.options if o.name.endswith("pad")]
        assert pad.level is not None
        more = 0.0 if done is alone else 5.5 * 0.0254  # 4x8 and 2x8 under the demo: 3 3/4 and 1 3/4 in more
        assert pad.floor == pytest.approx(pad.level + FloorBuildUp().thickness + more)
    assert "15 1/4 in of beams, joists and boards" in flat(comparison_lines(both))
    assert "9 3/4 in of beams, joists and boards" in flat(comparison_lines(alone))


def test_a_foundation_without_a_plan_is_not_shown_as_free() -> None:
    deep = studio(("[slab] ", 'least_dig = "70 in"\n[slab] '))
    assert deep.foundations.piers is not None
    assert deep.foundations.piers.top is None
    lines = comparison_lines(deep)
    assert "block piers - no plan" in lines
    header = next(line for line in lines if "block piers" in line)
    assert header.rstrip().endswith("block piers")  # after those that have a plan
    for row in ("top", "dig in place", "to carry", "hours", "cost", "slope away", "frost"):
        assert next(line for line in lines if line.startswith(row)).split()[-1] == "-"
    record = comparison_record(deep.foundations)["options"][-1]
    assert record["name"] == "block piers"
    assert {record[key] for key in ("dig_m3", "carry_kg", "cost", "hours_least", "hours_most")} == {None}


def test_prices_that_are_invented_are_named() -> None:
    done = studio(('mesh         = "0.42 per sq ft"', ""))
    assert "made-up prices for mesh" in flat(comparison_lines(done))


def test_the_sections_stand_in_the_order_of_the_job() -> None:
    text = summary(studio())
    places = [text.index(f"\n{title}\n") for title in ("The pad", "The piers", "The slab", "Side by side")]
    assert places == sorted(places)
    assert places[-1] < text.index("\nTo order\n")


def test_a_job_for_one_foundation_compares_nothing() -> None:
    text = (DEMO / "job.toml").read_text("utf-8").partition("\n[piers]")[0]
    done = plan(read_job(text.encode()), (DEMO / "yard.csv").read_bytes())
    assert comparison_lines(done) == []
    assert "Side by side" not in summary(done)


def test_a_remark_too_long_for_its_row_goes_on_under_itself() -> None:
    lines = text_table(["a", "b", "remark"], [["1", "2", "word " * 30]])
    assert len(lines) > 2
    assert all(len(line) <= 78 for line in lines)
    assert {len(line) - len(line.lstrip()) for line in lines[2:]} == {lines[0].index("remark")}
