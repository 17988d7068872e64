"""As dug and as bedded: the demo's holes, the pad's subgrade, and what cannot be."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from gradework.errors import InputError
from gradework.exchange.yard_records import asdug_record
from gradework.project.digging import AsDug, Stage, blocks_on_hand, check_dug
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.stations.forms import SurveyForm
from gradework.project.tops import Tops, read_tops
from gradework.report.later import asdug_text

DEMO = Path(__file__).parents[2] / "data" / "orchard-studio"
FOOT = 0.3048


@cache
def done() -> Plan:
    return plan(read_job((DEMO / "job.toml").read_bytes()), (DEMO / "yard.csv").read_bytes())


def read(data: bytes) -> Tops:
    return read_tops(done(), data, "holes.csv", SurveyForm())


def dug(data: bytes, stage: Stage = "dug", **how: object) -> AsDug:
    return check_dug(done(), read(data), "holes.csv", stage, **how)  # type: ignore[arg-type]


HOLES = (DEMO / "holes.csv").read_bytes()


def test_rock_and_a_root_change_one_stack_under_the_same_top() -> None:
    """HI is 103.46 + 4.54 = 108.00: the hole on rock ends at 100.17, 5 in above the plan."""
    made = dug(HOLES)
    assert made.design is not None
    piers = {one.pier.name: one for one in made.design.piers}
    assert not made.design.moved
    assert [name for name, one in piers.items() if not one.kept] == ["1-3"]
    rock = piers["1-3"]
    assert rock.read.stuck
    assert rock.deeper == 0.0
    assert rock.bottom == pytest.approx(100.17 * FOOT)
    # T - bottom = bed + stack + shim, by hand in inches: the stack is a pad and two blocks of 3 5/8
    stack = 10.875 * 0.0254
    assert rock.height == pytest.approx(stack)
    assert rock.bed == pytest.approx(made.design.planned - 100.17 * FOOT - stack, abs=1e-6)
    # dug 1 7/8 in too deep: gravel to the 6 in that the job allows, the rest by shims
    root = piers["1-2"]
    assert root.bed == pytest.approx(6 * 0.0254)
    assert root.shim == pytest.approx(made.design.planned - 100.06 * FOOT - root.bed - root.height, abs=1e-6)
    assert not made.passed
    assert {f.code for f in made.findings} >= {"asdug-shallow"}
    text = asdug_text(made)
    assert "the top stays at 101.54 ft, 1 of 8 stacks changes. Nothing to buy." in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80


def test_a_double_stack_is_told_as_one() -> None:
    """Two blocks side by side in each course: told as a single stack it would be half as wide."""
    made = dug(HOLES)
    assert made.design is not None
    doubled = tuple(replace(one, pier=replace(one.pier, across=2)) for one in made.design.piers)
    text = " ".join(asdug_text(replace(made, design=replace(made.design, piers=doubled))).split())
    assert "1-3: double: 20 in concrete pad, two 4 in solid blocks (planned: double: " in text
    assert "double" not in asdug_text(made)


def test_the_record_adds_up() -> None:
    record = asdug_record(dug(HOLES))
    assert record["buy"] == []
    assert len(record["piers"]) == 8
    for one in record["piers"]:
        parts = one["bottom_m"] + one["bed_m"] + one["stack_m"] + one["shim_m"]
        assert parts == pytest.approx(record["top_m"], abs=1e-6)


def test_a_hole_that_nothing_fits_moves_the_top() -> None:
    made = dug(HOLES.replace(b"pier 1-1,,7.41,,", b"pier 1-1,,7.05,,ledge"))
    assert made.design is not None
    assert made.design.blocked == ("1-1",)
    (moves,) = [f for f in made.findings if f.code == "asdug-top-moves"]
    assert moves.severity == "stop"
    assert moves.value == pytest.approx(made.design.top - made.level)  # type: ignore[operator]
    assert made.design.top is not None
    # a pad alone on the least bed of 4 in is 7 5/8 in; from the ledge at 100.95 to the top there is less
    least = 100.95 * FOOT + 7.625 * 0.0254
    assert made.design.planned < least <= made.design.top + 1e-9
    assert "the top moves up" in " ".join(asdug_text(made).split())


def test_rock_is_said_by_an_option_too() -> None:
    high = HOLES.replace(b"hit rock", b"")
    free, stuck = dug(high), dug(high, rock=("pier 1-3",))
    for made, on_rock in ((free, False), (stuck, True)):
        assert made.design is not None
        assert next(one for one in made.design.piers if one.pier.name == "1-3").read.stuck is on_rock
    with pytest.raises(InputError, match="no pier '9-9'"):
        dug(HOLES, rock=("9-9",))


def test_holes_as_planned_go_on() -> None:
    piers = done().foundations.piers
    assert piers is not None
    rows = [f"pier {p.name},{p.bottom / FOOT:.4f}" for p in piers.piers]
    made = dug("\n".join(["station,elevation", *rows, ""]).encode())
    assert made.passed
    assert "go on" in asdug_text(made)
    some = dug("\n".join(["station,elevation", *rows[:3], ""]).encode())
    assert some.missing == ("1-4", "2-1", "2-2", "2-3", "2-4")
    assert "not read" in asdug_text(some)


def test_beds_are_held_against_the_stacks_that_the_holes_were_given() -> None:
    beds = (DEMO / "beds.csv").read_bytes()
    made = dug(beds, "bed", earlier=read(HOLES))
    assert made.design is not None
    assert all(one.kept for one in made.design.piers)
    rock = next(one for one in made.design.piers if one.pier.name == "1-3")
    assert [unit.name for unit in rock.laid] == ["20 in concrete pad", "4 in solid block", "4 in solid block"]
    low = next(one for one in made.design.piers if one.pier.name == "2-3")
    # read 8.05 below 108.00; the stack is 18 1/2 in high
    assert low.gravel == 0.0
    assert low.shim == pytest.approx(made.design.planned - 99.95 * FOOT - 18.5 * 0.0254, abs=1e-6)


def test_holes_that_no_top_suits_stop_the_beds_too() -> None:
    """Beds in holes that no stack fits cannot be held against stacks: that was passed over in silence."""
    rows = [b"pier 1-1,,7.05,,ledge", b"pier 2-3,,10.90,,ledge"]
    holes = HOLES
    for row in rows:
        name = row.partition(b",")[0]
        (old,) = [line for line in HOLES.splitlines() if line.startswith(name + b",")]
        holes = holes.replace(old, row)
    assert dug(holes).design.top is None  # type: ignore[union-attr]
    made = dug((DEMO / "beds.csv").read_bytes(), "bed", earlier=read(holes))
    assert [f.code for f in made.findings if f.severity == "stop"] == ["asdug-no-top"]
    assert not made.passed
    assert "No top suits these holes" in asdug_text(made)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (HOLES.replace(b"BM,", b"a stone,"), "asdug-not-tied"),
        (HOLES.replace(b"7.83", b"6.00"), "asdug-above-ground"),
        (b"station,elevation\nBM,103.46\n", "asbuilt-nothing-read"),
    ],
)
def test_what_cannot_be_is_refused(data: bytes, code: str) -> None:
    with pytest.raises(InputError) as told:
        dug(data, kind="piers")
    assert [fault.code for fault in told.value.faults] == [code]


def test_blocks_on_hand_are_those_of_the_order() -> None:
    assert blocks_on_hand(done()) == {
        "8 in hollow block": 7, "4 in solid block": 12, "2 in solid block": 3, "20 in concrete pad": 9,
    }  # fmt: skip


def test_a_pad_is_told_what_to_dig_and_fill_at_each_stake() -> None:
    """Stakes by name or number at their own subgrade; elsewhere there must be room for the least gravel."""
    level, least = done().pad.chosen.level, done().pad.chosen.level - done().pad.spec.gravel
    four = dug(b"station,elevation\n1,90\npad 2,90\npad 3,90\npad 4,90\n", kind="pad")
    wanted = [point.wanted for point in four.points]
    assert all(w <= least + 1e-9 for w in wanted)
    inch = 0.0254 / FOOT
    rows = [
        f"1,{wanted[0] / FOOT + 2 * inch:.4f}",
        f"pad 2,{wanted[1] / FOOT - 2 * inch:.4f}",
        f"pad 3,{wanted[2] / FOOT + 0.3 * inch:.4f}",
        f"middle,{level / FOOT - 6 * inch:.4f}",
        f"door,{least / FOOT + inch:.4f}",
    ]
    made = dug("\n".join(["station,elevation", *rows, ""]).encode(), kind="pad")
    assert [(p.name, p.wrong, p.at_stake) for p in made.points] == [
        ("1", True, True),
        ("pad 2", True, True),
        ("pad 3", False, True),
        ("middle", False, False),
        ("door", True, False),
    ]
    text = " ".join(asdug_text(made).split())
    assert "dig 2 in more" in text
    assert "2 in too deep: 2 in more gravel, no loose soil" in text
    assert "dig 1 in more" in text
    assert made.missing == ("pad 4",)
    assert not made.passed
    with pytest.raises(InputError, match="has no beds"):
        dug(b"station,elevation\n1,90\n", "bed", kind="pad")


def test_a_slab_has_its_base_course_as_a_bed() -> None:
    slab = done().foundations.slab
    assert slab is not None
    under = (slab.level - slab.spec.thickness) / FOOT
    table = f"station,elevation\nslab 1,{under:.4f}\nslab 2,{under - 0.1:.4f}\n"
    made = dug(table.encode(), "bed", kind="slab")
    assert [p.wrong for p in made.points] == [False, True]
    assert "add 1 1/4 in and compact it" in asdug_text(made)
