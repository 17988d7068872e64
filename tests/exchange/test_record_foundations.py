"""Piers, slab and comparison in the result record: the schema holds, the figures add up."""

from __future__ import annotations

import copy
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from gradework.exchange.record import record
from gradework.project.job.read import read_job
from gradework.project.plan import plan

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "result.schema.json").read_text("utf-8"))
CHECK = jsonschema.Draft202012Validator(SCHEMA)
DEMO = ROOT / "data" / "orchard-studio"


@lru_cache
def documented(text: str) -> dict[str, Any]:
    return record(plan(read_job(text.encode()), (DEMO / "yard.csv").read_bytes()))


def demo() -> dict[str, Any]:
    return copy.deepcopy(documented((DEMO / "job.toml").read_text("utf-8")))


def faults(document: dict[str, Any]) -> list[str]:
    return [error.message for error in CHECK.iter_errors(document)]


def test_the_demo_with_all_three_keeps_the_schema() -> None:
    document = demo()
    assert faults(document) == []
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert len(document["piers"]["piers"]) == 8
    assert (
        document["chosen"] == "piers"
    )  # the pad takes a long swale, and nothing holds the gravel of the slab
    assert {one["foundation"]: one["buildable"] for one in document["options"]} == {
        "piers": True, "pad": True, "slab": False,
    }  # fmt: skip
    forced = documented('build = "pad"\n' + (DEMO / "job.toml").read_text("utf-8"))
    assert faults(forced) == []
    assert forced["chosen"] == "pad"


def test_every_pier_adds_up_to_the_top() -> None:
    piers = demo()["piers"]
    for pier in piers["piers"]:
        stack = sum(part["thickness_m"] * part["count"] for part in pier["stack"])
        assert pier["bottom_m"] + pier["bed_m"] + stack == pytest.approx(pier["top_m"], abs=1e-5)
        assert pier["top_m"] == piers["top_m"]
    # "ground that falls at least 15 in": from the highest to the lowest pier
    lows = [pier["ground_low_m"] for pier in piers["piers"]]
    assert max(lows) - min(lows) >= 15 * 0.0254


def test_the_options_of_the_comparison_are_those_of_the_plan() -> None:
    document = demo()
    options = {option["name"]: option for option in document["comparison"]["options"]}
    assert list(options) == ["block piers", "boxed gravel pad", "slab"]  # cheapest first
    assert options["block piers"]["cost"] == pytest.approx(document["piers"]["cost_total"])
    assert options["slab"]["cost"] == pytest.approx(document["slab"]["cost_total"])
    pad = document["pad"]
    assert pad["beside_m3"] > 1.0  # working room and laid-back faces, dug besides what lies under the pad
    (judged,) = (one for one in document["options"] if one["foundation"] == "pad")
    led = sum(one["cut_m3"] for one in judged["measures"] if one["kind"] == "swale")
    assert led > 10.0  # a swale round three sides
    own = pad["excavation_m3"] + pad["beside_m3"]
    deeper = options["boxed gravel pad"]["dig_m3"] - own - led  # for topsoil that goes back 3 in deep
    assert 0.0 < deeper < 0.0762 * 60.0  # on less ground than 60 m2
    assert document["comparison"]["winner"] == "block piers"
    assert document["comparison"]["prices_invented"] == []


def test_what_is_not_asked_for_is_empty() -> None:
    alone = (DEMO / "job.toml").read_text("utf-8").partition("[pad]")[0] + "[piers]\n"
    document = documented(alone)
    assert faults(document) == []
    assert (document["pad"], document["slab"], document["comparison"]) == ({}, {}, {})
    assert document["chosen"] == "piers"


@pytest.mark.parametrize(
    "path",
    [
        ("piers", "top_m"),
        ("piers", "piers", 0, "bed_m"),
        ("piers", "piers", 0, "stack", 0, "count"),
        ("slab", "concrete_m3"),
        ("comparison", "winner"),
        ("comparison", "options", 0, "cost"),
        ("chosen",),
    ],
)
def test_the_schema_misses_what_is_left_out(path: tuple[str | int, ...]) -> None:
    document: Any = demo()
    inner = document
    for key in path[:-1]:
        inner = inner[key]
    del inner[path[-1]]
    assert faults(document) != []


def test_the_schema_refuses_what_it_does_not_know() -> None:
    document = demo()
    document["piers"]["colour"] = "grey"
    document["comparison"]["options"][0]["smell"] = 1
    assert len(faults(document)) >= 2
