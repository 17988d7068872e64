"""Where nothing can be built: what binds, and a place a few feet off or turned where it can, asked again."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import pytest

from gradework.exchange.record import record
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.gate import Judged
from gradework.project import elsewhere as asked
from gradework.project.elsewhere import OF_THE_PLACE, Elsewhere, elsewhere, placed
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.placed import placed_building
from gradework.project.plan import Plan, plan
from gradework.report.first_screen import answer
from gradework.report.page.document import page

FT = 0.3048


def notes(height: Callable[[float, float], float]) -> bytes:
    rows = [f"{x}-{y},{x},{y},{height(x, y):.3f}" for x in range(0, 61, 6) for y in range(6, 55, 8)]
    return "\n".join(["station,x,y,elevation", *rows, ""]).encode()


def job(building: str, rest: str = "") -> Job:
    text = f"""name = "Invented"
units = "ft"
build = "piers"
[survey]
notes = "yard.csv"
[building]
{building}
[soil]
ground = "firm"
[piers]
[piers.floor]
treated = true
{rest}
"""
    return read_job(text.encode())


LEVEL = notes(lambda x, _: 100.0 + 0.02 * x)
FENCE = """[[site.near]]
name = "fence"
kind = "fence"
line = [[18, 8], [18, 52]]
setback = "5 ft"
"""


@lru_cache
def near_a_fence() -> Plan:
    return plan(job("size = [12, 10]\ncorner = [20, 20]", FENCE), LEVEL)


BANK = notes(lambda x, _: 100.0 - 8.0 * min(max((x - 36.0) / 6.0, 0.0), 1.0))
"""Level ground that drops 8 ft along a line: no stack reaches so far down."""


@lru_cache
def over_a_bank() -> Plan:
    return plan(job("size = [24, 8]\ncorner = [18, 26]"), BANK)


def one_of(done: Plan, way: str) -> Elsewhere:
    (one,) = [one for one in done.foundations.elsewhere if one.way == way]
    return one


@pytest.mark.parametrize("way", ["move", "turn"])
def test_the_place_named_is_one_where_it_can_be_built(way: str) -> None:
    done = over_a_bank()
    assert not done.foundations.judged[0].buildable
    there = one_of(done, way)
    again = plan(there.job, BANK)
    assert again.judged is not None
    assert again.judged.buildable
    assert np.allclose(there.shift, (again.building.rings[0] - done.building.rings[0])[0])
    middles = [ring.mean(axis=0) for ring in (done.building.rings[0], again.building.rings[0])]
    assert np.allclose(*middles, atol=0.005 * FT) is (way == "turn")


def test_both_are_told_with_the_lines_of_the_job() -> None:
    flat, turned = " ".join(answer(over_a_bank()).split()), one_of(over_a_bank(), "turn")
    assert one_of(over_a_bank(), "move").shift[0] <= -2.0 * FT + 1e-9
    assert abs(turned.turn) == 90.0
    moved = "Move 2.0 ft toward smaller x: block piers can be built: write corner = [16.00, 26.00] under"
    assert moved in flat
    assert "about its middle: block piers can be built: write corner = [" in flat
    assert f"] and turn = {turned.job.building.turn:g} under [building]" in flat


def test_it_is_moved_off_what_is_too_near_by_the_first_step_that_is_enough() -> None:
    there = one_of(near_a_fence(), "move")
    assert there.shift == pytest.approx((4.0 * FT, 0.0), abs=1e-9)  # 2 ft off, 5 asked: 2 more are too few
    flat = " ".join(answer(near_a_fence()).split())
    assert "write corner = [24.00, 20.00] under [building]" in flat
    why = "too near what stands beside it at the fence: 24 in, at least 5' 0\" needed, 36 in off."
    assert f"Binds block piers: {why}" in flat


def test_both_and_what_binds_stand_in_the_record_and_on_the_page() -> None:
    done = over_a_bank()
    told = record(done)
    assert {one["way"] for one in told["elsewhere"]} == {"move", "turn"}
    for one, place in zip(told["elsewhere"], done.foundations.elsewhere, strict=True):
        assert np.allclose(one["corners_m"], placed_building(place.job)[0].rings[0])
        assert one["foundation"] == "piers"
    assert told["binds"] is None  # no common top: no matter of inches
    bound = record(near_a_fence())["binds"]
    assert (bound["foundation"], bound["check"]["check"]) == ("piers", "setback")
    assert bound["check"]["holds"] is False
    html = page(done).decode()
    assert "Move: 2.0 ft toward smaller x" in html
    assert "Dashed outline: where it could stand instead" in html


@pytest.mark.parametrize("check", ["ground", "skid span"])
def test_nothing_is_asked_where_what_fails_would_fail_anywhere(
    check: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asked, "_judged_there", lambda *_: pytest.fail("the gate was asked"))
    done = near_a_fence()
    fails = Judged("piers", 0.0, 0.0, None, (Check(check, 1.0, 0.0, "-", COMMON),))
    assert check not in OF_THE_PLACE
    assert elsewhere(done.job, done.surface, done.nearby, [fails]) == ()


def test_the_gate_is_asked_at_a_handful_of_places(monkeypatch: pytest.MonkeyPatch) -> None:
    done, places = over_a_bank(), []
    monkeypatch.setattr(asked, "_judged_there", lambda job, *_: places.append(job.building.corner))
    assert elsewhere(done.job, done.surface, done.nearby, done.foundations.judged) == ()
    assert 0 < len(places) <= 5


def test_a_building_taped_from_marks_is_given_by_its_corner() -> None:
    done = near_a_fence()
    table = done.job.building.model_copy(update={"corner": None, "ties": {"A": 1.0, "B": 1.0}})
    taped = done.job.model_copy(update={"building": table})
    there = placed(taped, done.building, (1.0 * FT, 0.0), 90.0).building
    assert there.ties is None
    assert there.turn == 90.0
    # about its middle (26, 25), and 1 ft on
    assert there.corner == pytest.approx((32.0 * FT, 19.0 * FT))


def test_an_outline_keeps_its_shape() -> None:
    ring = [[20, 20], [32, 20], [32, 26], [26, 26], [26, 30], [20, 30]]
    own = job(f"outline = {ring}")
    building, _ = placed_building(own)
    there = placed(own, building, (0.0, -2.0 * FT), 0.0).building
    assert there.outline is not None
    assert np.allclose(np.array(there.outline) / FT, np.array(ring) - [0, 2])
