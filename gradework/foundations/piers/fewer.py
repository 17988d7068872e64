"""Would deeper skids need fewer piers? Each pier is dug; a deeper skid is one more word at the yard."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, InputError, finding
from gradework.foundations.piers.carrying import place_piers
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.fixes import SKIDS
from gradework.foundations.timber.wood import section_of
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.piers.spec import PierSpec
    from gradework.ground.surface import Surface
    from gradework.units.display import Display

MANY = 12
"""So many piers and fewer are dug without a second thought (judgement)."""

FEWER = 0.8
"""[-] Deeper skids are named where they take at most so many of the piers (judgement)."""


def fewer_piers(surface: Surface, building: Outline, plan: Piers, show: Display) -> Finding | None:
    """Tell the first deeper skid that takes far fewer piers, with what both come to; None where there are few
    already, where their places or spacing are given, or where none takes fewer."""
    spec, count = plan.spec, len(plan.piers)
    if plan.top is None or count <= MANY or spec.positions or spec.layout.spacing is not None:
        return None
    for name in SKIDS[show.us]:
        deeper = section_of(name)
        other = replace(spec, floor=replace(spec.floor, skid=deeper))
        if deeper.depth <= spec.floor.skid.depth or deeper.breadth < spec.floor.skid.breadth - 1e-9:
            continue
        made = _designed(surface, building, other, plan, show)
        if made is not None:
            return finding(
                "pier-skid-deeper",
                "note",
                "skids",
                float(count),
                float(len(made.piers)),
                count=str(count),
                skid=spec.floor.skid.said(us=show.us),
                cost=fixed(_money(plan), 0),
                fewer=str(len(made.piers)),
                deeper=deeper.said(us=show.us),
                less=fixed(_money(made), 0),
                line=f'skid = "{name}" under [piers.floor]',
            )
    return None


def _designed(
    surface: Surface, building: Outline, spec: PierSpec, plan: Piers, show: Display
) -> Piers | None:
    """The piers with these skids, where they are far fewer and each check of theirs holds."""
    try:
        if len(place_piers(building, spec, show).places) > FEWER * len(plan.piers):
            return None
        made = design_piers(surface, building, spec, plan.prices, show, in_full=False)
    except InputError:  # holes that leave the survey or overlap
        return None
    return made if made.top is not None and all(one.holds is not False for one in made.checks) else None


def _money(piers: Piers) -> float:
    """What blocks, gravel and digging come to."""
    return sum(pier.cost for pier in piers.piers)
