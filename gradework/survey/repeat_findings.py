"""Readings that contradict each other, in the words of the notes: which is misread, by what slip, on which
line.

Nothing is changed; where two explanations are as good as each other, both are told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.errors import Finding, finding, visible
from gradework.survey.misreadings import Misreading, explain
from gradework.survey.repeats import ENOUGH, MOST_READINGS, WORSE, Contradiction, RepeatReadings
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.survey.levelling.readings import Reading
    from gradework.units.lengths import Unit

    Ground = Mapping[str, tuple[float, float]]


TOLD_FROM = 3
"""With fewer repeat readings the error of a reading is not told."""

_AS_GOOD = 2.0  # explanations less likely than the best by more than this (a logarithm) are not told
_NO_SLIP = -5.0
_EXCHANGE_WITHIN = 3.0  # standard errors


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading that may be the wrong one: its index, the ``slip`` that explains it (None without), how
    likely it is (a logarithm)."""

    reading: int
    slip: Misreading | None
    score: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """A contradiction and what may explain it. ``suspects``: misread readings, likeliest first;
    ``exchanged``: pairs of readings that stand in each other's line, likeliest first; ``moved``: the
    instrument rather than a reading."""

    contradiction: Contradiction
    suspects: tuple[Suspect, ...] = ()
    exchanged: tuple[tuple[int, int], ...] = ()
    moved: bool = False


def find_doubts(
    readings: Sequence[Reading], unit: Unit, reading_sd: float, ground: Ground | None = None
) -> tuple[tuple[Doubt, ...], RepeatReadings]:
    """Find readings that contradict each other and what explains them, the weightiest first.

    ``reading_sd`` [m] of one reading, where repeat readings are few. ``ground``: the level of a station by
    the shots around it and the standard error of that [m], which helps to tell which reading is wrong.
    """
    second = RepeatReadings(readings, unit, reading_sd)
    found: list[Doubt] = []
    left = list(second.found)
    while left:
        one = left.pop(0)
        if not one.readings:
            found.append(Doubt(one, moved=True))
            continue
        swaps = _exchanges(one, readings, second, ground or {})
        if swaps:
            partners = {readings[j].station for _, j in swaps}
            left = [c for c in left if not (c.readings and readings[c.readings[0]].station in partners)]
            found.append(Doubt(one, exchanged=swaps))
            continue
        suspects = _suspects(one, readings, second, unit, ground or {})
        # Only a reading that others frame can be told from a move; an opening backsight has none before it.
        opens = any(readings[i].back for i in one.readings)
        moved = one.between is not None and (opens or suspects[0].slip is None)
        found.append(Doubt(one, suspects, moved=moved))
    return tuple(found), second


def _suspects(
    one: Contradiction, readings: Sequence[Reading], second: RepeatReadings, unit: Unit, ground: Ground
) -> tuple[Suspect, ...]:
    signed = any(reading.written.value < 0 for reading in readings)
    found: list[Suspect] = []
    for i in one.readings:
        off, sd = second.off(i)
        written = readings[i].written
        sd = math.hypot(sd, second.place / 2)  # sound readings that agree to the place may be one apart
        slips = explain(written.value, written.sense * off, sd, unit, signed=signed, rod=written.rod)
        likely = _by_ground(i, off, readings, ground)
        found += [Suspect(i, slip, slip.score + likely) for slip in slips]
        if not slips:
            found.append(Suspect(i, None, _NO_SLIP + likely))
    return tuple(sorted(found, key=lambda s: -s.score))


def _by_ground(i: int, off: float, readings: Sequence[Reading], ground: Ground) -> float:
    """How well the level that the other readings give fits the ground around it, as a logarithm, 0 at
    best."""
    if readings[i].station not in ground:
        return 0.0
    level, sd = ground[readings[i].station]
    return -0.5 * ((readings[i].level - off - level) / sd) ** 2


def _exchanges(
    one: Contradiction, readings: Sequence[Reading], second: RepeatReadings, ground: Ground
) -> tuple[tuple[int, int], ...]:
    """Pairs of readings from one set-up that fit when they change places, likeliest first."""
    found: list[tuple[float, int, int]] = []
    for i in one.readings:
        off, sd = second.off(i)
        if readings[i].back:
            continue
        for j, other in enumerate(readings):
            same = other.setup == readings[i].setup and other.station != readings[i].station
            if not same or other.back:
                continue
            miss = (readings[i].level - off) - other.level  # what i should say is what j says
            if abs(miss) > _EXCHANGE_WITHIN * sd:
                continue
            its, spread = second.off(j)
            back = (other.level - its) - readings[i].level if math.isfinite(its) else math.inf
            if abs(back) <= _EXCHANGE_WITHIN * spread and abs(its) > _EXCHANGE_WITHIN * spread:
                likely = _by_ground(i, off, readings, ground) + _by_ground(j, its, readings, ground)
                found.append((-0.5 * (miss**2 / sd**2 + back**2 / spread**2) + likely, i, j))
    found.sort(key=lambda f: (-f[0], f[1], f[2]))
    return tuple((i, j) for score, i, j in found if score > found[0][0] - _AS_GOOD)


def repeat_findings(
    readings: Sequence[Reading], unit: Unit, reading_sd: float, ground: Ground | None = None
) -> tuple[tuple[Finding, ...], frozenset[str]]:
    """What repeat readings say, as warnings, and the names of the stations whose level is in doubt by them.

    Codes: `reading-misread` where a usual slip explains it, `shots-disagree` where none does,
    `instrument-moved`, `reading-error` (a note; a warning where it is twice that of the instrument), and
    `blunder-check-left-out` (a note) for more than 2000 readings at points read twice.
    """
    doubts, second = find_doubts(readings, unit, reading_sd, ground)
    found = tuple(_finding(doubt, readings, second, Display(unit)) for doubt in doubts)
    if count := second.left_out:
        limit = float(MOST_READINGS)
        left_out = finding(
            "blunder-check-left-out",
            "note",
            "the whole survey",
            float(count),
            limit,
            variant="readings",
            count=count,
        )
        found = (left_out, *found)
    if second.to_spare >= TOLD_FROM:
        found = (*found, _reading_error(second, reading_sd, Display(unit)))
    return found, doubted(doubts, readings)


def doubted(doubts: Sequence[Doubt], readings: Sequence[Reading]) -> frozenset[str]:
    """Names of the stations whose level is in doubt by a misread reading."""
    involved = [d.exchanged[0] if d.exchanged else d.contradiction.readings for d in doubts if not d.moved]
    return frozenset(readings[i].station for some in involved for i in some)


def _finding(doubt: Doubt, readings: Sequence[Reading], second: RepeatReadings, show: Display) -> Finding:
    one = doubt.contradiction
    if doubt.moved:
        return _moved(doubt, readings, show)
    name = visible(readings[one.readings[0]].station)
    first, last = one.widest or (one.readings[0], one.readings[0])
    a, b = readings[first].written.line, readings[last].written.line
    where = f"{name}, lines {a} and {b}" if a and b else name
    apart = show.elevation(abs(second.level[first] - second.level[last]))
    slips = _slips(doubt.suspects, readings, show)
    if not slips and not doubt.exchanged:
        return finding("shots-disagree", "warning", where, one.apart, one.limit, name=name, apart=apart)
    lines = " or ".join(
        f"lines {readings[i].written.line} and {readings[j].written.line}" for i, j in doubt.exchanged
    )
    return finding(
        "reading-misread",
        "warning",
        where,
        one.apart,
        one.limit,
        variant="exchanged" if doubt.exchanged else "",
        name=name,
        apart=apart,
        slips=slips,
        other=visible(readings[doubt.exchanged[0][1]].station) if doubt.exchanged else "",
        lines=lines,
    )


def _slips(suspects: Sequence[Suspect], readings: Sequence[Reading], show: Display) -> str:
    """The likeliest slips, each with its line and what was written for what; empty where none explains it."""
    if not suspects or suspects[0].slip is None:
        return ""
    words = []
    for suspect in suspects:
        if suspect.slip is not None and suspect.score > suspects[0].score - _AS_GOOD:
            slip, note = suspect.slip, readings[suspect.reading].written
            line = f" on line {note.line}" if note.line else ""
            values = f"{show.rod(note.value)} written for {show.rod(slip.likely)}"
            words.append(f"{slip.kind}{line}: {values}")
    return "; or ".join(words)


def _moved(doubt: Doubt, readings: Sequence[Reading], show: Display) -> Finding:
    one = doubt.contradiction
    assert one.between is not None
    after, before = (readings[i].written.line for i in one.between)
    lines = f"lines {after} and {before}"
    name, difference, where = "", -one.apart, lines
    if one.widest is not None:
        a, b = (readings[i].written for i in one.widest)
        name = visible(readings[one.widest[0]].station)
        difference, where = b.value - a.value, f"{name}, {lines}"
    slips = _slips(doubt.suspects, readings, show)
    return finding(
        "instrument-moved",
        "warning",
        where,
        difference,
        one.limit,
        variant="unseen" if one.widest is None else "" if not one.readings else "slip" if slips else "either",
        name=name,
        apart=show.elevation(abs(difference)),
        more="more" if difference > 0 else "less",
        after=after,
        lines=lines,
        slips=slips,
    )


def _reading_error(second: RepeatReadings, given: float, show: Display) -> Finding:
    """What repeat readings say of one reading, a warning where that is far worse than was taken for it."""
    bad = second.to_spare >= ENOUGH and second.spread > WORSE * given
    return finding(
        "reading-error",
        "warning" if bad else "note",
        "the readings",
        second.spread,
        WORSE * given if bad else None,
        variant="worse" if bad else "",
        count=second.to_spare,
        error=show.error(second.spread),
        given=show.error(given),
    )
