"""Stand here in the rain, in words: where water comes from and goes, before and after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gradework.report.text import named
from gradework.sitework.drains import drains_told
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.project.plan import Plan
    from gradework.sitework.drains import Drains
    from gradework.sitework.rain import Run
    from gradework.units.display import Display


def rain_lines(plan: Plan) -> list[str]:
    """Tell of the drops from uphill, on the ground as it is and once it is built; nothing on level ground."""
    runs, show = plan.rain.runs, plan.job.show
    if not runs or not runs[0]:
        return []
    far = show.distance(plan.rain.uphill)
    rows = [("Rain now", f"of {_from_uphill(runs[0], far)}, {_come(runs[0], 'run over where it goes')}")]
    if len(runs) > 1 and runs[1]:
        goes = f"{_come(runs[1], 'come to it')}{_out(runs[1], show)}"
        rows.append(("Rain then", f"of {_from_uphill(runs[1], far)}, {goes}"))
    return [line for name, text in rows for line in named(name, text)]


def catchment_lines(plan: Plan) -> list[str]:
    """Tell how much ground drains to each wall now and once it is built, and to what is dug: a line each,
    none where that is next to nothing."""
    rows, show = drains_told(*plan.catchments), plan.job.show
    lines = []
    for where, now, then in rows:
        told = [] if now is None else [f"{now.words(show)} as it is"]
        told += [] if then is None else [f"{then.words(show)} once it is built"]
        lines.append(f"{where}: {', '.join(told)}")
    if lines:
        lines[-1] += "".join(f"; {text}" for text in how_known(plan, rows))
    return [line for k, text in enumerate(lines) for line in named("" if k else "Drains to", text)]


def how_known(plan: Plan, rows: Sequence[Drains]) -> list[str]:
    """Say of what drains anywhere where more of it may come from, and by what is known what comes from beyond
    the survey."""
    air = plan.airborne if plan.airborne is not None and plan.airborne.beyond is not None else None
    told = []
    if any(one.least for one in rows):
        known = "your survey" if air is None else "the airborne ground"
        told.append(f"at least, since more may come in over the edge of {known}")
    if air is not None and any(one.farther for one in rows):
        told.append(f"beyond your survey by airborne ground, ± {plan.job.show.depth(air.sd)}")
    return told


def _from_uphill(runs: Sequence[Run], far: str) -> str:
    return f"{counted(len(runs), 'drops')} from up to {far} uphill of the building"


def _come(runs: Sequence[Run], words: str) -> str:
    come = sum(one.comes for one in runs)
    count = "none" if not come else "all" if come == len(runs) else f"{come}"
    wet = max(one.ponds for one in runs)
    return f"{count} {words}{', and some stand in a hollow on the way' if wet else ''}"


def _out(runs: Sequence[Run], show: Display) -> str:
    """What becomes of those that do not come: they run into a drain, or leave the survey."""
    drained = sum(one.drained for one in runs)
    ends = [one.legs[-1][-1] for one in runs if not (one.comes or one.drained)]
    who = "the rest" if len(ends) < len(runs) else "they"
    drain = f"; {'all' if drained == len(runs) else drained} run into the drain" if drained else ""
    places = list(dict.fromkeys(show.place(float(x), float(y)) for x, y, _ in ends))
    return drain + (f"; {who} leave the survey at {'; '.join(places)}" if places else "")
