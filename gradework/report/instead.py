"""What could be built where the foundation that is chosen cannot: at another level, on something else, or at
another place, each with the line of the job to change."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from gradework.earthwork.grading.led import NAMES
from gradework.project.gate_told import binding, condition
from gradework.report.answer import Part
from gradework.report.ground import counted_names
from gradework.report.plan import KINDS
from gradework.units.display import Display, fixed
from gradework.units.lengths import METRES_PER, decimals_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from gradework.foundations.checks.gate import Judged
    from gradework.project.elsewhere import Elsewhere
    from gradework.project.plan import Plan


def instead_parts(plan: Plan, *, notes: bool) -> Iterator[Part]:
    """Where the foundation chosen cannot be built, tell the one that can, and the line or option for it;
    where nothing can, what binds and where it could stand. ``notes``: they came without a job."""
    own, best = plan.judged, plan.foundations.instead
    if own is None or own.buildable:
        return
    yield from _nearest(plan)
    if best is None or best.floor is None:
        yield from _binds(plan)
        yield from (_moved(plan, one) for one in plan.foundations.elsewhere)
        return
    kind, what = best.foundation, f"{KINDS[best.foundation]}, floor at {plan.job.show.elevation(best.floor)}"
    line = f'build = "{kind}"' if kind in plan.foundations.asked else f"[{kind}]"
    if kind not in plan.foundations.asked and plan.job.build:
        line = f'[{kind}] and build = "{kind}"'
    do = f"add --{kind} to the command" if notes else f"write {line} in the job"
    cost = "" if best.cost is None else f", cost {fixed(best.cost, 0)}"
    ifs = condition(best)
    text = f"{what}{cost}, can be built{', ' if ifs else ''}{ifs}: {do}."
    yield Part("stop", text, f"{what}: {do}.", label="Instead")


def _nearest(plan: Plan) -> Iterator[Part]:
    """Where the level given cannot be built, tell the nearest that can, and the line that takes it."""
    near, own = plan.foundations.nearest, plan.judged
    if near is None or near.level is None or own is None or own.level is None:
        return
    show, ifs = plan.job.show, condition(near)
    cost = "" if near.cost is None else f", cost {fixed(near.cost, 0)}"
    way = "Higher" if near.level > own.level else "Lower"
    per, digits = METRES_PER[plan.job.unit], decimals_of(plan.job.unit)
    rounded = math.ceil if way == "Higher" else math.floor  # it is the last that passes on that side
    written = rounded(near.level / per * 10.0**digits) / 10.0**digits
    line = f"level = {written:.{digits}f} under [{near.foundation}]"
    at = f"at {show.elevation(near.level)}{beside_words(near)}{cost}"
    text = f"{at}, it can be built{', ' if ifs else ''}{ifs}"
    yield Part("stop", f"{text}: write {line}.", f"write {line}: it can be built there.", label=way)


def beside_words(judged: Judged) -> str:
    """Name what leads water past it: " with a swale", "" of nothing."""
    beside = [NAMES[one.kind] for one in judged.measures if one.kind in NAMES and not one.counted]
    names = counted_names(list(dict.fromkeys(beside)))
    return f" with {'an' if names.startswith('a') else 'a'} {names}" if beside else ""


# Where nothing can be built: what binds, and where it could stand.


def _binds(plan: Plan) -> Iterator[Part]:
    """Tell the foundation that fails least, by which check and by how much."""
    found = plan.foundations
    bound = None if found.nearest is not None else binding(found.judged, plan.job.show)
    if bound is not None:
        own, why = bound
        yield Part("stop", f"{KINDS[own.foundation]}: {why}.", label="Binds")


def _moved(plan: Plan, one: Elsewhere) -> Part:
    """Tell a place at which it can be built, with the lines of the job that put it there."""
    show, kind, ifs = plan.job.show, one.judged.foundation, condition(one.judged)
    able = f"{KINDS[kind]}{beside_words(one.judged)} can be built{', ' if ifs else ''}{ifs}"
    if one.way == "move":
        by, label = shift_words(one.shift, show, plan.job.site.north), "Move"
    else:
        by, label = f"{turn_words(one.turn)} about its middle", "Turn"
    lines = _lines(one, plan)
    other = f', and build = "{kind}" at the top' if plan.job.build not in (None, kind) else ""
    return Part("stop", f"{by}: {able}: write {lines}{other}.", f"{by}: write {lines}{other}.", label=label)


def shift_words(by: Sequence[float] | NDArray[np.float64], show: Display, north: float | None) -> str:
    """Say a move (x, y) [m], "" for none: "4.0 ft north and 2.0 ft east", where it is known where north lies,
    else "4.0 ft toward larger x"."""
    ways = (("toward larger x", "toward smaller x"), ("toward larger y", "toward smaller y"))
    along = tuple(by)
    if north is not None:
        up, right = math.cos(math.radians(north)), math.sin(math.radians(north))
        along = (by[0] * up + by[1] * right, by[0] * right - by[1] * up)
        ways = (("north", "south"), ("east", "west"))
    told = [
        f"{show.distance(abs(part))} {more if part > 0.0 else less}"
        for (more, less), part in zip(ways, along, strict=True)
        if show.distance(abs(part)) != show.distance(0.0)
    ]
    return " and ".join(told)


def turn_words(turn: float) -> str:
    """Say a turn [degrees] about the middle.

    >>> turn_words(-15.0)
    '15 degrees to the right'
    """
    return f"{abs(turn):.3g} degrees to the {'left' if turn > 0.0 else 'right'}"


def better_part(plan: Plan) -> Iterator[Part]:
    """Where clearly less is to be filled a few steps aside, say so in one line."""
    better = None if plan.foundations.elsewhere else plan.better
    if better is None:
        return
    way = shift_words(better.shift, plan.job.show, plan.job.site.north)
    turned = f"turned {turn_words(better.turn)}" if better.turn else ""
    told = ", ".join(one for one in (way, turned) if one)
    text = f"{plan.job.show.volume(better.less)} less to fill {told}: see gradework place."
    yield Part("trust", text, label="Place")


def _lines(one: Elsewhere, plan: Plan) -> str:
    """The lines of [building] that put it there; one that was taped from marks is given by its corner."""
    table, old = one.job.building, plan.job.building
    per, digits = float(METRES_PER[plan.job.unit]), decimals_of(plan.job.unit)
    if table.outline is not None:
        places = ", ".join(_place(place, per, digits) for place in table.outline)
        return f"outline = [{places}] under [building]"
    assert table.corner is not None
    line = f"corner = {_place(table.corner, per, digits)}"
    if table.turn != old.turn or old.corner is None:
        line += f" and turn = {table.turn:g}"
    return f"{line} under [building]{' in place of its ties' if old.corner is None else ''}"


def _place(place: tuple[float, float], per: float, digits: int) -> str:
    return f"[{', '.join(f'{value / per:.{digits}f}' for value in place)}]"
