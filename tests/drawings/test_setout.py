"""The sheet for setting out: every stake and reading is there, words apart and on the page, boxes to tick."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import combinations, groupby
from pathlib import Path
from typing import Any

import pytest

from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line
from gradework.drawings.plan.cutfill import signed_difference
from gradework.drawings.plan.sheet import draw_plan
from gradework.drawings.setout import setout_and_findings
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import SettingOut, Wanted, set_out_plan

DATA = Path(__file__).parents[2] / "data"


@lru_cache
def studio(unit: str, build: str = "") -> Plan:
    """The demo in these units; ``build`` is what its plan draws, "" leaves that to the gate."""
    folder = DATA / ("orchard-studio" if unit == "ft" else "spring-pump-house")
    text = (folder / "job.toml").read_text("utf-8")
    text = text.replace('"least fill"', "100.29") if unit == "ft" else text  # there no swale comes out
    if unit == "m":
        text += '\n[piers]\nrows = 2\nspacing = "1.2 m"\n[slab]\n'
    job = read_job((f'build = "{build}"\n' * bool(build) + text).encode())
    return plan(job, (folder / job.survey.notes).read_bytes())


def lines(figure: Any) -> list[Line]:
    letters = (artist for artist in figure.axes[0].get_children() if isinstance(artist, Letters))
    return [line for one in letters for line in one.lines]


def said(figures: list[Any], role: str) -> list[str]:
    return [line.text for figure in figures for line in lines(figure) if line.role == role]


def made(unit: str, kind: str, **how: Any) -> SettingOut:
    return set_out_plan(studio(unit), Wanted(kind=kind, **how))


@pytest.mark.parametrize("kind", ["pad", "piers", "slab"])
def test_each_page_of_what_cannot_be_built_is_stamped(kind: str) -> None:
    figures = setout_and_findings(made("ft", kind))[0]
    stamps = {
        "pad": "NOT BUILDABLE AS DRAWN: water runs to 3 walls, siding too low",
        "slab": "NOT BUILDABLE AS DRAWN: slab edge hangs above the ground",
    }
    assert said(figures, "stamp") == ([stamps[kind]] * len(figures) if kind in stamps else [])


CASES = [
    ("ft", "pad", {}),
    ("ft", "piers", {"instrument": 33.0}),
    ("ft", "piers", {"instrument": 33.0, "string": 0.3, "rows": (1,)}),
    ("ft", "slab", {"string": 0.3}),
    ("m", "pad", {"instrument": 51.0}),
    ("m", "piers", {"instrument": 51.0, "string": 0.2}),
]


@pytest.mark.parametrize(("unit", "kind", "how"), CASES)
def test_words_stand_apart_and_on_the_page(unit: str, kind: str, how: dict[str, Any]) -> None:
    figures = setout_and_findings(made(unit, kind, **how))[0]
    assert len(figures) >= 2
    for figure in figures:
        wide, high = figure.get_size_inches() * 25.4
        boxes = [(line.text, line.box) for line in lines(figure) if line.text]
        assert len(boxes) > 15
        for text, (left, bottom, right, top) in boxes:
            assert left >= 0.0, text
            assert bottom >= 0.0, text
            assert right <= wide, text
            assert top <= high + 0.1, text
        for (one, a), (two, b) in combinations(boxes, 2):
            assert not overlap(a, b), (one, two)


@pytest.mark.parametrize(
    ("unit", "building"),
    [("m", "size = [5, 4]\ncorner = [4, 4]"), ("ft", "size = [16, 12]\ncorner = [20, 15]\nturn = 30")],
)
def test_every_stake_and_mark_has_its_name_in_the_sketch(unit: str, building: str) -> None:
    step = 1.5 if unit == "m" else 5.0
    rows = [f"{x * step},{y * step},{30 - 0.1 * x - 0.02 * y}" for x in range(10) for y in range(10)]
    head = f'name = "Yard"\nunits = "{unit}"\n[survey]\nnotes = "yard.csv"\n'
    job = read_job(f"{head}[building]\n{building}\n[piers]\nrows = 3\n".encode())
    done = set_out_plan(plan(job, "\n".join(["x,y,elevation", *rows]).encode()), Wanted())
    figures, told = setout_and_findings(done)
    assert told == ()
    named = [p.stake.name for p in done.sheet.points if p.stake.kind != "anchor"]
    assert 0 < len(named) < len(done.sheet.points)
    names = [name.removeprefix("pier ") for name in named] + [m.name for m in done.marks]
    assert sorted(said(figures, "stake name")) == sorted(names)


def test_names_without_room_in_the_sketch_are_told() -> None:
    done = made("ft", "piers")
    crowd = tuple(
        replace(p, stake=replace(p.stake, name=f"{p.stake.name} {'long ' * 6}")) for p in done.sheet.points
    )
    full = replace(done, sheet=replace(done.sheet, points=crowd * 3))
    figures, told = setout_and_findings(full)
    stand = len(said(figures, "stake name"))
    (finding,) = told
    assert finding.code == "names-left-out"
    named = sum(point.stake.kind != "anchor" for point in full.sheet.points)
    assert finding.value == named + len(full.marks) - stand
    assert f"No room for {finding.value:.0f} names." in said(figures, "sketch")[0]


def test_a_sketch_that_finds_no_room_beside_the_stakes_has_a_page_of_its_own() -> None:
    """Eight piers, four anchors and their strings: no page of theirs has 75 mm left."""
    figures, told = setout_and_findings(made("ft", "piers"))
    assert said(figures[-1:], "subtitle") == ["Where the stakes stand"]
    assert said(figures, "sketch") == said(figures[-1:], "sketch") != []
    assert told == ()


def test_every_reading_stands_beside_its_stake_with_a_box() -> None:
    sheet = made("ft", "piers", instrument=33.0)
    figures, show = setout_and_findings(sheet)[0], sheet.plan.job.show
    points = sheet.sheet.points
    assert said(figures, "stake") == [point.stake.name for point in points]
    # what all end at is read once, on the first page; each card has only its own hole and bed
    own = [r for p in points for r in p.readings if r.what in dict(p.own_levels)]
    once = [shared.reading for shared in sheet.sheet.shared]
    rods = [show.rod_number(r.reading) for r in (*once, *own) if r is not None and r.reach == "yes"]
    assert said(figures, "rod") == rods
    assert sum(text == show.rod_number(33.0 - sheet.level) for text in rods) == 1
    boxes = [p for figure in figures for p in figure.axes[0].patches if p.get_gid() == "box to tick"]
    levels = len(own) + len(once) + len(sheet.rows)
    assert len(boxes) == len(points) + levels + len(sheet.sheet.steps) + len(sheet.sheet.checks)
    read = [c for figure in figures for c in figure.axes[0].collections if c.get_gid() == "rule to write on"]
    assert len(read) == len(own) + len(once) + len(sheet.sheet.checks)


def test_without_an_instrument_there_are_rules_to_write_on() -> None:
    figures = setout_and_findings(made("ft", "pad"))[0]
    assert said(figures, "rod") == []
    rules = [c for figure in figures for c in figure.axes[0].collections if c.get_gid() == "rule to write on"]
    assert len(rules) > 10
    assert any("HI - elevation" in text for text in said(figures, "instrument"))


@pytest.mark.parametrize(("unit", "pages"), [("ft", 2), ("m", 3)])
def test_a_pad_fits_two_pages_and_its_swale_a_third(unit: str, pages: int) -> None:
    """The one in metres has a swale that comes out on its survey."""
    sheet = made(unit, "pad")
    assert any(point.stake.kind == "swale" for point in sheet.sheet.points) == (pages == 3)
    figures = setout_and_findings(sheet)[0]
    assert len(figures) == pages
    marks = said(figures, "mark")
    assert len(marks) == len(said(figures, "mark for")) == len(said(figures, "stake"))


def test_what_a_mark_leads_to_stands_beside_it_and_the_plan_s_figure_too() -> None:
    sheet = set_out_plan(studio("ft", "pad"), Wanted())
    assert sheet.kind == "pad"
    show, texts = sheet.plan.job.show, said(setout_and_findings(sheet)[0], "place")
    drawn = said([draw_plan(sheet.plan)], "difference")
    for point in sheet.sheet.points:
        if point.stake.kind == "pad corner":
            assert point.finish is not None
            assert point.stake.ground is not None
            on_plan = signed_difference(point.stake.ground, sheet.level, show)
            assert f"{on_plan} to finished level (as on the plan)" in texts
            assert f"{on_plan} to finished level" in drawn
    # where the plan is that of piers it has no such figure, and the sheet for the pad does not say it has
    other = made("ft", "pad")
    assert other.plan.foundations.chosen == "piers"
    assert said([draw_plan(other.plan)], "difference") == []
    places = said(setout_and_findings(other)[0], "place")
    assert sum(text.endswith(" to finished level") for text in places) == sum(
        text.endswith("(as on the plan)") for text in texts
    )
    assert not any("as on the plan" in text for text in places)


def test_rows_of_piers_are_told_by_running_tape() -> None:
    sheet = made("ft", "piers")
    told = " ".join(said(setout_and_findings(sheet)[0], "row"))
    for string in sheet.rows:
        assert f"Row {string.row}, " in told
        assert all(f"{name} {sheet.plan.job.show.taped(run)}" in told for name, run in string.places)


def laid_at_stakes(sheet: SettingOut) -> list[str]:
    """What each pier's card says to lay; what has no room on one line goes on on the next."""
    told: list[str] = []
    for text in said(setout_and_findings(sheet)[0], "place"):
        if text.startswith("lay: "):
            told.append(text)
        elif not text.startswith("x ") and told and told[-1].startswith("lay: "):
            told[-1] += f" {text}"
        else:
            told.append(text)
    return [text.removeprefix("lay: ") for text in told if text.startswith("lay: ")]


def test_every_block_of_a_pier_is_named_at_its_stake() -> None:
    """However long the list: courses alike are counted in a word, since a figure would read as a size."""
    sheet = made("ft", "piers")
    piers = sheet.plan.foundations.piers
    assert piers is not None
    numbers = ("", "", "two ", "three ", "four ", "five ")
    runs = [[(name, len([*same])) for name, same in groupby(u.name for u in p.laid)] for p in piers.piers]
    wanted = [", ".join(f"{numbers[n]}{name}{'s' * (n > 1)}" for name, n in run) for run in runs]
    assert laid_at_stakes(sheet) == wanted
    assert any("two " in text for text in wanted)


def test_a_double_stack_is_told_at_its_stake() -> None:
    sheet = made("ft", "piers")
    piers = sheet.plan.foundations.piers
    assert piers is not None
    double = replace(piers, piers=(replace(piers.piers[0], across=2), *piers.piers[1:]))
    foundations = replace(sheet.plan.foundations, piers=double)
    told = laid_at_stakes(replace(sheet, plan=replace(sheet.plan, foundations=foundations)))
    single = laid_at_stakes(sheet)
    assert told == [f"double: {single[0]}", *single[1:]]


def test_sides_and_diagonals_are_written_out() -> None:
    figures = setout_and_findings(made("ft", "piers"))[0]
    assert said(figures, "length") == ["16.00 ft", "12.00 ft", "16.00 ft", "12.00 ft", "20.00 ft", "20.00 ft"]


def test_a_reading_that_no_rod_shows_is_not_written() -> None:
    sheet = made("ft", "piers", instrument=30.9)
    assert any(r.reach != "yes" for p in sheet.sheet.points for r in p.readings)
    assert "no rod" in said(setout_and_findings(sheet)[0], "rod")
