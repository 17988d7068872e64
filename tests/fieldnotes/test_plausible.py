"""Lengths that cannot be are refused, many at once with the unit that was likely meant."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.heights import (
    read_differences,
    read_drops,
    read_laser,
    read_steps,
    read_water_pairs,
)
from gradework.fieldnotes.levels import read_levels
from gradework.fieldnotes.plausible import LIMITS, likely_unit
from gradework.fieldnotes.spots import read_spots

READERS = {
    "reading": (read_laser, "station,reading\nA,{0}\nB,{1}\nC,{2}\n"),
    "drop": (read_drops, "station,drop\nA,{0}\nB,{1}\nC,{2}\n"),
    "higher": (read_differences, "station,higher\nA,{0}\nB,{1}\nC,{2}\n"),
    "run": (read_steps, "station,run,rise\n1,{0},0\n2,{1},0\n3,{2},0\n"),
    "rise": (read_steps, "station,run,rise\n1,2,{0}\n2,2,{1}\n3,2,{2}\n"),
    "water at to": (read_water_pairs, "from,water at from,to,water at to\nM,1,A,{0}\nA,1,B,{1}\nB,1,C,{2}\n"),
}


@pytest.mark.parametrize("name", READERS)
def test_the_bounds_of_each_kind_hold_at_their_rim(name: str) -> None:
    read, text = READERS[name]
    limit = LIMITS[name]
    inside = [0.5, 0.99 * limit.most, limit.most]
    read(text.format(*inside).encode(), "n.csv", unit="m")
    with pytest.raises(InputError) as caught:
        read(text.format(0.5, 0.6, limit.most + 0.01).encode(), "n.csv", unit="m")
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("notes-impossible", 4)
    assert fault.column > 1
    assert f"the most of {limit.what}" in fault.expected


@pytest.mark.parametrize(
    ("name", "unit", "values", "meant"),
    [
        ("reading", "ft", (54.5, 61, 66.25), "in"),
        ("reading", "m", (141, 136, 129), "cm"),
        ("reading", "m", (1412, 1365, 1290), "mm"),
        ("drop", "ft", (12, 31, 44), "in"),
        ("drop", "m", (42, 55, 71), "cm"),
        ("higher", "m", (12, 30, 41), "cm"),
        ("water at to", "m", (132, 133, 151), "cm"),
    ],
)
def test_many_beyond_the_bounds_are_one_fault_that_names_the_unit(name, unit, values, meant) -> None:
    read, text = READERS[name]
    with pytest.raises(InputError) as caught:
        read(text.format(*values).encode(), "n.csv", unit=unit)
    (fault,) = caught.value.faults
    assert fault.fix == f"if they are in {meant}, write {name} ({meant}) in the header"


def test_a_drop_is_measured_downwards() -> None:
    with pytest.raises(InputError, match="remove the minus sign"):
        read_drops(b"station,drop\nA,-0.4\nB,0.5\n", "n.csv", unit="m")


def test_each_is_told_where_many_are_beyond_the_bounds_and_no_unit_explains_them() -> None:
    with pytest.raises(InputError) as caught:
        read_laser(b"station,reading\nA,1.2\nB,30000000\nC,40000000\nD,50000000\n", "n.csv", unit="m")
    assert [(fault.code, fault.line) for fault in caught.value.faults] == [
        ("notes-impossible", 3),
        ("notes-impossible", 4),
        ("notes-impossible", 5),
    ]


@pytest.mark.parametrize("beyond", [1, 2])
def test_spots_lower_than_any_ground_are_refused_as_those_higher_are(beyond) -> None:
    heights = ["-501"] * beyond + ["-499", "-429", "12"][beyond - 1 :]
    text = "station,x,y,elevation\n" + "".join(f"{i},{i},{i * i},{z}\n" for i, z in enumerate(heights))
    with pytest.raises(InputError) as caught:
        read_spots(text.encode(), "n.csv", unit="m")
    assert {fault.code for fault in caught.value.faults} == {"notes-impossible"}
    first = caught.value.faults[0]
    assert first.line == 2
    assert first.expected == "no less than -500.000 m, the least of ground on this earth"


def test_no_unit_is_named_where_none_fits() -> None:
    assert likely_unit([3e6], "m", LIMITS["reading"]) is None
    with pytest.raises(InputError, match="check the decimal point"):
        read_levels(b"station,BS,IS\nBM,3000000,\nA,,2000000\n", "n.csv", unit="m")
