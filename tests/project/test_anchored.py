"""Ground anchors of a whole plan: measures and checks of the gate, stakes, and what is left as an if."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import pytest

from gradework.exchange.record import record
from gradework.foundations.checks.gate import Judged
from gradework.project.gate_told import condition, reasons
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan

DEMO = Path(__file__).parents[2] / "data" / "orchard-studio"


@cache
def demo(anchor: str = "", ground: str = "") -> Plan:
    text = (DEMO / "job.toml").read_text("utf-8")
    if anchor:
        text = text.replace("[piers] ", f'[piers]\nanchor = "{anchor}"\n#')
    if ground:
        text += f'\n[soil]\nground = "{ground}"\n'
    return plan(read_job(text.encode()), (DEMO / "yard.csv").read_bytes())


def piers_of(done: Plan) -> Judged:
    return next(one for one in done.foundations.judged if one.foundation == "piers")


@pytest.mark.parametrize(
    ("anchor", "ground", "holds"),
    [("", "", None), ("3150 lb", "", True), ("", "firm", True), ("", "soft", None)],
)
def test_anchors_are_an_if_until_their_soil_is_known(anchor: str, ground: str, holds: bool | None) -> None:
    judged = piers_of(demo(anchor, ground))
    checks = {check.check: check for check in judged.checks}
    assert checks["anchor soil"].holds is holds
    assert checks["sliding"].holds
    assert checks["uplift"].holds


def test_ground_and_anchors_make_one_if() -> None:
    assert condition(piers_of(demo())).startswith(
        "if the ground is firm, was never filled and suits the ground anchors"
    )
    assert condition(piers_of(demo("3150 lb"))).startswith("if the ground is firm and was never filled")
    assert "ground" not in condition(piers_of(demo("", "firm"))).replace("ground contact", "")


def test_too_weak_anchors_stop_the_piers() -> None:
    judged = piers_of(demo("200 lb"))
    assert not judged.buildable
    assert reasons(judged) == "too few anchors against wind"
    winner = demo("200 lb").foundations.winner
    assert winner is not None
    assert winner.foundation == "pad"  # dearer, with its swale


def test_pads_anchors_and_cover_are_measures_whose_money_is_in_the_piers() -> None:
    done = demo()
    piers, judged = done.foundations.piers, piers_of(done)
    assert piers is not None
    assert piers.anchors is not None
    measures = {one.kind: one for one in judged.measures}
    assert set(measures) == {"base_pad", "anchor", "cover"}
    assert all(one.counted for one in judged.measures)
    assert judged.cost == pytest.approx(done.foundations.options["piers"].money)
    assert len(measures["anchor"].line) == piers.anchors.count
    assert measures["anchor"].cost == pytest.approx(piers.anchors.count * 28)
    based = sum(pier.laid[0].only_base for pier in piers.piers)
    assert len(measures["base_pad"].line) == based > 0
    assert measures["cover"].cost == pytest.approx(piers.cover_cost)
    (option,) = (one for one in record(done)["options"] if one["foundation"] == "piers")
    assert [one["kind"] for one in option["measures"]] == ["base_pad", "anchor", "cover"]


def test_each_anchor_has_a_stake_clear_of_the_holes() -> None:
    done = demo()
    piers = done.foundations.piers
    assert piers is not None
    assert piers.anchors is not None
    sheet = set_out_plan(done, Wanted(instrument=105.0 * 0.3048)).sheet
    stakes = [point.stake for point in sheet.points if point.stake.kind == "anchor"]
    assert [(stake.x, stake.y) for stake in stakes] == list(piers.anchors.spots)
    assert [stake.name for stake in stakes] == [f"anchor {n}" for n in range(1, len(stakes) + 1)]
    for stake in stakes:
        assert stake.levels == ()
        for pier in piers.piers:
            apart = abs(stake.x - pier.x), abs(stake.y - pier.y)
            assert any(a > side / 2 for a, side in zip(apart, pier.hole_size, strict=True))
            assert math.dist((stake.x, stake.y), (pier.x, pier.y)) > 0.3
    assert any("Screw an anchor in" in step for step in sheet.steps)
