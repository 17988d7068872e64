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
    answer = {True: "yes", False: "no", None: "not known"}[check.holds]
    if check.value is None:
        return f"{_ASKED[check.check]}: not known"
    value = _said(max(check.value, 0.0), show)
    if check.check == "setback":
        rule = "no setback given" if check.limit is None else f"{_said(check.limit, show)} asked for"
        return f"keeps its setback: {answer}, {rule}"
    if check.check == "digging below 1:1":
        spare = f"{_said(-check.value, show)} to spare" if check.value < 0 else f"{value} below it"
        return f"{_ASKED[check.check]}: {answer}, {spare} ({check.source})"
    if check.limit == 0.0:
        return f"{_ASKED[check.check]}: {answer}" + ("" if check.holds else f", over by {value}")
    least = _said(check.limit or 0.0, show)
    return f"{_ASKED[check.check]}: {answer}, {value}, at least {least} ({check.source})"


_ASKED = {
    "own side": "stays clear of it",
    "digging below 1:1": "digging stays above the 1:1 line from its footing",
    "room to walk": "room to walk and work",
    "dug or staked near": "room to dig and stake",
    "setback": "keeps its setback",
}
"""What each check asks, as a builder would."""
