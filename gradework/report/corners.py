"""Four drops to piers in words: what each pier is made of, how much gravel, what to buy, what is unknown."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.foundations.piers.plan import stack_words
from gradework.project.gate_told import condition
from gradework.report.answer import MOST, Part, fit
from gradework.report.first_screen import (
    CAUTION,
    CAUTION_SHORT,
    order_parts,
    stop_parts,
    verdict_part,
    warning_parts,
)
from gradework.report.foundations import same_ending
from gradework.report.text import columns
from gradework.units.display import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.foundations.piers.plan import Pier
    from gradework.project.corners import Measured
    from gradework.project.plan import Plan
    from gradework.units.display import Display


NOT_KNOWN = "where water runs, and what lies uphill: look before you dig."
"""What four drops do not say, besides the ifs of every foundation."""

TAKEN = "corners 1-2: {along}, 2-3: {across}; straight between, {out} beyond too."
"""What is made up where nothing was measured."""

MOST_ROWS, LEAST_ROWS = 10, 3
"""Lines of the table of piers: where nothing else needs them, and whatever else there is."""


def corners_text(plan: Plan, measured: Measured, said: str, *, files: str = "") -> str:
    """Tell it in at most 24 lines: ``said`` is what was understood, "" leaves the files out."""
    return "\n".join(fit(_parts(plan, measured, said, files), width=columns(), whole=("verdict",)))


def only_if(plan: Plan) -> list[str]:
    """Say what only he can settle, for the sheet; nothing where nothing is open."""
    ifs = "" if plan.judged is None else condition(plan.judged)
    return [f"Good only {ifs}."] if ifs else []


def corners_verdict(plan: Plan, said: str) -> str:
    """Say back what was understood, and whether it can be built."""
    return "\n".join(fit([_verdict(plan, said)], width=columns()))


def _verdict(plan: Plan, said: str) -> Part:
    return Part("verdict", verdict_part(plan, visible(said, 60)).text)  # in short the size would be left out


def below(level: float, measured: Measured, show: Display) -> str:
    """Say a level from the level line, which is where a tape starts."""
    far = show.depth(abs(measured.line - level))
    if far == show.depth(0.0):
        return "at the line"
    return f"{far} {'below' if level < measured.line else 'above'} the line"


def _parts(plan: Plan, measured: Measured, said: str, files: str) -> list[Part]:
    stops = stop_parts(plan)
    first = [_verdict(plan, said), *stops]
    rest = [*_dig(plan), *order_parts(plan), *warning_parts(plan.findings)]
    rest.append(Part("caution", NOT_KNOWN, label="Unknown"))
    rest.append(Part("trust", taken(plan, measured), label="Taken"))
    rest.append(Part("trust" if stops else "caution", CAUTION, CAUTION_SHORT, label="Care"))
    rest += [Part("files", files, label="Files")] if files else []
    room = MOST - len(first) - len(rest) - 3  # the tops have a line, the answer and the holes a second
    return [*first, *_piers(plan, measured, min(max(room, LEAST_ROWS), MOST_ROWS)), *rest]


def taken(plan: Plan, measured: Measured) -> str:
    """Say what is made up where nothing was measured."""
    along, across = measured.sides
    return TAKEN.format(along=along, across=across, out=plan.job.show.depth(measured.out))


def _piers(plan: Plan, measured: Measured, most: int) -> list[Part]:
    """Tell the tops, and in ``most`` lines at the most what each pier is made of."""
    piers, show = plan.foundations.piers, plan.job.show
    if piers is None or piers.top is None or piers.floor_level is None:
        return []
    top = f"All tops {below(piers.top, measured, show)}; floor {below(piers.floor_level, measured, show)}."
    rows = (
        pier_rows(plan, measured)
        if len(piers.piers) < most
        else _by_stack(piers.piers, same_ending(piers), most)
    )
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ["  ".join(f"{cell:<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    return [Part("level", top), *(Part("level", line, label="Piers") for line in lines)]


def pier_rows(plan: Plan, measured: Measured) -> list[list[str]]:
    """A row for each pier under a header: name, bottom of its hole below the line, bed, blocks."""
    piers, show = plan.foundations.piers, plan.job.show
    assert piers is not None
    same = same_ending(piers)
    rows = [["pier", "hole below line", "bed", f"{same or 'block'}s, bottom up"]]
    for pier in piers.piers:
        deep = show.depth(measured.line - pier.bottom)
        rows.append([pier.name, deep, show.depth(pier.bed), stack_words(pier.laid, pier.across, same)])
    return rows


def sheet_rows(plan: Plan, measured: Measured) -> list[list[str]]:
    """The rows of ``pier_rows`` with what the yard asks for: the middle from corner 1, and the hole."""
    piers, show = plan.foundations.piers, plan.job.show
    assert piers is not None
    header, *rows = pier_rows(plan, measured)
    wide = [
        [f"{show.taped(pier.x)}, {show.taped(pier.y)}", " x ".join(map(show.depth, pier.hole_size))]
        for pier in piers.piers
    ]
    middles = zip([["middle along, across", "hole"], *wide], [header, *rows], strict=True)
    return [[name, *where, *rest] for where, (name, *rest) in middles]


def _by_stack(piers: Sequence[Pier], same: str, most: int) -> list[list[str]]:
    """A row for each kind of stack with the names of its piers, under a header.

    Of more kinds than fit ``most`` rows those of the most piers are told, in the order of the piers.
    """
    stacks: dict[str, list[str]] = {}
    for pier in piers:
        stacks.setdefault(stack_words(pier.laid, pier.across, same), []).append(pier.name)
    header = ["piers", f"{same or 'block'}s, bottom up; holes and beds on the sheet"]
    if len(stacks) < most:
        return [header, *([_joined(names), stack] for stack, names in stacks.items())]
    told = sorted(stacks, key=lambda stack: -len(stacks[stack]))[: most - 2]
    left = [name for stack, names in stacks.items() if stack not in told for name in names]
    rows = [[_joined(names), stack] for stack, names in stacks.items() if stack in told]
    kinds = counted(len(stacks) - len(told), "other stacks")
    return [header, *rows, [counted(len(left), "more piers"), f"{kinds}, all on the sheet"]]


def _joined(names: Sequence[str]) -> str:
    """Name piers that follow each other in a row once: 1-1 to 1-3.

    >>> _joined(["1-1", "1-2", "1-3", "2-1"])
    '1-1 to 1-3, 2-1'
    """
    runs: list[list[str]] = [[names[0]]]
    for one, other in pairwise(names):
        row, _, number = one.rpartition("-")
        if number.isdecimal() and other == f"{row}-{int(number) + 1}":
            runs[-1].append(other)
        else:
            runs.append([other])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def _dig(plan: Plan) -> list[Part]:
    show, piers = plan.job.show, plan.foundations.piers
    if piers is None or not piers.piers:
        return []
    sizes = Counter(" x ".join(map(show.depth, pier.hole_size)) for pier in piers.piers)
    of = ", ".join(f"{count} of {size}" if len(sizes) > 1 else size for size, count in sizes.items())
    beds = show.volume(sum(pier.bed_volume for pier in piers.piers))
    colon = ":" if len(sizes) > 1 else ""
    holes = f"{show.volume(piers.dug)}, {counted(len(piers.piers), 'holes')}{colon} {of}"
    return [Part("dig", f"{holes}; beds {beds} of gravel", holes, label="Dig")]
