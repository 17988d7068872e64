"""Whether what is dug past walls carries what comes from beyond the survey, by ground known from the air.

It lets a check hold that the survey leaves open; it never lets one fail, and designs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.grading.led import NAMES
from gradework.errors import Finding, finding
from gradework.foundations.checks.check import Check
from gradework.sitework.catchment import drains_to, more_comes_in
from gradework.units.amounts import flow_words

if TYPE_CHECKING:
    from gradework.earthwork.grading.capacity import Flow
    from gradework.ground.water.beyond import Beyond
    from gradework.sitework.past_walls import WallMeasure
    from gradework.units.display import Display

DRAWS = 8
"""So many grounds that the airborne one may be as well are followed besides: what all of them say is not due
to its error (judgement)."""


class FromBeyond(NamedTuple):
    """What comes to one measure that the survey leaves open.

    ``areas`` [m²]: what drains to it in all, on the airborne ground, then on grounds that may be as well;
    ``more``: whether on any of them more may come over the edge of the airborne ground, too; ``flows``: how
    the rain of each area runs in it; ``sd`` [m]: how far the airborne ground may be off.
    """

    measure: WallMeasure
    areas: tuple[float, ...]
    more: bool
    flows: tuple[Flow, ...]
    sd: float

    @property
    def carried(self) -> bool | None:
        """Whether it is carried: None where that is within the error of the ground, or more may come."""
        over = [one.flow > one.most for one in self.flows]
        if all(over):
            return False
        return None if self.more or any(over) else True

    def check(self, open_check: Check, show: Display) -> Check:
        """The check that the survey leaves open: it holds by the most that may come, or stays as it is."""
        if self.carried is not True:
            return open_check
        most = max(one.flow for one in self.flows)
        source = f"airborne ground beyond the survey, ± {show.depth(self.sd)}"
        return Check("water carried", most, self.flows[0].most, "m3/s", source, where=self.measure.where)


def from_beyond(measures: Iterable[WallMeasure], beyond: Beyond) -> Iterator[FromBeyond]:
    """Follow the water beyond the survey to each measure that more may come to than was surveyed."""
    for one in measures:
        if one.made is None or one.dug is None or one.carry is None or not len(one.above):
            continue
        run, finished = one.run, one.made.ground.surface
        areas, more = [], False
        for ground in (beyond, *beyond.drawn(DRAWS)):
            found = drains_to(finished, run.pad.outline, run.pad.level, one.made.dug, ground)
            if found is None:
                break
            areas.append(float(found.areas[0]))
            more |= more_comes_in(found, finished.origin, run.nearby)
        else:
            flows = tuple(one.carry(run, one.rain(area)) for area in areas)
            yield FromBeyond(one, tuple(areas), more, flows, beyond.sd)


def beyond_findings(found: Iterable[FromBeyond], show: Display) -> Iterator[Finding]:
    """Say of each what the airborne ground shows."""
    for one in found:
        measure, flow = one.measure, one.flows[0]
        if measure.made is None:
            continue
        variant = {True: "", False: "over", None: "more" if one.more else "close"}[one.carried]
        yield finding(
            "catchment-airborne", "warning" if one.carried is False else "note", measure.where, flow.flow,
            flow.most, variant=variant, walls=measure.where, what=NAMES[measure.made.kind],
            area=show.area(one.areas[0]), surveyed=show.area(measure.catchment), sd=show.depth(one.sd),
            flow=flow_words(max(one.flow for one in one.flows), us=show.us),
            carries=flow_words(flow.most, us=show.us),
        )  # fmt: skip
