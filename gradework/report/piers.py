"""Block piers in words: the common top, a table of all piers, what each goal would give, other stacks."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.foundations.pier_words import THINGS, count_of
from gradework.report.lines import filled, named
from gradework.report.table import text_table
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.foundations.piers import Pier, Piers
    from gradework.units import Display

MOST_ALTERNATIVES_TOLD = 2


def pier_lines(piers: Piers, show: Display) -> list[str]:
    """Tell the piers: top and floor, each in a row, what the goals would give, what else each could be."""
    if piers.top is None or piers.floor_level is None:
        return [line for finding in piers.findings for line in filled(finding.advice)]
    ground = piers.building.highest
    lines = named(
        "Top",
        f"{show.elevation(piers.top)} on all {len(piers.piers)} piers, {_above(piers.top - ground, show)} "
        f"the highest ground under the building; chosen for {piers.goal}",
    )
    lines += named("Floor", f"{show.elevation(piers.floor_level)} with beams, joists and boards on top")
    lines += ["", *_pier_table(piers, show), "", *_holes(piers, show), "", *_goal_table(piers, show)]
    others = _alternatives(piers)
    return [*lines, "", "Another stack under the same top:", *others] if others else lines


def _above(height: float, show: Display) -> str:
    return f"{show.depth(abs(height))} {'above' if height >= 0 else 'below'}"


def _pier_table(piers: Piers, show: Display) -> list[str]:
    unit, same = show.unit_name, _same_ending(piers)
    header = [
        "pier",
        f"ground ({unit})",
        "bottom",
        "bed",
        "stack",
        f"{same or 'unit'}s, bottom up",
    ]
    rows = [
        [
            visible(pier.name, 16),
            f"{show.elevation_number(pier.ground_low)}-{show.elevation_number(pier.ground_high)}",
            show.elevation_number(pier.bottom),
            show.depth(pier.bed),
            show.depth(pier.height),
            stack_words(pier, same),
        ]
        for pier in piers.piers
    ]
    return text_table(header, rows)


def _holes(piers: Piers, show: Display) -> list[str]:
    """Say how large the holes are in plan; where they differ, which pier has which."""
    sizes: dict[str, list[str]] = {}
    for pier in piers.piers:
        along, across = (show.depth(side) for side in pier.hole_size)
        sizes.setdefault(f"{along} along the beams, {across} across", []).append(visible(pier.name, 16))
    if len(sizes) == 1:
        return filled(f"Each hole is {next(iter(sizes))}.")
    return [
        line
        for size, names in sizes.items()
        for line in filled(f"Hole of {', '.join(names)}: {size}.", rest="  ")
    ]


def _same_ending(piers: Piers) -> str:
    """Give the thing ("block") that the names of all units end in, or nothing."""
    endings = {unit.name.rpartition(" ")[2] for unit in piers.spec.units if " " in unit.name}
    alone = any(" " not in unit.name for unit in piers.spec.units)
    return "" if alone or len(endings) != 1 or not endings <= set(THINGS) else endings.pop()


def stack_words(pier: Pier, same: str = "") -> str:
    """Say what is laid from the bottom up, in courses; the word ``same`` that ends every name is left out."""
    names = [unit.name.removesuffix(f" {same}") if same else unit.name for unit in pier.laid]
    counted = [(len(list(group)), visible(name, 40)) for name, group in groupby(names)]
    # the number as a word: "2 x 8 in" would read as a size
    return ", ".join(f"{_number(count)} {name}" if count > 1 else name for count, name in counted)


def _number(count: int) -> str:
    return count_of(count, "block").partition(" ")[0]


def _goal_table(piers: Piers, show: Display) -> list[str]:
    header = ["goal", f"top ({show.unit_name})", "units", f"dig ({show.volume_unit})", "money", ""]
    rows = [
        [
            f"{'*' if choice.goal == piers.goal else ' '} {choice.goal}",
            show.elevation_number(choice.top),
            str(choice.units),
            show.volume_number(choice.dig),
            fixed(choice.cost, 0),
            "",
        ]
        for choice in piers.choices
    ]
    return text_table(header, rows)


def _alternatives(piers: Piers) -> list[str]:
    """Tell the next best stacks; the same words for several piers come once, with their names."""
    told: dict[str, list[str]] = {}
    for pier in piers.piers:
        for other in pier.alternatives[:MOST_ALTERNATIVES_TOLD]:
            told.setdefault(other.words, []).append(visible(pier.name, 16))
    return [
        line for words, names in told.items() for line in filled(f"{', '.join(names)}: {words}", rest="  ")
    ]
