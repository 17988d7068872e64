"""The way in at the door, in words: rise, steps or ramp, landing, handrail, and what the figures rest on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gradework.foundations.checks.check import cited
from gradework.report.text import named
from gradework.sitework.access import LEAST_GOING, MOST_RISER
from gradework.sitework.order_access import access_words

if TYPE_CHECKING:
    from gradework.project.plan import Plan
    from gradework.sitework.access import Access
    from gradework.units.display import Display


def door_lines(plan: Plan) -> list[str]:
    """Tell how one gets in over the foundation that is chosen; nothing where the job names no door."""
    access, show = plan.foundations.access, plan.job.show
    if access is None:
        return []
    rows = [("Door", text.removeprefix("door ")) for text in access_words(access, show)]
    rows += _rows(access, show)
    return [line for name, text in rows for line in named(name, text)]


def _rows(access: Access, show: Display) -> Iterator[tuple[str, str]]:
    if access.over is not None and access.over >= 0.0:
        yield "Floor", f"{show.depth(access.over)} above the highest ground in front of the door"
    if access.railed or access.guarded:
        yield "Rails", "handrails on both sides, in the order"
    if access.ramp:
        rule = cited("IRC R311.8, 2015 on", us=show.us) if access.slope != 6.0 else "common practice"
        yield "Limits", f"1 in {access.slope:g} ({rule})"
    elif access.rise is not None:
        rule = cited("IRC R311.7.5", us=show.us)
        most, going = show.depth(MOST_RISER), show.depth(LEAST_GOING)
        yield "Limits", f"a riser of at most {most}, a tread of at least {going} ({rule}); a guide for a shed"
