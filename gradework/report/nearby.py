"""What stands near, in words: how far off everything is, and what holds there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.text import filled

if TYPE_CHECKING:
    from gradework.foundations.checks.check import Check
    from gradework.foundations.checks.nearby import NearLook
    from gradework.units.display import Display

_AS_DEPTH = 3.0
"""Nearer than this [m] a distance is said to the fraction of an inch or the millimetre."""

_PARTS = {"boards": "batter boards"}


def near_lines(looks: Sequence[NearLook], show: Display) -> list[str]:
    """Tell each thing near: its kind, how far the parts of the plan stay away, and its checks."""
    told = []
    for look in looks:
        one = look.neighbour
        name, kind = visible(one.name), "" if one.kind in one.name.casefold() else f" ({one.kind})"
        away = ", ".join(f"{_PARTS.get(word, word)} {_said(off, show)}" for word, off in look.distances)
        told += filled(f"{name}{kind}: {away}", rest="  ")
        for check in look.checks:
            told += filled(_check(check, show), first="  - ", rest="    ")
    return told


def _said(metres: float, show: Display) -> str:
    return show.depth(metres) if metres < _AS_DEPTH else show.distance(metres)


def _check(check: Check, show: Display) -> str:
    """Say one check: what, yes or no, and against what."""
    asked = _ASKED[check.check]
    if check.value is None:
        return f"{asked}: not known"
    if check.holds is None:
        return f"{asked}: {_IF[check.check].format(off=_said(check.value, show))}"
    return f"{asked}: {'yes' if check.holds else 'no'}{_against(check, check.value, show)}"


def _against(check: Check, value: float, show: Display) -> str:
    """What the answer rests on; nothing where it is a plain yes."""
    if check.check == "digging below 1:1":
        words = f"{_said(-value, show)} to spare" if value < 0 else f"{_said(value, show)} below it"
        return f", {words} ({check.source})"
    if check.check == "own side":
        return "" if check.holds else f", over by {_said(value, show)}"
    if check.check in ("water stays away", "outlet runs clear") or check.limit is None:
        return ""
    least = _said(check.limit, show)
    if check.check == "setback":
        return f", {least} asked for"
    return f", {_said(value, show)}, at least {least} ({check.source})"


_IF = {
    "setback": "not known, no setback given",
    "water stays away": "only if it is led away",
    "room to walk": "little, {off}; finish that wall before it is raised",
    "dug or staked near": "little, {off}; uncover it by hand first",
}
"""What is left to do or to ask, where a check is no yes and no no."""

_ASKED = {
    "own side": "stays clear of it",
    "digging below 1:1": "digging stays above the 1:1 line from its footing",
    "outlet runs clear": "no outlet runs toward it",
    "water stays away": "rain off roof and foundation stays away from it",
    "room to walk": "room to walk and work",
    "dug or staked near": "room to dig and stake",
    "setback": "keeps its setback",
}
"""What each check asks, as a builder would."""
