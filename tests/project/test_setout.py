"""Stakes of a plan: places, marks, levels and readings that can be worked out by hand."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.exchange.yard_records import setout_record
from gradework.project.backsight import read_backsight
from gradework.project.benchmarks import known_levels
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import (
    SettingOut,
    Wanted,
    set_out_plan,
)
from gradework.report.yard import setout_text
from gradework.sitework.past_walls import led

TABLES = """
[piers]
rows = 2
spacing = "1.4 m"
block_sizes = "US"
[slab]
[setout]
marks = { gate = [0, 0], "old oak" = [14, 0] }
benchmarks = { BM = 20.5, "BM 2" = 21 }
offset = "1.5 m"
"""


@lru_cache
def of(job: bytes, notes: bytes, tables: str = TABLES) -> Plan:
    return plan(read_job(job + tables.encode()), notes)


@pytest.fixture
def yard(plane_job: bytes, plane_notes: bytes) -> Plan:
    return of(plane_job, plane_notes)


def stakes(made: SettingOut) -> dict[str, tuple[float, float]]:
    return {p.stake.name: (p.stake.x, p.stake.y) for p in made.sheet.points}


def test_pad_corners_are_marked_for_what_is_dug(yard: Plan) -> None:
    """Ground 20 - x / 10; strip and least gravel are 0.1 m: at x = 3.5 the formation is the stripped ground
    or the underside of the least gravel, whichever is lower."""
    made = set_out_plan(yard, Wanted(kind="pad"))
    level = yard.pad.chosen.level
    corner = next(p for p in made.sheet.points if p.stake.name == "pad 1")
    assert (corner.stake.x, corner.stake.y) == pytest.approx((3.5, 3.5))
    formation = min(19.65 - 0.1, level - 0.1)
    assert corner.stake.levels == (("formation", pytest.approx(formation)), ("top of gravel", level))
    assert corner.mark is not None
    assert (corner.mark.kind, corner.mark.amount) == ("C", pytest.approx(19.65 - formation))
    assert {"building 1", "pad 4", "board 1 ahead"} <= set(stakes(made))
    assert stakes(made)["board 1 ahead"] == pytest.approx((3.5, 2.0))


def test_rod_readings_are_instrument_less_level(yard: Plan) -> None:
    made = set_out_plan(yard, Wanted(kind="piers", instrument=22.0))
    piers = yard.foundations.piers
    assert piers is not None
    point = next(p for p in made.sheet.points if p.stake.name == "pier 1-1")
    first = piers.piers[0]
    assert point.readings[0].reading == pytest.approx(22.0 - first.bottom)
    assert point.readings[-1].reading == pytest.approx(22.0 - made.level)
    assert len(point.readings) == 2 + len(first.laid)


def test_a_backsight_gives_the_instrument(yard: Plan) -> None:
    seen = read_backsight("bm  1.25", yard)
    assert (seen.name, seen.elevation, seen.instrument) == ("BM", 20.5, 21.75)
    assert read_backsight("BM 2 1.25", yard).elevation == 21.0
    assert read_backsight("S00 1", yard).instrument == pytest.approx(21.0)
    made = set_out_plan(yard, Wanted(backsight=seen))
    assert made.sheet.instrument == 21.75


@pytest.mark.parametrize(
    ("text", "says"),
    [("BN 1.2", "did you mean BM?"), ("1.2", "no elevation"), ("BM x", "expected"), ("", "no")],
)
def test_a_backsight_that_cannot_be_used_says_why(yard: Plan, text: str, says: str) -> None:
    with pytest.raises(InputError) as told:
        read_backsight(text, yard)
    assert says in str(told.value)


def test_ties_come_from_the_marks_of_the_job(yard: Plan) -> None:
    made = set_out_plan(yard, Wanted(kind="pad"))
    assert made.marks_given
    corner = next(p for p in made.sheet.points if p.stake.name == "building 1")
    assert corner.tie is not None
    assert (corner.tie.first, corner.tie.from_first) == ("gate", pytest.approx(32**0.5))
    assert corner.tie.from_second == pytest.approx((10**2 + 4**2) ** 0.5)
    assert corner.baseline is not None
    assert (corner.baseline.along, corner.baseline.offset) == pytest.approx((4.0, 4.0))


def test_a_mark_that_was_taped_itself_serves_as_one_with_its_place(
    plane_job: bytes, plane_notes: bytes
) -> None:
    given = "[setout]\nmarks = { gate = [0, 0], oak = [3, 4], post = [6, 0] }\n"
    taped = (
        "[setout]\nmarks = { gate = [0, 0], oak = { gate = 5, post = 5, side = 'left' }, post = [6, 0] }\n"
    )
    one, two = (set_out_plan(of(plane_job, plane_notes, text), Wanted()).marks for text in (given, taped))
    assert [mark.name for mark in two] == ["gate", "oak", "post"]
    assert two[1].x == pytest.approx(one[1].x)
    assert two[1].y == pytest.approx(one[1].y)


def test_without_marks_stations_at_the_corners_of_the_yard_stand_in(
    plane_job: bytes, plane_notes: bytes
) -> None:
    made = set_out_plan(of(plane_job, plane_notes, ""), Wanted())
    assert not made.marks_given
    assert [mark.name for mark in made.marks] == ["S00", "S70", "S77", "S07"]


def test_a_mark_stands_beside_the_level_it_leads_to(plane_job: bytes, plane_notes: bytes) -> None:
    """An edge that goes deeper than the formation is not what a slab corner is marked for."""
    deep = of(plane_job, plane_notes, TABLES.replace("[slab]", '[slab]\nedge_depth = "400 mm"'))
    made = set_out_plan(deep, Wanted(kind="slab"))
    (corner,) = [p for p in made.sheet.points if p.stake.name == "slab 1"]
    assert corner.stake.worked_to[0][0] == "bottom of edge"
    assert corner.marked_for == "formation"
    rows = [row for row in setout_text(made).splitlines() if row.endswith(("bottom of edge", "formation"))]
    assert corner.mark is not None
    mark = corner.mark.text(deep.job.show)
    assert mark not in rows[0]
    assert mark in rows[1]


def test_slab_corners_carry_edge_base_and_top(yard: Plan) -> None:
    made = set_out_plan(yard, Wanted(kind="slab"))
    corner = next(p for p in made.sheet.points if p.stake.name == "slab 1")
    assert {what for what, _ in corner.stake.levels} == {
        "formation",
        "bottom of edge",
        "top of base course",
        "top of slab",
    }
    levels = [level for _, level in corner.stake.levels]
    assert levels == sorted(levels)
    steps = " ".join(made.sheet.steps)
    assert "first two slab corners" in steps
    assert "forms to the top of the slab" in steps
    assert [c.first for c in made.sheet.checks][:4] == ["slab 1", "slab 2", "slab 3", "slab 4"]
    assert "building 1" not in stakes(made)  # no margin: the corners of slab and building are the same


def test_a_string_gives_heights_above_and_below_it(yard: Plan) -> None:
    made = set_out_plan(yard, Wanted(kind="piers", string=0.3))
    assert made.sheet.string == pytest.approx(made.level + 0.3)
    point = next(p for p in made.sheet.points if p.stake.name == "pier 2-1")
    assert dict(point.from_string)[point.stake.levels[-1][0]] == pytest.approx(-0.3)


def test_rows_and_stakes_are_picked(yard: Plan) -> None:
    made = set_out_plan(yard, Wanted(kind="piers", rows=(2,), stakes=("building 3", "1-1")))
    assert set(stakes(made)) == {"pier 1-1", "building 3", "row 2 start", "row 2 end"} | {
        n for n in stakes(made) if n.startswith("pier 2-")
    }
    assert len(made.sheet.points) > 3


GIVEN = '[piers]\npositions = {{ {} }}\nloads = {{ bearing = "6000 psf" }}\n[setout]\n'


def test_piers_given_in_any_order_have_rows_where_they_line_up(plane_job: bytes, plane_notes: bytes) -> None:
    (x0, y0), _, (x1, y1), _ = of(plane_job, plane_notes, "").building.rings[0].tolist()
    west, east, south, north = x0 + 0.5, x1 - 0.5, y0 + 0.5, y1 - 0.5
    places = {"NW": (west, north), "NE": (east, north), "SE": (east, south), "SW": (west, south)}
    lined = ", ".join(f"{name} = [{x}, {y}]" for name, (x, y) in places.items())
    made = set_out_plan(of(plane_job, plane_notes, GIVEN.format(lined)), Wanted(kind="piers", rows=(1,)))
    assert set(stakes(made)) == {"pier SW", "pier SE", "row 1 start", "row 1 end"}
    assert [string.row for string in made.rows] == [1]
    scattered = ", ".join(f"{name} = [{x}, {y}]" for name, (x, y) in list(places.items())[:3])
    with pytest.raises(InputError, match=r"have no rows.*--stake"):
        set_out_plan(of(plane_job, plane_notes, GIVEN.format(scattered)), Wanted(kind="piers", rows=(1,)))


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        (Wanted(kind="piers", rows=(9,)), "no row 9 of piers; expected rows 1 to"),
        (Wanted(kind="piers", stakes=("pier 1-11",)), "did you mean"),
        (Wanted(kind="piers", stakes=("xyz",)), "no stake"),
    ],
)
def test_what_is_not_there_cannot_be_picked(yard: Plan, wanted: Wanted, says: str) -> None:
    with pytest.raises(InputError, match=says):
        set_out_plan(yard, wanted)


def test_only_what_is_asked_for_can_be_set_out(plane_job: bytes, plane_notes: bytes) -> None:
    with pytest.raises(InputError, match="asks for no slab; expected"):
        set_out_plan(of(plane_job, plane_notes, ""), Wanted(kind="slab"))
    no_top = of(plane_job, plane_notes, TABLES.replace("rows = 2", "rows = 2\ntop = 25"))
    with pytest.raises(InputError, match="no common top"):
        set_out_plan(no_top, Wanted(kind="piers"))
    same = of(plane_job, plane_notes, TABLES.replace("[14, 0]", "[0, 0]"))
    with pytest.raises(InputError, match="on one place"):
        set_out_plan(same, Wanted())


def test_readings_beyond_the_rod_and_flat_ties_are_told(yard: Plan) -> None:
    low = set_out_plan(yard, Wanted(kind="piers", instrument=19.0))
    assert "rod-out-of-reach" in {finding.code for finding in low.findings}
    flat = set_out_plan(yard, Wanted(kind="piers", stakes=("building 1",)))
    assert flat.findings == ()


def test_benchmarks_of_the_job_go_before_stations(plane_job: bytes, plane_notes: bytes) -> None:
    done = of(plane_job, plane_notes, "[setout]\nbenchmarks = { S00 = 50 }\n")
    known = known_levels(done.benchmarks, done.stations)
    assert known["S00"] == 50.0
    assert known["S10"] == pytest.approx(19.8)


def test_the_swale_of_a_pad_is_staked_told_and_ordered() -> None:
    """The pump house stands in a slope; the sheet of its pad has a stake for each place of the swale."""
    folder = Path(__file__).parents[2] / "data" / "spring-pump-house"
    job = read_job((folder / "job.toml").read_bytes())
    done = plan(job, (folder / job.survey.notes).read_bytes())
    made = set_out_plan(done, Wanted(kind="pad"))
    own = [point for point in made.sheet.points if point.stake.kind == "swale"]
    (swale,) = led(done.measures)
    places = [
        (p.stake.x, p.stake.y) if p.stake.aside is None else (p.stake.aside.x, p.stake.aside.y) for p in own
    ]
    assert swale.ground.surface.elevation(np.array(places)) == pytest.approx(
        [p.stake.grade for p in own], abs=1e-6
    )
    text = " ".join(setout_text(made).split())
    assert "Dig the swale first, from its low end up" in text
    assert "from the middle, away from side 4-1: swale" in text
    stakes = next(line for line in done.orders["pad"].lines if line.item == "stakes")
    assert stakes.computed == sum(one.stake.kind != "batter board" for one in made.sheet.points)
    written = [one for one in setout_record(made)["stakes"] if one["kind"] == "swale"]
    assert [one["grade_m"] for one in written] == pytest.approx([p.stake.grade for p in own])
    assert {one["aside"]["away_from"] for one in written if one["aside"]} >= {"side 3-4", "side 4-1"}
