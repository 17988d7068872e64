"""Would deeper skids need fewer piers? Each pier is dug; a deeper skid is one more word at the yard."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, InputError, finding
from gradework.foundations.piers.carrying import place_piers
from gradework.foundations.piers.fixes import SKIDS
from gradework.foundations.timber.wood import section_of
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.piers.spec import PierSpec
    from gradework.units.display import Display

MANY = 12
"""So many piers and fewer are dug without a second thought (judgement)."""

FEWER = 0.8
"""[-] Deeper skids are named where they take at most so many of the piers (judgement)."""


def deeper_skids(building: Outline, plan: Piers, show: Display) -> Iterator[PierSpec]:
    """Give what to ask for with each deeper skid that takes far fewer piers, the least deep first; nothing
    where there are few already, or where their places or spacing are given."""
    spec, count = plan.spec, len(plan.piers)
    if plan.top is None or count <= MANY or spec.positions or spec.layout.spacing is not None:
        return
    own = spec.floor.skid
    for deeper in map(section_of, SKIDS[show.us]):
        other = replace(spec, floor=replace(spec.floor, skid=deeper))
        if deeper.depth > own.depth and deeper.breadth >= own.breadth - 1e-9:
            with suppress(InputError):  # rows or places that cannot be
                if len(place_piers(building, other, show).places) <= FEWER * count:
                    yield other


def fewer_told(plan: Piers, made: Piers, show: Display) -> Finding | None:
    """Tell what piers with deeper skids, ``made``, come to beside those planned; None where they fail."""
    if made.top is None or any(check.holds is False for check in made.checks):
        return None
    own, deeper = plan.spec.floor.skid, made.spec.floor.skid
    return finding(
        "pier-skid-deeper",
        "note",
        "skids",
        float(len(plan.piers)),
        float(len(made.piers)),
        count=str(len(plan.piers)),
        skid=own.said(us=show.us),
        cost=fixed(_money(plan), 0),
        fewer=str(len(made.piers)),
        deeper=deeper.said(us=show.us),
        less=fixed(_money(made), 0),
        write=f'skid = "{deeper.name}" under [piers.floor]',
    )


def _money(piers: Piers) -> float:
    """What blocks, gravel and digging come to."""
    return sum(pier.cost for pier in piers.piers)
