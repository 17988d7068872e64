"""What to hire: from when it pays, and for as long as its work takes."""

from __future__ import annotations

import pytest

from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import DEFAULT_GRAVEL, SOILS
from gradework.sitework.days import Crew
from gradework.sitework.hire import LASER_FROM, PLATE_FROM, Work, to_hire
from gradework.sitework.order import Order, gravel_line, gravel_need
from gradework.sitework.supplier import Supplier
from gradework.units.amounts import M3_PER_YD3
from gradework.units.display import FEET

US, LOAM, CLAY = Supplier.us(), SOILS["loam"], SOILS["clay"]
LITTLE = Work(dug=3.0 * M3_PER_YD3, piers=8, laying=2.0, machine=1.0, levelling=6.0, crew=Crew())


def stone(m3: float) -> Order:
    return Order().plus(gravel_line(gravel_need(CompactedVolume(m3), DEFAULT_GRAVEL, US), US, FEET))


def test_hire_what_pays_and_say_from_when() -> None:
    base = stone(2.0)
    loam, clay = (to_hire(base, LITTLE, soil, FEET) for soil in (LOAM, CLAY))
    plate, laser = "plate compactor, half a day", "laser level with rod, one day"
    assert [one.item for one in loam] == [plate, laser]
    assert [one.item for one in clay] == [plate, "mini-excavator, one day", laser]
    assert [one.why for one in clay] == [
        "2.62 yd³ of stone to compact; it pays from 1.00 yd³",
        "3.00 yd³ to dig in clay, which by hand takes days; it pays from 2.25 yd³",
        "8 piers to bring to one level alone; it pays from 6",
    ]
    assert to_hire(Order(), LITTLE._replace(dug=99.0), LOAM, FEET) == ()  # nothing is ordered


@pytest.mark.parametrize("more", [False, True])
def test_just_from_there_on(more: bool) -> None:
    slack = 1e-6 if more else -1e-6
    piers = LASER_FROM if more else LASER_FROM - 1
    dug = (4.5 + slack) * M3_PER_YD3
    hired = to_hire(stone(PLATE_FROM + slack), LITTLE._replace(piers=piers, dug=dug), LOAM, FEET)
    assert [one.key for one in hired] == (["plate_day", "excavator_day", "laser_day"] if more else [])


def test_each_as_long_as_its_work_takes() -> None:
    """A plate by half days until the last layer is down, the others by whole days of the crew."""
    long = LITTLE._replace(dug=30.0, laying=10.0, machine=11.25, levelling=13.5)
    said = [(one.item.partition(", ")[2], one.days) for one in to_hire(stone(5.0), long, LOAM, FEET)]
    assert said == [("1 1/2 days", 1.5), ("2 days", 2.0), ("2 days", 2.0)]
    short_days = long._replace(crew=Crew(day=5.0))
    assert [one.days for one in to_hire(stone(5.0), short_days, LOAM, FEET)] == [2.0, 3.0, 3.0]


def test_two_read_and_hold_the_rod_themselves_and_lay_stone_in_half_the_time() -> None:
    pair = LITTLE._replace(laying=10.0, piers=20, crew=Crew(people=2))
    assert [(one.key, one.days) for one in to_hire(stone(5.0), pair, LOAM, FEET)] == [("plate_day", 1.0)]
