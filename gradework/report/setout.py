"""Setting out in words: where each stake goes, and what the rod reads there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.lines import WIDTH, bulleted, filled
from gradework.report.table import text_table

if TYPE_CHECKING:
    from gradework.project.stakes import SettingOut
    from gradework.sitework.setout import StakedPoint
    from gradework.sitework.setout_ties import TapeTie
    from gradework.units import Display

BUILT = {"pad": "top of the gravel", "piers": "top of the piers", "slab": "top of the slab"}
"""What the finished level is called."""


def setout_text(made: SettingOut) -> str:
    """Tell the whole sheet. Lines are at most 80 columns where the words allow it."""
    show, sheet = made.plan.job.show, made.sheet
    parts = [
        [visible(made.plan.job.name, WIDTH)],
        _start(made, show),
        ["Order of work", *(f"  {line}" for step in sheet.steps for line in bulleted(step))],
        ["Places", *(f"  {line}".rstrip() for line in _places(made, show))],
    ]
    if sheet.checks:
        parts.append(["Measure", *(f"  {line}".rstrip() for line in _checks(made, show))])
    parts.append(["Levels", *(f"  {line}".rstrip() for line in _levels(made, show))])
    return "\n\n".join("\n".join(part) for part in parts)


def _start(made: SettingOut, show: Display) -> list[str]:
    sheet = made.sheet
    lines = [f"{BUILT[made.kind].capitalize()} {show.elevation(made.level)}."]
    if made.backsight is not None:
        seen = made.backsight
        lines.append(
            f"Height of instrument {show.elevation(seen.instrument)}: {visible(seen.name, 30)} at "
            f"{show.elevation(seen.elevation)}, backsight {show.elevation_number(seen.reading)}."
        )
    elif sheet.instrument is not None:
        lines.append(f"Height of instrument {show.elevation(sheet.instrument)}.")
    else:
        lines.append("No height of instrument given: rod reading = height of instrument - elevation.")
    if sheet.string is not None:
        lines.append(f"String at {show.elevation(sheet.string)}.")
    names = " and ".join(visible(mark.name, 30) for mark in made.marks[:2])
    given = (
        "" if made.marks_given else " (stations of the survey; name marks that still stand under [setout])"
    )
    lines.append(f"Baseline from {names}{given}.")
    return [part for line in lines for part in filled(line, width=WIDTH)]


def _places(made: SettingOut, show: Display) -> list[str]:
    header = ["stake", "x", "y", "along", "offset", "by tape"]
    rows = []
    for point in made.sheet.points:
        stake, base = point.stake, point.baseline
        rows.append(
            [
                visible(stake.name, 20),
                show.elevation_number(stake.x),
                show.elevation_number(stake.y),
                "" if base is None else show.elevation_number(base.along),
                "" if base is None else _left_right(base.offset, show),
                "" if point.tie is None else tie_words(point.tie, show),
            ]
        )
    return text_table(header, rows)


def _left_right(offset: float, show: Display) -> str:
    text = show.elevation_number(abs(offset))
    return text if text == show.elevation_number(0.0) else f"{text} {'L' if offset > 0 else 'R'}"


def tie_words(tie: TapeTie, show: Display) -> str:
    """Say the two tapes of a tie.

    >>> from gradework.sitework.setout_ties import TapeTie
    >>> from gradework.units import FEET
    >>> tie_words(TapeTie("gate", "oak", 3.048, 4.572, "left", 80.0, False), FEET)
    'gate 10\\' 0", oak 15\\' 0" (left)'
    """
    first, second = visible(tie.first, 20), visible(tie.second, 20)
    side = "" if tie.side == "on the line" else f" ({tie.side})"
    return f"{first} {show.length(tie.from_first)}, {second} {show.length(tie.from_second)}{side}"


def _checks(made: SettingOut, show: Display) -> list[str]:
    rows = [
        [f"{check.first} to {check.second}", show.length(check.length), check.kind]
        for check in made.sheet.checks
    ]
    allowed = f"The two diagonals of four corners may differ by {show.depth(made.sheet.allowed)}."
    return [*text_table(["from, to", "length", ""], rows), *filled(allowed)]


def _levels(made: SettingOut, show: Display) -> list[str]:
    """One line for each level of each stake; the stake's mark stands beside the level it leads to."""
    header = ["stake", "mark", f"elevation ({show.unit_name})", "rod", "string", "of"]
    rows = [row for point in made.sheet.points for row in _rows_of(point, show)]
    return text_table(header, rows)


def _rows_of(point: StakedPoint, show: Display) -> list[list[str]]:
    stake = point.stake
    strings = dict(point.from_string)
    readings = {reading.what: reading for reading in point.readings}
    rows = []
    for number, (what, level) in enumerate(stake.worked_to):
        reading = readings.get(what)
        rod = "" if reading is None else show.elevation_number(reading.reading)
        rod = rod if reading is None or reading.reach == "yes" else f"({rod})"
        height = f"{show.in_units(strings[what]):+.{2 if show.us else 3}f}" if what in strings else ""
        mark = point.mark.text(show) if point.mark is not None and what == point.marked_for else ""
        named = visible(stake.name, 20) if number == 0 else ""
        rows.append([named, mark, show.elevation_number(level), rod, height, what])
    return rows
