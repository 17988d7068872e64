"""Piers and slab in the record: plain JSON, keys as promised, and every pier adds up as written."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.errors import CheckError
from gradework.exchange.record import SLAB, piers_record
from gradework.exchange.written import written
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.slab.design import design_slab
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.ground.surface import Surface
from gradework.units.display import FEET

Ground = Callable[..., Surface]
HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))


def plane(rise: float = 0.05) -> np.ndarray:
    return np.array([(x, y, 100.0 + rise * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])


def test_every_pier_adds_up_as_written(ground: Ground) -> None:
    piers = design_piers(ground(plane()), HUT, PierSpec(layout=RowLayout(rows=2)), PierPrices(), FEET)
    written = json.loads(json.dumps(piers_record(piers), allow_nan=False))
    assert {"goal", "top_m", "units_total", "cost_total", "piers"} <= written.keys()
    assert len(written["piers"]) == len(piers.piers)
    units = 0
    for pier in written["piers"]:
        wanted = {
            "name",
            "x_m",
            "y_m",
            "ground_high_m",
            "ground_low_m",
            "bottom_m",
            "dig_m3",
            "bed_m",
            "bed_m3",
        }
        assert wanted <= pier.keys()
        height = sum(part["thickness_m"] * part["count"] for part in pier["stack"])
        assert pier["bottom_m"] + pier["bed_m"] + height == pytest.approx(pier["top_m"], abs=1e-5)
        assert pier["top_m"] == written["top_m"]
        courses = sum(part["count"] for part in pier["stack"])
        assert courses == pier["units"] if pier["across"] == 1 else courses < pier["units"] <= 2 * courses
        assert pier["load_kn"] > 0.0
        units += pier["units"]
    assert units == written["units_total"]
    names = [check["check"] for check in written["checks"]]
    assert {"joist span", "skid span", "soil bearing"} <= set(names)
    for check in written["checks"]:
        assert check["holds"] == (check["value"] <= check["limit"] * (1 + 1e-6))
        assert check["source"]


def test_a_pier_that_does_not_add_up_is_not_written(ground: Ground) -> None:
    piers = design_piers(ground(plane()), HUT, PierSpec(layout=RowLayout(rows=2)), PierPrices(), FEET)
    broken = replace(piers, piers=(replace(piers.piers[0], bed=piers.piers[0].bed + 2e-5),))
    with pytest.raises(CheckError, match="does not add up"):
        piers_record(broken)


@pytest.mark.parametrize("slip", [{"dig": 1.0}, {"bed_volume": 1.0}, {"pieces": 99}])
def test_piers_that_do_not_add_up_to_the_whole_are_not_written(ground: Ground, slip: dict[str, Any]) -> None:
    piers = design_piers(ground(plane()), HUT, PierSpec(layout=RowLayout(rows=2)), PierPrices(), FEET)
    first, *others = piers.piers
    with pytest.raises(CheckError, match="add up to"):
        piers_record(replace(piers, piers=(replace(first, **slip), *others)))


def test_a_figure_that_is_no_number_is_not_written(ground: Ground) -> None:
    slab = design_slab(ground(plane()), HUT, SlabSpec(), SlabPrices(), FEET)
    with pytest.raises(CheckError, match="nan"):
        written(replace(slab, gravel=math.nan), SLAB)


def test_no_plan_is_written_as_such(ground: Ground) -> None:
    piers = design_piers(ground(plane(0.5)), HUT, PierSpec(layout=RowLayout(rows=2)), PierPrices(), FEET)
    written = piers_record(piers)
    assert written["top_m"] is None
    assert written["piers"] == []


def test_a_slab_is_plain_json(ground: Ground) -> None:
    slab = design_slab(ground(plane()), HUT, SlabSpec(), SlabPrices(), FEET)
    back = json.loads(json.dumps(written(slab, SLAB), allow_nan=False))
    assert back["concrete_m3"] == pytest.approx(slab.concrete.volume)
    assert sum(form["length_m"] for form in back["forms"]) == pytest.approx(HUT.perimeter)
