"""How long one person takes for what is dug, carried and built by hand: a range for each, from one table.

Digging, trimming: published rates for men who do it every day, over what an amateur keeps of them. The rest
is common practice, which is told as a range already.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from gradework.units.amounts import M3_PER_YD3, M_PER_FT, M_PER_IN

AMATEUR = (0.5, 0.7)
"""What one amateur keeps of the book's rate [-]: least and most (judgement)."""

Range = tuple[float, float]
"""Hours of one person, least and most, for one of something."""

DIGGING: Mapping[str, tuple[float, float]] = {
    "sand": (0.66, 0.50),
    "loam": (0.57, 0.43),
    "clay": (0.46, 0.35),
    "sand-and-gravel": (0.57, 0.34),
    "rock": (0.38, 0.28),
}
"""m³ in place an hour by the book, in the open or in a trench and in a pit of up to 2 m²: loose sand, firm
soil, clay, boulder clay (UK norms, quoted at planningplanet.com/wiki/422684); gravel counts as firm soil in
the open, rock as boulder clay, which is what a spade still moves."""

TRIMMING = 20.0
"""m² of bottom trimmed level an hour by the book, 0 to 25 mm, in sand as in clay (the same norms, quoted)."""

BARROW_LOAD = 3.0 * M_PER_FT**3
"""[m³] Loose, on a barrow: about 300 lb of stone (common practice)."""

SPREADING = (1.0 / (1.5 * M3_PER_YD3), 1.0 / M3_PER_YD3)
"""Hours to spread and rake 1 m³ of stone, loose: 1 to 1.5 yd³ an hour; soil too (common practice)."""


def compacting(width: float, speed: float, layer: float, passes: int, kept: float) -> float:
    """Give the m³ that a plate or roller compacts in an hour: ``width`` and ``layer`` [m], ``speed`` [m/h];
    ``kept`` [-] is the part of the hour that it works (roller formula of the road books).

    >>> round(compacting(8 * M_PER_FT, 3 * MILE, 0.1524, 4, 50 / 60) / M3_PER_YD3)  # 8 ft, 3 mph, 6 in layers
    489
    """
    return width * speed * layer * kept / passes


MILE = 5280.0 * M_PER_FT

PLATE = compacting(1.5 * M_PER_FT, 0.8 * MILE, 4.0 * M_PER_IN, 4, 0.5)
"""m³ compacted an hour under a plate 18 in wide at 0.8 mph, 4 in layers, 4 passes, half of the time."""

CARRY, CARRY_METRIC = 50.0 * M_PER_FT, 15.0
"""Stone and soil are wheeled so far where a job in feet or in metres does not say it [m] (judgement)."""

TIRED = 1.5
"""What a barrow takes uphill, on soft ground, late in the day, over the formula [-] (judgement)."""

WALKED = 150.0 * M_PER_FT
"""A barrow goes so far in a minute [m] (common practice)."""

LABOUR: Mapping[str, Range] = {
    "layout": (3.0, 5.0),
    "earth fill": (1.0, 2.0),
    "piers": (0.5, 1.0),
    "concrete from bags": (4.0, 7.0),
    "concrete from a truck": (1.5, 3.0),
    "form boards": (1.0, 2.0),
    "timber frame": (1.0, 2.0),
    "edge stakes": (0.1, 0.25),
    "edge timbers": (2.0, 4.0),
    "drain pipe": (0.2, 0.5),
    "gutter": (0.5, 1.0),
    "steps": (0.5, 1.0),
    "ramp": (0.6, 1.2),
    "ground cover": (0.06, 0.15),
    "ground anchors": (0.3, 0.8),
    "fabric": (0.02, 0.05),
    "vapor barrier": (0.02, 0.05),
    "welded wire mesh": (0.03, 0.08),
    "machine digging": (0.25, 0.5),
    "machine holes": (0.25, 0.5),
    "floor frame": (0.3, 0.6),
}
"""Hours of one person by hand, least and most: layout with batter boards, a pier laid level; per m³ of earth
compacted, of concrete and of what a hired excavator digs, per anchor set, stake driven or step built, per
10 ft of pipe or gutter, per m² of ramp, floor, board face, timber face (pins and screws too), ground cover,
fabric, vapor barrier and mesh. Common practice, no source; the range is honest."""


DUG: Mapping[str, str] = {"digging": "machine digging", "holes": "machine holes"}
"""The kinds of work that are digging by hand, and what they are where a machine is hired."""


def dug_as(takes: Mapping[str, float], kind: str) -> float:
    """Give what is dug of one of the kinds of ``DUG`` [m³], by hand or by a machine."""
    return takes.get(kind, 0.0) + takes.get(DUG[kind], 0.0)


def machine_hours(takes: Mapping[str, float], rates: Mapping[str, Range]) -> float:
    """Give the hours that a machine digs all of it in, at the middle of their range."""
    return sum(dug_as(takes, kind) * middle(rates[machine]) for kind, machine in DUG.items())


class Conditions(NamedTuple):
    """What the rates hang on: the soil, how far stone and soil are wheeled [m], how much looser stone comes
    than it lies [-]."""

    soil: str = "loam"
    carry: float = CARRY
    loose: float = 1.25


def barrow_hours(distance: float) -> float:
    """Give the hours to load, wheel and tip 1 m³ loose: 3.2 minutes a load and the way there and back.

    >>> cycle = barrow_hours(100 * 0.3048) * BARROW_LOAD * 60.0       # minutes
    >>> round(cycle, 2), round(60.0 / cycle * 3.0 / 27.0, 2)          # yd³ an hour
    (4.53, 1.47)
    """
    return (3.2 + 2.0 * distance / WALKED) / 60.0 / BARROW_LOAD


def by_hand(book: float) -> Range:
    """Give the hours of an amateur for 1 of what the book does so much of in an hour.

    >>> [round(5.145 * hours) for hours in by_hand(0.46)]              # 6.73 yd³ of clay: 11.2 h by the book
    [16, 22]
    """
    return 1.0 / (book * AMATEUR[1]), 1.0 / (book * AMATEUR[0])


def labour(where: Conditions) -> Mapping[str, Range]:
    """Give the hours for one of each thing that is worked, at one place.

    ``digging`` and ``holes`` per m³ in place, ``trimming`` per m² of bottom, ``soil carried`` and
    ``soil spread`` per m³ loose,
    ``gravel`` and ``drain stone`` per m³ compacted: wheeled, spread and, but for drains, compacted.
    """
    open_dig, pit = DIGGING[where.soil]
    wheel = barrow_hours(where.carry)
    carried = (wheel, wheel * TIRED)
    stone = tuple(where.loose * (one + more) for one, more in zip(carried, SPREADING, strict=True))
    laid = (stone[0] + 1.0 / PLATE, stone[1] + TIRED / PLATE)
    return {
        "digging": by_hand(open_dig),
        "holes": by_hand(pit),
        "trimming": by_hand(TRIMMING),
        "soil carried": carried,
        "soil spread": SPREADING,
        "gravel": laid,
        "drain stone": (stone[0], stone[1]),
        **LABOUR,
    }


def middle(span: Range) -> float:
    """Give the middle of a range of hours: what a comparison counts with."""
    return 0.5 * (span[0] + span[1])
