"""Blocks measured on delivery: their heights are what is planned with, their counts what is there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from gradework.errors import InputError
from gradework.foundations.piers.spec import PierSpec
from gradework.foundations.piers.units import BASE_PADS, MEASURED, UNITS_ON_HAND
from gradework.project.digging import blocks_on_hand
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan

DEMO = Path(__file__).parents[3] / "data" / "orchard-studio"
INCH = 0.0254
HEAD = 'name = "x"\nunits = "ft"\n[survey]\nnotes = "n.csv"\n[building]\nsize = [16, 12]\ncorner = [0, 0]\n'


def measured(*rows: tuple[str, str, int | None]) -> str:
    tables = []
    for of, height, count in rows:
        more = "" if count is None else f"count = {count}\n"
        tables.append(f'[[piers.measured]]\nof = "{of}"\nheight = "{height}"\n{more}')
    return "".join(tables)


def spec(tables: str, units: str = "ft") -> PierSpec:
    job = read_job((HEAD.replace('"ft"', f'"{units}"') + "[piers]\n" + tables).encode(), "job.toml")
    assert job.piers is not None
    return job.piers.spec(us=units == "ft")


def demo(tables: str) -> Plan:
    text = (DEMO / "job.toml").read_text("utf-8")
    text = text.replace("\n[slab] ", f"\n{tables}\n[slab] ")
    assert tables in text
    return plan(read_job(text.encode()), (DEMO / "yard.csv").read_bytes())


def test_a_measured_height_takes_the_place_of_the_listed_one() -> None:
    made = spec(measured(("8 in hollow block", "7 9/16 in", 9), ("20 in concrete pad", "3 3/4 in", None)))
    listed = UNITS_ON_HAND["US"]
    assert made.units[0].thickness == pytest.approx(7.5625 * INCH)
    assert (made.units[0].delivered, made.units[0].source) == (9, MEASURED)
    assert made.units[1:] == listed[1:]
    assert (made.units[0].mass, made.units[0].hollow) == (listed[0].mass, True)
    pads = {pad.name: pad.thickness / INCH for pad in made.pads}
    assert pads["20 in concrete pad"] == pytest.approx(3.75)
    assert made.pads[0] == BASE_PADS["US"][0]


def test_a_kind_is_known_by_what_its_name_alone_begins_with() -> None:
    made = spec(measured(("4 IN  solid", "3 11/16 in", None)))
    assert made.units[1].thickness == pytest.approx(3.6875 * INCH)
    metric = spec(measured(("100 mm", "98 mm", None)), "m")
    assert [unit.thickness for unit in metric.units] == pytest.approx([0.14, 0.098, 0.05])


@pytest.mark.parametrize(
    ("rows", "code", "line"),
    [
        ([("6 in hollow block", "5 5/8 in", None)], "measured-unknown", 10),
        ([("", "5 5/8 in", None)], "measured-unknown", 10),
        ([("2 in", "1 1/2 in", None), ("2 in solid block", "1 5/8 in", None)], "measured-twice", 13),
        ([("8 in hollow", "3 5/8 in", None)], "measured-far", 11),
    ],
)
def test_what_cannot_be_is_told_at_its_line(
    rows: list[tuple[str, str, int | None]], code: str, line: int
) -> None:
    text = (HEAD + "[piers]\n" + measured(*rows)).replace('of = ""', 'of = "in"')
    notes = "x,y,elevation\n" + "".join(f"{x},{y},{100 - x / 10}\n" for x in (-9, 30) for y in (-9, 30))
    with pytest.raises(InputError) as problem:
        plan(read_job(text.encode(), "job.toml"), notes.encode())
    (fault,) = problem.value.faults
    assert (fault.code, fault.file, fault.line) == (code, "job.toml", line)


def test_all_that_is_wrong_is_told_at_once() -> None:
    rows = [("brick", "2 in", None), ("8 in", "2 in", None), ("4 in", "3 1/2 in", None)]
    with pytest.raises(InputError) as problem:
        spec(measured(*rows))
    assert [fault.code for fault in problem.value.faults] == ["measured-unknown", "measured-far"]


def test_the_plan_stacks_what_is_there() -> None:
    done = demo(measured(("8 in hollow", "7 9/16 in", 3), ("4 in solid", "3 11/16 in", None)))
    piers = done.foundations.piers
    assert piers is not None
    assert piers.top is not None
    heights = {"8 in hollow block": 7.5625, "4 in solid block": 3.6875}
    for pier in piers.piers:
        for unit in pier.laid:
            assert unit.thickness / INCH == pytest.approx(heights.get(unit.name, unit.thickness / INCH))
        stack = sum(unit.thickness for unit in pier.laid)
        assert pier.bottom + pier.bed + stack == pytest.approx(piers.top, abs=1e-8)
    notes = {line.item: line.note for line in done.orders["piers"].lines}
    assert "as measured, 7 9/16 in thick" in notes["8 in hollow block"]
    assert "measure them before you lay" in notes["2 in solid block"]


def test_too_few_blocks_are_told_and_are_what_is_on_hand() -> None:
    done = demo(measured(("8 in hollow", "7 5/8 in", 3)))
    piers = done.foundations.piers
    assert piers is not None
    laid = piers.units_by_kind()["8 in hollow block"]
    assert laid > 3
    (short,) = _codes(done, "measured-too-few")
    assert f"take {laid} of 8 in hollow block; 3 came. Get {laid - 3} more" in short
    on_hand = blocks_on_hand(done)
    assert on_hand["8 in hollow block"] == 3
    assert on_hand["4 in solid block"] > piers.units_by_kind()["4 in solid block"]
    assert not list(_codes(demo(measured(("8 in hollow", "7 5/8 in", laid))), "measured-too-few"))


def _codes(done: Plan, code: str) -> Iterator[str]:
    piers = done.foundations.piers
    assert piers is not None
    return (found.advice for found in piers.findings if found.code == code)
