"""Elevations by a water level: both ends of the tube stand at one height.

With the water ``first`` above one point and ``second`` above another, the second point is higher by
first - second. Differences from one mark hang on all marks that are known; a web of pairs is adjusted as a
network.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.errors import Faults, Finding, visible
from gradework.survey.heights import Heights, make_heights
from gradework.survey.instruments import INSTRUMENTS
from gradework.survey.mark_checks import MARKS_MET, agree, check_findings, mark_check
from gradework.survey.network import Rise, adjust_network, off_limit
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.height_notes import Difference, WaterPair
    from gradework.survey.network import LevelNetwork
    from gradework.units import Unit

WATER_LEVEL = INSTRUMENTS["water level"]

_HINT = "Let the air out of the tube, and read that mark and what lies between again."


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
    elevation to hang on.

    Each difference is one reading less the reading at the mark, both as good, so one mean of n looks (that
    at the mark counts) leaves a variance of sd²/2·(1 + 1/n).

    >>> from gradework.fieldnotes.height_notes import Difference
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
            d.station, d.line, zero + d.higher, marks[d.station], MARKS_MET["water-level"], over="1 hop"
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
        findings=check_findings(checks, Display(unit), hint=_HINT),
    ).adjusted([zero + d.higher for d in differences], checks, "marks" if shared else "no")


def _check_differences(
    differences: Sequence[Difference], mark_level: float | None, known: Mapping[str, float], file: str
) -> None:
    faults = Faults(file)
    given = (mark_level or 0.0, *known.values())
    for d in differences:
        if not all(map(math.isfinite, (d.higher, *given))):
            faults.add(
                "water-level-unusable",
                f"the difference at {visible(d.station)}",
                "how much higher or lower the station is than the mark",
                "write the difference, with a minus where the station is lower",
                line=d.line,
            )
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
            MARKS_MET["water-level"],
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
            *check_findings(checks, Display(unit), hint=_HINT),
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
    advice = (
        f"The pairs contradict each other: {told} is off by {off} or more. The elevations share it "
        "out, so none of them is right. Let the air out of the tube and read these pairs again."
    )
    line = f"line {pairs[worst[0]].line}"
    return [Finding("routes-disagree", "warning", line, most, limit, advice)]
