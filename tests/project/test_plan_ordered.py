"""Nothing is ordered under a no; anyway, where that may be, and then stamped."""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path

import pytest

from gradework.exchange.record import record
from gradework.foundations.checks.gate import NEVER_LIFTED
from gradework.library.results import table_files
from gradework.project.corners import Measured, plan_corners
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.report.first_screen import answer
from gradework.report.plan import summary

STUDIO = Path(__file__).parents[2] / "data" / "orchard-studio"
HIGH = ('level    = "least fill"', "level = 104.5")  # 5 ft above the ground at the low side


@lru_cache
def studio(build: str, *changes: tuple[str, str], anyway: bool = False) -> Plan:
    """The demo with this foundation, whatever the gate would choose."""
    text = f'build = "{build}"\n' + (STUDIO / "job.toml").read_text("utf-8")
    if not changes:  # cut in so deep that no swale comes out
        changes = (('level    = "least fill"', "level = 100.29"),)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return plan(read_job(text.encode()), (STUDIO / "yard.csv").read_bytes(), anyway=anyway)


def test_what_fails_a_check_is_not_ordered() -> None:
    done = studio("pad")
    assert done.held_back
    assert done.order.lines == ()
    assert done.orders["slab"].lines == ()
    assert done.orders["piers"].lines  # these can be built: a price can be asked for
    assert done.order.spoil is not None
    assert done.stops("pad") == ()
    document = record(done)
    assert (document["ordered"], document["order"]) == ("nothing", [])
    assert document["blocked_by"] == ["siding", "water"]
    assert document["order_total"]["mass_kg"] == 0.0


def test_each_of_the_comparison_is_blocked_by_what_the_options_fail() -> None:
    document = record(studio("pad"))
    blocked = {one["name"]: one["blocked_by"] for one in document["comparison"]["options"]}
    for option in document["options"]:
        fails = {one["check"] for one in option["checks"] if one["holds"] is False}
        (named,) = (names for name, names in blocked.items() if name.endswith(option["foundation"]))
        assert set(named) == fails
        assert bool(fails) is not option["buildable"]
    told = " ".join(summary(studio("pad")).split())
    assert "boxed gravel pad: fails siding, water;" in told
    assert "slab: fails slab edge;" in told
    assert "boxed gravel pad - nothing, since it cannot be built as drawn" in told


def test_screens_and_files_say_that_nothing_is_ordered() -> None:
    done = studio("pad")
    told = answer(done)
    assert "Order    Nothing, since it cannot be built as drawn." in told
    assert "crushed stone" not in told
    assert "NOT BUILDABLE AS DRAWN: water runs to 3 walls, siding too low" in summary(done)
    files = table_files(done, record(done))
    text = files["order.csv"].decode("utf-8-sig").splitlines()
    head, *rows = csv.reader(text)
    assert {len(row) for row in rows} == {len(head)}
    names = [row[0] for row in rows if not row[0].startswith("soil: ")]
    assert names[0] == "not buildable as drawn: siding"
    assert names[1:4] == ["not buildable as drawn: water"] * 3
    assert names[4:] == ["nothing is ordered", "total"]
    assert rows[4][:2] == ["nothing is ordered", "0"]
    bought = files["order-piers.csv"].decode("utf-8-sig").splitlines()
    assert [row.split(",")[0] for row in bought if row.startswith("from the ")] == [
        "from the quarry",
        "from the masonry yard",
        "from the timber yard",
        "from the garden store",
    ]
    assert any(row.startswith("8 in hollow block,7,") for row in bought)


def test_anyway_orders_it_with_what_fails_stamped_on_it() -> None:
    done = studio("pad", anyway=True)
    assert not done.held_back
    assert any("crushed stone" in line.item for line in done.order.lines)
    assert done.orders["slab"].lines == ()  # only what is chosen
    assert [f.severity for f in done.findings].count("stop") == 4  # the answer is still no
    document = record(done)
    assert (document["ordered"], document["blocked_by"]) == ("anyway", ["siding", "water"])
    assert "Anyway   What follows is ordered all the same" in answer(done)
    assert "NOT BUILDABLE AS DRAWN" in summary(done)
    rows = table_files(done, document)["order.csv"].decode("utf-8-sig").splitlines()[1:]
    assert rows[0].startswith("not buildable as drawn: siding,,")
    assert rows[4].startswith("from the quarry,,")
    assert rows[5].startswith("dense-graded crushed stone,9,")


@pytest.mark.parametrize("edge", ["boxed", "boxed and timbers"])
def test_no_order_goes_over_an_edge_that_does_not_hold(edge: str) -> None:
    timbers = (('edge     = "boxed"', 'edge = "boxed"\ntimber_edge = true'),) if "timbers" in edge else ()
    done = studio("pad", HIGH, *timbers, anyway=True)
    assert done.judged is not None
    never = [check.check for check in done.judged.never]
    assert never == ["held edge"]
    assert set(never) <= NEVER_LIFTED
    assert done.held_back
    assert done.order.lines == ()
    assert record(done)["ordered"] == "nothing"
    assert "--anyway does not go over: held edge." in " ".join(answer(done).split())


def test_what_can_be_built_is_ordered_as_drawn() -> None:
    for anyway in (False, True):
        done = studio("piers", anyway=anyway)
        assert not done.held_back
        assert done.order.lines
        assert done.stamp() == ""
        assert record(done)["ordered"] == "as drawn"
        assert record(done)["blocked_by"] == []


def test_four_corners_that_no_top_suits_order_nothing() -> None:
    done = plan_corners(Measured("ft", (3.6576, 2.4384), (0.0, 0.1, 2.4, 2.3)))
    assert done.held_back
    assert done.order.lines == ()
    assert any(finding.severity == "stop" for finding in done.findings)
