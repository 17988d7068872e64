"""A level book with several routes: every reading adjusted at once, in place of one line after the other.

A single line that closes is shared out by the rule of the book; where more than one route leads to a point,
the routes hold each other to account, and the readings are adjusted together by weighted least squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.errors import Finding, visible
from gradework.survey.network import INSTRUMENT, Rise, adjust_network, off_limit

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.level_notes import LevelRow
    from gradework.survey.setups import Setup, Sight
    from gradework.units import Display

_ALIKE = 1e-6
_MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class AdjustedReading:
    """One reading of the network: its ``line`` and ``column`` in the book, the ``reading`` [m], its
    ``residual`` adjusted minus read [m] and that over its own standard error (0 where nothing checks it)."""

    station: str
    line: int
    column: str
    reading: float
    residual: float
    standardised: float


@dataclass(frozen=True, slots=True)
class BookNetwork:
    """How a book of several routes was adjusted.

    ``elevation`` and ``sd`` by station [m]; ``readings`` in the order of the book; ``surplus`` readings to
    spare; ``reference_variance`` [-], about 1 where the readings are as good as ``reading_sd`` [m] says;
    ``limit`` the standardised residual that one of so many sound readings hardly passes; ``suspects`` the
    readings with the largest one (more than one where the network cannot tell them apart).
    """

    elevation: Mapping[str, float]
    sd: Mapping[str, float]
    readings: tuple[AdjustedReading, ...]
    surplus: int
    reference_variance: float
    reading_sd: float
    limit: float
    suspects: tuple[AdjustedReading, ...]

    @property
    def sound(self) -> bool:
        """Whether no reading is off by more than chance makes it."""
        return abs(self.suspects[0].standardised) <= self.limit


def is_network(
    rows: Sequence[LevelRow], setups: Sequence[Setup], known: Mapping[str, float], *, closed: bool
) -> bool:
    """Tell whether more than one route leads to some point: two checks at least, or one that is no closure.

    Readings of one point from one set-up are repeats, not routes.
    """
    pairs = {(s.number, rows[x.row].station) for s in setups for x in (s.back, *s.forward)}
    free = {station for _, station in pairs if station not in known}
    routes = len(pairs) - len(setups) - len(free)
    return routes >= 2 or (routes == 1 and not closed)


def adjust_book(
    rows: Sequence[LevelRow],
    setups: Sequence[Setup],
    known: Mapping[str, float],
    *,
    reading_sd: float,
    by_length: bool = False,
    single: bool = False,
) -> BookNetwork:
    """Adjust all readings onto the ``known`` elevations [m]; ``reading_sd`` [m] that of one reading.

    ``by_length``: where the length of every sight was measured, its variance grows in proportion to it, and
    ``reading_sd`` is that of the mean length. ``single``: the book has one column of readings. Raises
    InputError for readings that no route joins to a mark.
    """
    sights = [(s, x) for s in setups for x in (s.back, *s.forward)]
    sd = _spreads([x for _, x in sights], reading_sd, by_length=by_length)
    rises = [
        Rise(rows[x.row].station, f"{INSTRUMENT}{s.number}", x.reading, e, rows[x.row].line)
        for (s, x), e in zip(sights, sd, strict=True)
    ]
    net = adjust_network(rises, known, scale=False)
    numbers = zip(sights, net.residuals.tolist(), net.standardised.tolist(), strict=True)
    readings = tuple(_reading(rows[x.row], s, x, off, t, single=single) for (s, x), off, t in numbers)
    most = max(abs(r.standardised) for r in readings)
    ground = [i for i, name in enumerate(net.names) if not name.startswith(INSTRUMENT)]
    return BookNetwork(
        elevation={**known, **{net.names[i]: float(net.elevation[i]) for i in ground}},
        sd={**dict.fromkeys(known, 0.0), **{net.names[i]: float(net.sd[i]) for i in ground}},
        readings=readings,
        surplus=net.surplus,
        reference_variance=net.reference_variance,
        reading_sd=reading_sd,
        limit=off_limit(net.standardised),
        suspects=tuple(r for r in readings if abs(r.standardised) >= most * (1 - _ALIKE)),
    )


def _spreads(sights: Sequence[Sight], reading_sd: float, *, by_length: bool) -> list[float]:
    lengths = [x.length for x in sights if x.length]
    if not by_length or len(lengths) < len(sights):
        return [reading_sd] * len(sights)
    mean = math.fsum(lengths) / len(lengths)
    return [reading_sd * math.sqrt(length / mean) for length in lengths]


def _reading(
    row: LevelRow, setup: Setup, sight: Sight, residual: float, t: float, *, single: bool
) -> AdjustedReading:
    column = "BS" if sight is setup.back else "FS" if row.foresight is not None else "IS"
    if single:
        column = "reading"
    return AdjustedReading(row.station, row.line, column, sight.reading, residual, t)


def network_finding(network: BookNetwork, show: Display, *, shared: bool) -> Finding:
    """What the adjustment says: a note where the routes agree, else a warning that names the reading."""
    worst = network.suspects[0]
    where = f"{visible(worst.station)}, line {worst.line}"
    if network.sound:
        advice = (
            f"More than one route leads to some points, so all readings were adjusted together, "
            f"{network.surplus} of them to spare; reference variance {network.reference_variance:.2f} (about "
            f"1 is usual). The worst reading is the {worst.column} on line {worst.line}, "
            f"{show.elevation(abs(worst.residual))} off."
        )
        if not shared:
            advice = advice.replace("were adjusted", "were compared") + " Nothing was adjusted: see the miss."
        return Finding("levels-adjusted", "note", where, abs(worst.standardised), network.limit, advice)
    listed = [f"the {r.column} of {visible(r.station)} on line {r.line}" for r in network.suspects]
    more = f" or {len(listed) - _MOST_NAMED} more" if len(listed) > _MOST_NAMED else ""
    told = f"the worst is {listed[0]}, which the others put {show.elevation(abs(worst.residual))} elsewhere"
    if len(listed) > 1:
        told = f"one of these is off, and nothing tells which: {', '.join(listed[:_MOST_NAMED])}{more}"
    advice = f"The routes contradict each other: {told}. Nothing was adjusted. Level that stretch again."
    return Finding("routes-disagree", "warning", where, abs(worst.standardised), network.limit, advice)
