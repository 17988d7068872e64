"""Elevations by satellite (what may be used), below a laser, and by a water level.

Both ends of the tube of a water level stand at one height.

With the water ``first`` above one point and ``second`` above another, the second point is higher by first -
second. Differences from one mark are tied to all marks that are known; a web of pairs is adjusted as a
network.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.errors import Faults, Finding, InputError, fault, finding, visible
from gradework.survey.levelling.heights import (
    Heights,
    agree,
    check_findings,
    make_heights,
    mark_check,
)
from gradework.survey.levelling.network import Rise, adjust_network, off_limit
from gradework.survey.levelling.tolerances import INSTRUMENTS
from gradework.survey.levelling.ways import allowance_of
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.heights import Difference, RodReading, WaterPair
    from gradework.survey.levelling.network import LevelNetwork
    from gradework.units.lengths import Unit


# Heights from satellites: what may be used for grading, and why a phone's may not.

RECEIVERS = ("phone", "hand-held", "survey-grade")
"""Kinds of receiver, from worst to best."""

PLAN_COARSE = frozenset({"phone", "hand-held"})
"""Kinds whose places are too coarse to build from, and whose heights do not serve at all."""

HORIZONTAL_PHONE = 4.9
"""A phone under open sky is good to about so much in plan [m] (gps.gov). Heights: within 13 m for 95 % of the
time on average over the earth (GPS SPS performance standard, 5th ed. 2020, from memory)."""

COARSEST_SD = 0.05
"""Coarser heights do not say how a yard slopes [m]: 2 in, a judgement."""


def gnss_height_sd(receiver: str, stated_sd: float | None, *, unit: Unit = "m", file: str = "") -> float:
    """Standard error [m] of heights by a receiver, as stated by it; refuses what cannot serve for grading.

    Raises InputError for a phone or hand-held receiver (reason and figures), for a survey-grade one that
    states no error or one coarser than ``COARSEST_SD``, and for an unknown kind.

    >>> gnss_height_sd("survey-grade", 0.02)
    0.02
    """
    code = "gnss-height-too-coarse"
    if receiver in PLAN_COARSE:
        need = Display(unit).length(0.006)
        raise InputError([fault(code, file=file, receiver=receiver, most=need)])
    if receiver != "survey-grade":
        kinds = ", ".join(RECEIVERS)
        raise InputError([fault(code, variant="kind", file=file, receiver=visible(receiver), kinds=kinds)])
    if stated_sd is None or not math.isfinite(stated_sd) or not 0 < stated_sd <= COARSEST_SD:
        variant = "silent" if stated_sd is None else "error"
        most, stated = Display(unit).length(COARSEST_SD), f"{stated_sd or 0:g}"
        raise InputError([fault(code, variant=variant, file=file, most=most, stated=stated)])
    return stated_sd


def plan_only(receiver: str) -> Finding:
    """What is said where satellite places are used without their heights."""
    where = f"{receiver} receiver"
    return finding("gnss-plan-coarse", "warning", where, HORIZONTAL_PHONE, receiver=receiver)


# Elevations below one level plane: a rotating laser, or any instrument whose height is known.

LASER = INSTRUMENTS["rotating laser"]


def below_laser(
    readings: Sequence[RodReading],
    plane: float,
    *,
    file: str = "",
    unit: Unit = "m",
    reading_sd: float = LASER.reading_sd,
) -> Heights:
    """Elevation of each station: the plane [m] less the reading; ``sd`` is that of one reading.

    The plane's own error is common to all and tilts nothing, so it is left out. Notes that begin and end on
    a benchmark belong to ``reduce_levels``, which checks them. Raises InputError for values that are
    not finite.

    >>> from gradework.fieldnotes.heights import RodReading
    >>> below_laser([RodReading("A", 1.25), RodReading("B", 1.75)], 31.5).elevation.tolist()
    [30.25, 29.75]
    """
    faults = Faults(file)
    for r in readings:
        if not (math.isfinite(r.reading) and math.isfinite(plane)):
            faults.note("laser-reading-unusable", line=r.line, name=visible(r.station))
    faults.raise_if_any()
    return make_heights(
        [r.station for r in readings],
        [plane - r.reading for r in readings],
        [reading_sd] * len(readings),
        [r.line for r in readings],
        file=file,
        unit=unit,
    )


WATER_LEVEL = INSTRUMENTS["water level"]


def from_differences(
    differences: Sequence[Difference],
    mark_level: float | None,
    *,
    known: Mapping[str, float] | None = None,
    file: str = "",
    unit: Unit = "m",
    sd: float = WATER_LEVEL.reading_sd,
) -> Heights:
    """Elevations from differences to one mark of elevation ``mark_level`` [m]; ``sd`` [m] of one difference.

    ``known``: given elevations of stations among them [m], each a check on the mark. Where all agree, the
    mark is taken at the mean of what it and each look at them says. ``mark_level`` None: nobody gave it, and
    the first of them gives it. Raises InputError for values that are not finite; ValueError without any
    elevation to start from.

    Each difference is one reading less the reading at the mark, both as good, so one mean of n looks (that
    at the mark counts) leaves a variance of sd²/2·(1 + 1/n).

    >>> from gradework.fieldnotes.heights import Difference
    >>> notes = [Difference("A", 0.25), Difference("B", -0.5)]
    >>> from_differences(notes, 30.0).elevation.tolist()
    [30.25, 29.5]
    >>> from_differences(notes, None, known={"B": 29.0}).elevation.tolist()
    [29.75, 29.0]
    """
    marks = known or {}
    _check_differences(differences, mark_level, marks, file)
    zeros = [marks[d.station] - d.higher for d in differences if d.station in marks]
    if mark_level is None and not zeros:
        raise ValueError("differences need the elevation of the mark, or of a station among them")
    zero = zeros[0] if mark_level is None else mark_level
    read = [d for d in differences if d.station in marks]
    checks = [
        mark_check(
            d.station, d.line, zero + d.higher, marks[d.station], allowance_of("water-level"), over="1 hop"
        )
        for d in (read[1:] if mark_level is None else read)
    ]
    fitted = [*([] if mark_level is None else [mark_level]), *zeros]
    shared = bool(checks) and agree(checks)
    level = math.fsum(fitted) / len(fitted) if shared else zero
    error = sd * math.sqrt((1 + 1 / (len(fitted) if shared else 1)) / 2)
    return make_heights(
        [d.station for d in differences],
        [marks.get(d.station, level + d.higher) for d in differences],
        [0.0 if d.station in marks else error for d in differences],
        [d.line for d in differences],
        file=file,
        unit=unit,
        findings=check_findings(checks, Display(unit), "water-level"),
    ).adjusted([zero + d.higher for d in differences], checks, "marks" if shared else "no")


def _check_differences(
    differences: Sequence[Difference], mark_level: float | None, known: Mapping[str, float], file: str
) -> None:
    faults = Faults(file)
    given = (mark_level or 0.0, *known.values())
    for d in differences:
        if not all(map(math.isfinite, (d.higher, *given))):
            faults.note("water-level-unusable", line=d.line, name=visible(d.station))
    faults.raise_if_any()


def from_pairs(
    pairs: Sequence[WaterPair],
    known: Mapping[str, float],
    *,
    file: str = "",
    unit: Unit = "m",
    reading_sd: float = WATER_LEVEL.reading_sd,
) -> Heights:
    """Elevations of all points of a web of pairs, adjusted where more than one route leads to a point.

    ``known``: elevations of the marks [m]. The first holds the web; the others are met by it, each a check
    over its shortest route from there, and are listed with their own elevation. Where all agree, the web is
    adjusted onto all of them. Raises InputError as ``network.adjust_network`` does: a reading that is not
    finite, a pair of one point with itself, points joined to no mark.
    """
    sd = reading_sd * math.sqrt(2)
    rises = [Rise(p.start, p.end, p.first - p.second, sd, p.line) for p in pairs]
    first, *others = known or [""]
    # Every mark that the first one reaches is met; one that it does not reach holds a part of its own.
    hops = _hops(pairs, first)
    met = [name for name in others if name in hops]
    alone = adjust_network(rises, {n: z for n, z in known.items() if n not in met}, scale=False)
    raw = dict(zip(alone.names, alone.elevation.tolist(), strict=True))
    lines = {name: p.line for p in reversed(pairs) for name in (p.end, p.start)}
    checks = [
        mark_check(
            name,
            lines[name],
            raw[name],
            known[name],
            allowance_of("water-level"),
            parts=hops[name],
            over=f"{hops[name]} hop" + ("s" if hops[name] > 1 else ""),
        )
        for name in met
    ]
    shared = bool(checks) and agree(checks) and len(alone.names) > len(met)
    net = adjust_network(rises, known, scale=False) if shared else alone
    at = dict(zip(net.names, zip(net.elevation.tolist(), net.sd.tolist(), strict=True), strict=True))
    at |= {name: (known[name], 0.0) for name in met}
    return make_heights(
        alone.names,
        [at[n][0] for n in alone.names],
        [at[n][1] for n in alone.names],
        [lines[n] for n in alone.names],
        file=file,
        unit=unit,
        findings=[
            *check_findings(checks, Display(unit), "water-level"),
            *_disagreement(pairs, net, Display(unit)),
        ],
    ).adjusted([raw[n] for n in alone.names], checks, "network" if shared else "no", spare=alone.surplus)


def _hops(pairs: Sequence[WaterPair], start: str) -> dict[str, int]:
    """The fewest pairs from ``start`` to each point that they join to it."""
    beside: dict[str, list[str]] = {}
    for p in pairs:
        beside.setdefault(p.start, []).append(p.end)
        beside.setdefault(p.end, []).append(p.start)
    hops = {start: 0}
    waiting = [start]
    for here in waiting:  # grows as it goes
        for name in beside.get(here, ()):
            if name not in hops:
                hops[name] = hops[here] + 1
                waiting.append(name)
    return hops


def _disagreement(pairs: Sequence[WaterPair], net: LevelNetwork, show: Display) -> list[Finding]:
    """A warning where the pairs contradict each other by more than chance allows, with the worst of them."""
    limit, most = off_limit(net.standardised), float(abs(net.standardised).max(initial=0.0))
    if net.surplus < 1 or most <= limit:
        return []
    worst = [i for i, t in enumerate(abs(net.standardised).tolist()) if t >= most * (1 - 1e-6)]
    told = ", or ".join(
        f"{visible(pairs[i].start)} to {visible(pairs[i].end)} on line {pairs[i].line}" for i in worst[:4]
    )
    off = show.elevation(abs(float(net.residuals[worst[0]])))
    where = f"line {pairs[worst[0]].line}"
    return [finding("routes-disagree", "warning", where, most, limit, variant="pairs", pairs=told, off=off)]
