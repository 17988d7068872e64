"""Elevations by a water level: both ends of the tube stand at one height.

With the water ``first`` above one point and ``second`` above another, the second point is higher by
first - second. Readings from one mark need no adjustment; a web of pairs is adjusted as a network.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.errors import Faults, Finding, visible
from gradework.survey.heights import Heights, make_heights
from gradework.survey.instruments import INSTRUMENTS
from gradework.survey.network import Rise, adjust_network, off_limit
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.height_notes import Difference, WaterPair
    from gradework.survey.network import LevelNetwork
    from gradework.units import Unit

WATER_LEVEL = INSTRUMENTS["water level"]


def from_differences(
    differences: Sequence[Difference],
    mark_level: float,
    *,
    file: str = "",
    unit: Unit = "m",
    sd: float = WATER_LEVEL.reading_sd,
) -> Heights:
    """Elevations from differences to one mark of elevation ``mark_level`` [m]; ``sd`` [m] of one difference.

    >>> from gradework.fieldnotes.height_notes import Difference
    >>> from_differences([Difference("A", 0.25), Difference("B", -0.5)], 30.0).elevation.tolist()
    [30.25, 29.5]
    """
    faults = Faults(file)
    for d in differences:
        if not math.isfinite(d.higher) or not math.isfinite(mark_level):
            faults.add(
                "water-level-unusable",
                f"the difference at {visible(d.station)}",
                "how much higher or lower the station is than the mark",
                "write the difference, with a minus where the station is lower",
                line=d.line,
            )
    faults.raise_if_any()
    return make_heights(
        [d.station for d in differences],
        [mark_level + d.higher for d in differences],
        [sd] * len(differences),
        [d.line for d in differences],
        file=file,
        unit=unit,
    )


def from_pairs(
    pairs: Sequence[WaterPair],
    known: Mapping[str, float],
    *,
    file: str = "",
    unit: Unit = "m",
    reading_sd: float = WATER_LEVEL.reading_sd,
) -> Heights:
    """Elevations of all points of a web of pairs, adjusted where more than one route leads to a point.

    ``known``: elevations of the marks [m]. Raises InputError as ``network.adjust_network`` does: a reading
    that is not finite, a pair of one point with itself, points joined to no mark.
    """
    sd = reading_sd * math.sqrt(2)
    rises = [Rise(p.start, p.end, p.first - p.second, sd, p.line) for p in pairs]
    net = adjust_network(rises, known, scale=False)
    first_line = {name: p.line for p in reversed(pairs) for name in (p.end, p.start)}
    return make_heights(
        net.names,
        net.elevation.tolist(),
        net.sd.tolist(),
        [first_line[n] for n in net.names],
        file=file,
        unit=unit,
        findings=_disagreement(pairs, net, Display(unit)),
    )


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
