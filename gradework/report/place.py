"""The best places of a building in words: how to move and turn it, what that saves, what stops the others."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from gradework.earthwork.grading.led import NAMES
from gradework.errors import visible
from gradework.foundations.pad.design import Pad
from gradework.project.gate_told import condition, reasons
from gradework.report.instead import shift_words, turn_words
from gradework.report.plan import KINDS
from gradework.report.text import columns, filled, named, text_table
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.foundations.checks.gate import Measure
    from gradework.project.job.site import What
    from gradework.project.place import Placing, Spot
    from gradework.units.display import Display

_DASH = "-"
SAME = 0.005
"""Less than this part of what is taken here is no gain."""

MADE_UP = "to fill under a level floor"
"""What is searched for where a foundation needs no gravel by its level: the room between ground and floor."""


def place_text(placing: Placing, job: str) -> str:
    """Tell the answer, the table of places, what may have been missed, and how to take one; ``job`` is how
    the job was named on the command line."""
    lines = filled(f"{visible(placing.job.name)}: {verdict(placing)}", rest="  ", width=columns())
    if placing.spots:
        lines += text_table(*places_table(placing))
    ifs = "" if placing.best is None or placing.best.judged is None else condition(placing.best.judged)
    lines += named("If", f"{ifs.removeprefix('if ')}.", width=9) if ifs else []
    if placing.spots:
        lines += named("Looked", searched(placing), width=9)
        number = 1 + placing.spots.index(placing.best) if placing.best else 1
        lines += named("Next", f"gradework place {job} --take {number} writes a job of it", width=9)
    return "\n".join(lines)


def verdict(placing: Placing) -> str:
    """The answer: what to do and what it saves, or that it stands well where it is."""
    best, here, kind = placing.best, placing.here, placing.kind
    if best is None and placing.spots and not placing.spots[0].planned:
        way = ", ".join(moves(placing, placing.spots[0])) or "leave it"
        return f"{way}: the best by the ground so far, not planned in full."
    if best is None:
        return f"no place found where {KINDS[kind]} can be built."
    gains = list(_gains(placing, best))
    if not gains:
        return f"it stands well where it is: {KINDS[kind]}, nothing much is saved elsewhere."
    way = ", ".join(moves(placing, best)) or "leave it"
    why = "" if here.buildable else "; where it stands it cannot be built"
    return f"{way}: {', '.join(gains)}{why}."


def moves(placing: Placing, spot: Spot) -> Iterator[str]:
    """How to move and turn it from where it stands: "move it 4.0 ft north", "turn it 10 degrees left"."""
    show, here = placing.job.show, placing.search.here
    shift = shift_words(spot.place[:2] - here[:2], show, placing.job.site.north)
    turn = (math.degrees(spot.place[2] - here[2]) + 90.0) % 180.0 - 90.0
    turned = abs(turn) >= 0.05
    if shift:
        yield f"move {'its middle' if turned else 'it'} {shift}"
    if turned:
        yield f"turn it {turn_words(turn)}"


def _gains(placing: Placing, best: Spot) -> Iterator[str]:
    """What is saved, what was asked for first; nothing where that is hardly less."""
    here, least, kind = placing.here, placing.least, placing.kind
    own, there = here.figure(kind, least), best.figure(kind, least)
    much = SAME * (1.0 if least == "highest" else abs(own))  # an elevation is no amount: 5 mm of it
    if here.buildable and not there < own - much:
        return
    asked = _less(placing, own - there) if math.isfinite(own) and there < own else ""
    if asked:
        yield asked
    else:
        yield f"{KINDS[kind]} can be built"
    yield from _also(placing, best)
    gone = dict.fromkeys(NAMES[one.kind] for one in _beside(here) if one.kind in NAMES)
    kept = {NAMES[one.kind] for one in _beside(best) if one.kind in NAMES}
    yield from (f"no {name}" for name in gone if name not in kept)
    yield from (f"with {'an' if name.startswith('a') else 'a'} {name}" for name in sorted(kept - gone.keys()))


def _also(placing: Placing, best: Spot) -> Iterator[str]:
    """What else is clearly less."""
    here, least, show = placing.here, placing.least, placing.job.show
    costs = [None if one.judged is None else one.judged.cost for one in (here, best)]
    if least != "cost" and None not in costs and (costs[0] or 0.0) - (costs[1] or 0.0) >= 1.0:
        yield f"{fixed((costs[0] or 0.0) - (costs[1] or 0.0), 0)} cheaper"
    if least != "fall" and here.fall is not None and best.fall is not None and best.fall < here.fall:
        yield f"{show.depth(here.fall - best.fall)} less fall under it"


def _beside(spot: Spot) -> tuple[Measure, ...]:
    return () if spot.judged is None else spot.judged.measures


def _less(placing: Placing, less: float) -> str:
    """A saving in what was asked for: "3.1 tons less gravel"."""
    show, stood = placing.job.show, placing.here.stood
    if placing.least == "gravel" and stood is not None and isinstance(stood.planned, Pad):
        return f"{show.mass(less * stood.planned.spec.density)} less gravel"
    words = {
        "gravel": "less gravel", "digging": "less digging", "cost": "cheaper", "fall": "less fall under it",
        "highest": "higher ground",
    }  # fmt: skip
    if placing.kind != "pad" and placing.least in ("gravel", "digging"):
        return f"{show.volume(less)} less {MADE_UP}"
    return f"{amount(placing.least, less, show)} {words[placing.least]}"


def amount(least: What, value: float, show: Display) -> str:
    """A figure of what is searched for, with its unit."""
    if least in ("fall", "highest"):
        return show.depth(value)
    return fixed(value, 0) if least == "cost" else show.volume(value)


def searched(placing: Placing) -> str:
    """How many places were looked at, and the most that an allowed one can be better."""
    missed = amount(placing.least, placing.missed, placing.job.show)
    turns = "all x and y, all turns" if placing.search.turns is None else "all x and y, the turns allowed"
    what = {"gravel": "of gravel under it", "digging": "of digging under it", "cost": "by the ground",
            "fall": "of fall", "highest": "of height"}[placing.least]  # fmt: skip
    if placing.kind != "pad" and placing.least in ("gravel", "digging", "cost"):
        what, missed = MADE_UP, placing.job.show.volume(placing.missed)
    start = f"{placing.sited.looked:,} places, {turns}"
    return f"{start}: none that is allowed is better by more than {missed} {what}."


def places_table(placing: Placing) -> tuple[list[str], list[list[str]]]:
    """Header and rows: where it stands now, then the places; the last cell says what stops one."""
    show, rows = placing.job.show, []
    for name, spot in (("now", placing.here), *((str(n), s) for n, s in enumerate(placing.spots, 1))):
        x, y, turn = spot.corner.tolist()
        cost = None if spot.judged is None else spot.judged.cost
        rows.append(
            [
                name,
                f"{show.short_number(x)}, {show.short_number(y)}",
                f"{turn:g}",
                _DASH if spot.level is None else show.elevation_number(spot.level),
                _DASH if spot.gravel is None else show.volume_number(spot.gravel),
                _DASH if spot.excavation is None else show.volume_number(spot.excavation),
                _DASH if spot.fall is None else show.depth(spot.fall),
                *([] if not _priced(placing) else [_DASH if cost is None else fixed(cost, 0)]),
                stops(spot),
            ]
        )
    volume = show.volume_unit
    head = ["", f"corner, {show.unit_mark}", "turn", "level", f"gravel {volume}", f"dig {volume}", "fall"]
    return [*head, *(["cost"] if _priced(placing) else []), ""], rows


def _priced(placing: Placing) -> bool:
    return any(spot.judged is not None and spot.judged.cost is not None for spot in placing.spots)


def stops(spot: Spot) -> str:
    """What stops a place, "" for nothing."""
    if spot.barred in ("survey", "boundary"):
        return f"leaves the {spot.barred}"
    if spot.barred:
        return f"too near {visible(spot.barred)}"
    if spot.judged is None:
        return "leaves the survey" if spot.planned else "not planned in full"
    return "" if spot.judged.buildable else reasons(spot.judged)
