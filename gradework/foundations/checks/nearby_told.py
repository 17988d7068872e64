"""What is said of the checks about things near that do not hold, or cannot be made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from gradework.errors import Finding, finding, visible

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Neighbour
    from gradework.foundations.checks.check import Check
    from gradework.foundations.checks.nearby import NearLook
    from gradework.units.display import Display


def near_findings(looks: Sequence[NearLook], show: Display) -> tuple[Finding, ...]:
    """One finding for each check that does not hold, and a note for each setback that is not known."""
    return tuple(
        told
        for look in looks
        for check in look.checks
        if (told := _told(look.neighbour, check, show)) is not None
    )


def _told(one: Neighbour, check: Check, show: Display) -> Finding | None:
    name, value, limit = visible(one.name), check.value, check.limit
    if value is None or check.holds:
        return None
    if limit is None:
        return _not_known(one, value, show)
    told: dict[str, Any] = {"off": show.depth(value), "name": name}
    least = show.depth(limit)
    if check.check == "setback":
        told["what"] = "The wall" if one.bars else "What is built or dug"
        short = show.depth(limit - value)
        return finding("near-setback", "stop", name, value, limit, least=least, short=short, **told)
    if check.check == "own side":
        return finding("near-over", "stop", name, value, limit, **told)
    if check.check == "digging below 1:1":
        return finding("near-dig-below", "stop", name, value, limit, **told)
    code = "near-no-room" if check.check == "room to walk" else "near-pipe"
    return finding(code, "warning", name, value, limit, least=least, **told)


def _not_known(one: Neighbour, value: float, show: Display) -> Finding:
    name, off = visible(one.name), show.distance(value)
    if one.kind == "tree":
        return finding("near-setback-unknown", "note", name, value, variant="tree", name=name, off=off)
    ask = "building office" if one.kind == "lot line" else "health office"
    return finding("near-setback-unknown", "note", name, value, name=name, kind=one.kind, off=off, ask=ask)
