"""What to hire: from when it pays, and for how long, by the hours of the work it is hired for."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from gradework.units.amounts import M3_PER_YD3

if TYPE_CHECKING:
    from gradework.earthwork.materials import Soil
    from gradework.sitework.days import Crew
    from gradework.sitework.order import Order
    from gradework.units.display import Display

# What is better hired than done by hand: common practice, no source.

PLATE_FROM = M3_PER_YD3
"""A plate compactor pays from so much compacted stone [m³]."""

DIGGER_FROM = 4.5 * M3_PER_YD3
"""A mini-excavator pays from so much digging in place [m³], from half of it in clay."""

LASER_FROM = 6
"""A laser level pays one person from so many piers; of two one reads and one holds the rod."""


class Hired(NamedTuple):
    """One thing to hire, for how long, and why: the ``key`` of the price of a day, how many ``days``."""

    item: str
    why: str
    key: str
    days: float


class Work(NamedTuple):
    """What hire goes by: ``dug`` [m³ in place] is all the digging, ``piers`` how many there are; the hours of
    one person to lay the stone, to dig with a machine and to lay the piers; the ``crew``."""

    dug: float
    piers: int
    laying: float
    machine: float
    levelling: float
    crew: Crew


def to_hire(order: Order, work: Work, soil: Soil, show: Display) -> tuple[Hired, ...]:
    """Say what to hire for an order, each for as long as its work takes at the middle of the hours.

    A plate stays until the last layer is down, by half days; a machine is driven by one, by whole days.
    An order of nothing hires nothing.
    """
    if not order.lines:
        return ()
    found = []
    stone = math.fsum(line.compacted for line in order.lines)
    if stone >= PLATE_FROM:
        days = whole_days(work.laying / work.crew.people, 0.5 * work.crew.day) / 2.0
        what = f"{show.volume(stone)} of stone to compact; it pays from {show.volume(PLATE_FROM)}"
        found.append(Hired(f"plate compactor, {days_said(days)}", what, "plate_day", days))
    stiff = soil.key == "clay"
    least = DIGGER_FROM * (0.5 if stiff else 1.0)
    if work.dug >= least:
        days = float(whole_days(work.machine, work.crew.day))
        what = f"{show.volume(work.dug)} to dig{' in clay' if stiff else ''}, which by hand takes days; "
        what += f"it pays from {show.volume(least)}"
        found.append(Hired(f"mini-excavator, {days_said(days)}", what, "excavator_day", days))
    if work.crew.people == 1 and work.piers >= LASER_FROM:
        days = float(whole_days(work.levelling, work.crew.day))
        what = f"{work.piers} piers to bring to one level alone; it pays from {LASER_FROM}"
        found.append(Hired(f"laser level with rod, {days_said(days)}", what, "laser_day", days))
    return tuple(found)


def whole_days(hours: float, day: float) -> int:
    """Give how many days of so many hours some work takes, one at the least.

    >>> whole_days(8.0, 8.0), whole_days(8.1, 8.0), whole_days(0.0, 8.0)
    (1, 2, 1)
    """
    return max(1, math.ceil(hours / day - 1e-9))


def days_said(days: float) -> str:
    """Say for how many days something is hired.

    >>> [days_said(count) for count in (0.5, 1.0, 1.5, 2.0)]
    ['half a day', 'one day', '1 1/2 days', '2 days']
    """
    if days <= 1.0:
        return "half a day" if days < 1.0 else "one day"
    whole = int(days)
    return f"{whole} days" if days == whole else f"{whole} 1/2 days"
