"""What is said of the checks about things near that do not hold, or cannot be made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from gradework.errors import Finding, Severity, finding, visible
from gradework.foundations.checks.check import cited
from gradework.foundations.checks.near_water import DRIP
from gradework.foundations.checks.nearby import by_hand, walk

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Neighbour
    from gradework.foundations.checks.check import Check
    from gradework.foundations.checks.nearby import NearLook
    from gradework.units.display import Display


BELOW_FOOTING = "29 CFR 1926.651(i)(2)"
"""Below a footing only with support, rock or an engineer (2015 print, seen)."""


def near_findings(looks: Sequence[NearLook], show: Display) -> tuple[Finding, ...]:
    """One finding for each check that does not hold, and a note for each setback that is not known."""
    return tuple(
        told for look in looks for check in look.checks if (told := _told(look, check, show)) is not None
    )


def _told(look: NearLook, check: Check, show: Display) -> Finding | None:
    one, value, limit = look.neighbour, check.value, check.limit
    name = visible(one.name)
    if value is None or check.holds:
        return None
    severity: Severity = "stop" if check.holds is False else "warning"
    told: dict[str, Any] = {"off": show.depth(value), "name": name}
    if check.check == "room to walk":
        least = show.depth(walk(us=show.us))
        return finding("near-no-room", severity, name, value, limit, least=least, **told)
    if check.check == "dug or staked near":
        least = show.depth(by_hand(us=show.us))
        return finding("near-pipe", severity, name, value, limit, least=least, **told)
    if check.check == "water stays away":
        drips = min(off for word, off in look.distances if word in ("eaves", "pad", "slab")) < DRIP
        variant = "gutter" if check.holds is False else "drips" if drips else ""
        severity = "stop" if check.holds is False else "warning"
        return finding("near-water", severity, name, value, variant=variant, dialect=show.dialect, name=name)
    return _not_known(one, value, show) if limit is None else _stop(one, check, limit, show, told)


def _stop(one: Neighbour, check: Check, limit: float, show: Display, told: dict[str, Any]) -> Finding:
    name, value = visible(one.name), check.value or 0.0
    if check.check == "setback":
        told["what"] = "The wall" if one.bars else "What is built or dug"
        least, short = show.depth(limit), show.depth(limit - value)
        return finding("near-setback", "stop", name, value, limit, least=least, short=short, **told)
    if check.check == "digging below 1:1":
        source = cited(BELOW_FOOTING, us=show.us)
        return finding("near-dig-below", "stop", name, value, limit, source=source, **told)
    code = "near-outlet" if check.check == "outlet runs clear" else "near-over"
    return finding(code, "stop", name, value, limit, **told)


def _not_known(one: Neighbour, value: float, show: Display) -> Finding:
    name, off = visible(one.name), show.distance(value)
    if one.kind == "tree":
        return finding("near-setback-unknown", "note", name, value, variant="tree", name=name, off=off)
    ask = "building office" if one.kind == "lot line" else "health office"
    return finding("near-setback-unknown", "note", name, value, name=name, kind=one.kind, off=off, ask=ask)
