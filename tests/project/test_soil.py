"""Soil in a whole job: what is spread is part of the finished ground and not hauled."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from gradework.errors import InputError
from gradework.exchange.record import record
from gradework.foundations.checks.check import ONE_READING
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.project.finished import covering
from gradework.project.job.read import read_job
from gradework.project.plan import Plan
from gradework.project.plan import plan as planned
from gradework.project.setout import Wanted, set_out_plan
from gradework.project.specs import drainage_rule
from gradework.report.soil import soil_lines, soil_words
from gradework.sitework.drainage import BAD

YARD = "\n".join(
    ["station,x,y,elevation"]
    + [f"S{i}{j},{2 * i},{2 * j},{20 - 0.06 * 2 * i:.3f}" for i in range(12) for j in range(8)]
    + [""]
).encode()
JOB = """\
name = "Tool store"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [4, 6]
[{kind}]
{more}
[soil]
ground = "firm"
{soil}
"""
SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "result.schema.json").read_text("utf-8"))


@cache
def done(soil: str = "", kind: str = "slab", more: str = "") -> Plan:
    return planned(read_job(JOB.format(soil=soil, kind=kind, more=more).encode(), "job.toml"), YARD)


def content(surface) -> float:
    return float(surface.triangle_areas @ (surface.vertices[surface.triangles, 2] - 15.0).mean(axis=1))


def test_what_is_spread_is_part_of_the_finished_ground_and_not_hauled() -> None:
    plan, hauled = done(), done("spread = false")
    soil, all_hauled = plan.soil, hauled.soil
    assert soil is not None
    assert all_hauled is not None
    spread = sum(one.volume for one in soil.patches)
    assert spread == pytest.approx(soil.sum_of("spread") * 1.25)
    assert spread > 1.0
    assert content(plan.finished) - content(hauled.finished) == pytest.approx(spread, rel=1e-6)
    assert soil.hauled == pytest.approx(all_hauled.hauled - spread / 1.25, abs=1e-9)
    assert all_hauled.held == "not asked"
    money = [one.foundations.options["slab"].paid["haul"].money for one in (plan, hauled)]
    assert money[0] < money[1]
    assert plan.order.spoil is not None
    assert plan.order.spoil.bank.m3 == pytest.approx(soil.hauled)


def test_no_wall_loses_its_fall() -> None:
    """A wall that falls enough without what is spread falls enough with it."""
    plan, hauled = done(), done("spread = false")
    assert plan.soil is not None
    assert plan.soil.patches
    assert plan.foundations.slab is not None
    top, rule = covering(plan.foundations.slab), drainage_rule(plan.job)
    there, before = (wall_falls(one.finished, one.building, rule, pad=top) for one in (plan, hauled))
    assert any(one.verdict not in BAD for one in before)
    for one, two in zip(before, there, strict=True):
        assert two.verdict not in BAD or (one.verdict in BAD and two.fall >= one.fall - ONE_READING)


def test_the_field_sheet_says_what_is_dug_deeper_before_anything_is_dug() -> None:
    plan = done(kind="pad", more='strip = "100 mm"')
    steps = set_out_plan(plan, Wanted(kind="pad")).sheet.steps
    (deeper,) = (number for number, text in enumerate(steps) if "topsoil goes back on it" in text)
    (back,) = (number for number, text in enumerate(steps) if text.startswith("Lay 75 mm of loose topsoil"))
    first = next(number for number, text in enumerate(steps) if text.startswith(("Dig", "Strip")))
    assert deeper == 1 < first < back


@pytest.mark.parametrize(("kind", "more"), [("slab", ""), ("piers", ""), ("pad", 'strip = "100 mm"')])
def test_all_soil_that_does_not_go_back_is_wheeled_and_what_is_spread_is_raked(kind: str, more: str) -> None:
    plan = done(kind=kind, more=more)
    soil, takes = plan.soil, plan.foundations.options[kind].takes
    assert soil is not None
    wheeled = [soil.sum_of(what) for what in ("heaped", "relaid", "spread", "hauled", "heap")]
    assert takes["soil carried"] == pytest.approx(1.25 * sum(wheeled))
    assert takes["soil spread"] == pytest.approx(1.25 * (wheeled[1] + wheeled[2]))
    assert plan.days is not None
    assert plan.days.hours == pytest.approx(plan.foundations.options[kind].hours)


def test_ground_that_is_spread_on_is_seeded() -> None:
    with_soil, without = (
        next(line.computed for line in one.foundations.orders["slab"].lines if line.item == "grass seed")
        for one in (done(), done("spread = false"))
    )
    soil = done().soil
    assert soil is not None
    covered = sum(one.area for one in soil.patches)
    assert with_soil - without == pytest.approx(covered * 6 * 0.45359237 / (1000 * 0.3048**2))


def test_nothing_is_hauled_where_the_job_says_so() -> None:
    plan = done("spread = false\nhaul = false")
    soil = plan.soil
    assert soil is not None
    kept = soil.sum_of("back") + soil.sum_of("heaped") + soil.sum_of("relaid")
    assert (soil.hauled, soil.sum_of("heap")) == (
        0.0,
        pytest.approx(soil.sum_of("dug") - kept),
    )
    assert plan.foundations.options["slab"].paid["haul"].money == 0.0
    assert "left in a heap" in soil_words(plan)


def test_the_job_gives_the_area() -> None:
    soil = done("spread = [[14, 2], [20, 2], [20, 12], [14, 12]]", "piers").soil
    assert soil is not None
    (patch,) = soil.patches
    assert patch.ring.tolist() == [[14, 2], [20, 2], [20, 12], [14, 12]]
    clockwise = done("spread = [[14, 12], [20, 12], [20, 2], [14, 2]]", "piers").soil
    assert clockwise is not None
    assert clockwise.patches[0].volume == pytest.approx(patch.volume)


@pytest.mark.parametrize(
    ("area", "held"),
    [
        ("[[0.5, 2], [2.5, 2], [2.5, 12], [0.5, 12]]", "uphill"),
        ("[[9, 6], [12, 6], [12, 9], [9, 9]]", "at what is built"),  # at the slab
        ("[[16, 6], [30, 6], [30, 9], [16, 9]]", "off the survey"),
    ],
)
def test_an_area_where_nothing_may_lie_is_not_used(area: str, held: str) -> None:
    plan = done(f"spread = {area}", "piers")
    assert plan.soil is not None
    assert (plan.soil.held, plan.soil.patches) == (held, ())
    assert any("Left over" in line for line in soil_lines(plan))


def test_an_area_at_a_well_or_on_a_swale_says_which_it_is() -> None:
    area = "spread = [[16, 6], [19, 6], [19, 9], [16, 9]]"
    well = '\n[[site.near]]\nname = "well"\nkind = "well"\nline = [[17, 8]]\n'
    near = done(area, "piers", more=well).soil
    assert near is not None
    assert near.held == "near others"
    plan = done(kind="pad", more='strip = "100 mm"')
    (dug, *_) = (one.dug for one in plan.measures if one.dug is not None)
    x, y = dug.line[len(dug.line) // 2, :2].tolist()
    ring = [[x - 0.5, y - 0.5], [x + 0.5, y - 0.5], [x + 0.5, y + 0.5], [x - 0.5, y + 0.5]]
    over = done(f"spread = {ring}", "pad", more='strip = "100 mm"').soil
    assert over is not None
    assert over.held in ("leads water", "at what is built")


@pytest.mark.parametrize(
    "area", ['"yes"', "[[0, 0], [1, 1]]", "[[0, 0], [9, 0], [2, 2], [0, 9]]", "[[0, 0], [1, 1], [2, 2]]",
             "[[0, 0], [4, 4], [4, 0], [0, 4]]"],
)  # fmt: skip
def test_an_area_that_is_none_is_refused_at_its_line(area: str) -> None:
    with pytest.raises(InputError) as problem:
        done(f"spread = {area}")
    (told,) = problem.value.faults
    assert (told.code, told.line) == ("job-value", 12)


def test_a_pad_with_a_swale_lays_its_topsoil_on_it() -> None:
    plan = done(kind="pad", more='strip = "100 mm"')
    soil = plan.soil
    assert soil is not None
    made = [one.dug for one in plan.measures if one.dug is not None]
    assert made
    assert soil.relaid > 0.0
    assert soil.deeper == pytest.approx(0.075 * soil.relaid)
    assert soil.relaid <= sum(one.bare for one in made) + 1e-9
    beside = sum(one.cut for one in made)
    assert plan.foundations.options["pad"].beside == pytest.approx(beside + soil.deeper)
    assert "of topsoil back on the swale" in soil_words(plan)


def test_the_record_holds_it_and_fits_its_schema() -> None:
    document = record(done())
    jsonschema.validate(document, SCHEMA)
    soil = document["soil"]
    for pile in soil["piles"]:
        assert sum(value for key, value in pile.items() if key.endswith("_m3") and key != "dug_m3") == (
            pytest.approx(pile["dug_m3"])
        )
    (patch, *_) = soil["patches"]
    assert len(patch["edges_m"]) == len(patch["outline_m"])
    assert np.isclose(
        sum(one["loose_m3"] for one in soil["patches"]), 1.25 * sum(p["spread_m3"] for p in soil["piles"])
    )
