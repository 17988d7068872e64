"""The stakes on the sheet for setting out are those that the order buys, and four to spare."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.sitework.order_marking import SPARE_STAKES

DATA = Path(__file__).parents[2] / "data" / "orchard-studio"


@lru_cache
def studio() -> Plan:
    return plan(read_job((DATA / "job.toml").read_bytes()), (DATA / "yard.csv").read_bytes())


@pytest.mark.parametrize("kind", ["pad", "piers", "slab"])
def test_the_order_buys_the_stakes_of_the_sheet_and_the_spares(kind: str) -> None:
    sheet = set_out_plan(studio(), Wanted(kind=kind)).sheet
    lines = {line.item: line for line in studio().foundations.orders[kind].lines}
    boards = sum(point.stake.kind == "batter board" for point in sheet.points)
    assert len({point.stake.name for point in sheet.points}) == len(sheet.points) >= 12
    assert lines["stakes"].computed == len(sheet.points) - boards
    assert lines["stakes"].quantity == len(sheet.points) - boards + SPARE_STAKES
    assert lines["stakes for batter boards"].quantity == 2 * boards == 16
