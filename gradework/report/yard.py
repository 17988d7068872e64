"""What is done in the yard, in words: where stakes go and what the rod reads, and what was built."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gradework.errors import visible, words
from gradework.report.text import bulleted, columns, filled, text_table
from gradework.sitework.asbuilt import allowed, apart, high_or_low
from gradework.sitework.setout import FINISHED, LED, to

if TYPE_CHECKING:
    from gradework.project.asbuilt import AsBuilt
    from gradework.project.setout import SettingOut
    from gradework.sitework.asbuilt import CornerMove, SquareCheck
    from gradework.sitework.pier_stakes import RowString
    from gradework.sitework.setout import Aside, RodReading, SharedLevel, StakedPoint
    from gradework.sitework.setout_ties import TapeTie
    from gradework.units.display import Display


_LED = {
    "swale": "swale",
    "apron": "apron",
    "drain": "pipe drain",
    "gutter pipe": "pipe of the gutter",
    "outlet pipe": "pipe out of the stone",
}
"""What stakes stand beside, by their kind."""

BUILT = {"pad": "top of the gravel", "piers": "top of the piers", "slab": "top of the slab"}
"""What the finished level is called."""


def setout_text(made: SettingOut) -> str:
    """Tell the whole sheet. Lines are at most 80 columns where the words allow it."""
    show, sheet = made.plan.job.show, made.sheet
    parts = [
        [visible(made.plan.job.name, columns())],
        _start(made, show),
        ["Order of work", *(f"  {line}" for step in sheet.steps for line in bulleted(step))],
        ["Places", *(f"  {line}".rstrip() for line in _places(made, show))],
    ]
    if sheet.checks:
        parts.append(["Measure", *(f"  {line}".rstrip() for line in _checks(made, show))])
    if made.rows:
        parts.append(["Piers by running tape", *(f"  {line}".rstrip() for line in _running(made, show))])
    led = [_LED[kind] for kind in LED if any(p.stake.kind == kind for p in made.sheet.points)]
    if led:
        told = [f"  {line}".rstrip() for line in _led(led, made, show)]
        parts.append([" and ".join(led).capitalize(), *told])
    parts.append(["Levels", *(f"  {line}".rstrip() for line in _stake_levels(made, show))])
    return "\n\n".join("\n".join(part) for part in parts)


def _start(made: SettingOut, show: Display) -> list[str]:
    sheet, stamp = made.sheet, made.plan.stamp(made.kind)
    lines = [f"{stamp}."] if stamp else []
    lines += [f"{BUILT[made.kind].capitalize()} {show.elevation(made.level)}."]
    if made.backsight is not None:
        seen = made.backsight
        lines.append(
            f"Height of instrument {show.elevation(seen.instrument)}: {visible(seen.name, 30)} at "
            f"{show.elevation(seen.elevation)}, backsight {show.rod(seen.reading)}."
        )
    elif sheet.instrument is not None:
        lines.append(f"Height of instrument {show.elevation(sheet.instrument)}.")
    else:
        lines.append(_no_instrument(made, show))
    if sheet.string is not None:
        lines.append(f"String at {show.elevation(sheet.string)}.")
    names = " to ".join(visible(mark.name, 30) for mark in made.marks[:2])
    given = "" if made.marks_given else " (survey stations; better: name permanent marks under [setout])"
    lines.append(f"Baseline: {names}{given}.")
    return [part for line in lines for part in filled(line, width=columns())]


def _no_instrument(made: SettingOut, show: Display) -> str:
    """Say what the rod readings lack, and the mark that the plan knows for it."""
    known = next((mark for mark in made.plan.benchmarks if mark.basis != "levelled"), None)
    if known is None:
        return "No height of instrument given. Rod reading = height of instrument - elevation."
    mark = f"{visible(known.name, 30)} ({show.elevation(known.elevation)})"
    add = f'add --backsight "{visible(known.name, 30)} READING"'
    return f"Rod readings are not worked out: read {mark}, and {add}."


def _places(made: SettingOut, show: Display) -> list[str]:
    header = ["stake", "x", "y", "along", "offset", "by tape"]
    rows = []
    for point in made.sheet.points:
        stake, base = point.stake, point.baseline
        rows.append(
            [
                visible(stake.name, 20),
                show.taped_number(stake.x),
                show.taped_number(stake.y),
                "" if base is None else show.taped_number(base.along),
                "" if base is None else _left_right(base.offset, show),
                "" if point.tie is None else tie_words(point.tie, show),
            ]
        )
    return text_table(header, rows)


def _left_right(offset: float, show: Display) -> str:
    text = show.taped_number(abs(offset))
    return text if text == show.taped_number(0.0) else f"{text} {'L' if offset > 0 else 'R'}"


def tie_words(tie: TapeTie, show: Display) -> str:
    """Say the two tapes of a tie; the colons keep a mark called 20 apart from its length.

    >>> from gradework.sitework.setout_ties import TapeTie
    >>> from gradework.units.display import FEET
    >>> tie_words(TapeTie("gate", "oak", 3.048, 4.572, "left", 80.0, False), FEET)
    'gate: 10.00 ft, oak: 15.00 ft (left)'
    """
    first, second = visible(tie.first, 20), visible(tie.second, 20)
    side = "" if tie.side == "on the line" else f" ({tie.side})"
    return f"{first}: {show.taped(tie.from_first)}, {second}: {show.taped(tie.from_second)}{side}"


def _checks(made: SettingOut, show: Display) -> list[str]:
    rows = [
        [f"{check.first} to {check.second}", show.taped(check.length), check.kind]
        for check in made.sheet.checks
    ]
    limit = f"The two diagonals of four corners may differ by {allowed(made.sheet.allowed, show)}."
    return [*text_table(["from, to", "length", ""], rows), *filled(limit)]


def _running(made: SettingOut, show: Display) -> list[str]:
    """Where a tape hooked on the first stake of each row's string passes the piers."""
    lines = filled("Hook the tape on the first stake, hold it level along the string, and do not move it.")
    for string in made.rows:
        places = ", ".join(f"{visible(name, 20)} {show.taped(along)}" for name, along in string.places)
        lines += filled(
            f"- Row {string.row}: {row_words(string, show)}. Line of the building {show.taped(string.line)}; "
            f"piers {places}.",
            rest="  ",
        )
    told = "Each stake stands beside its pier, square to the row and clear of the hole:"
    return [*lines, "", *filled(told), *_asides(made, show)]


FEET = "The stakes of the apron stand at its foot: there its soil ends on the ground as it is."
"""Of soil that is only heaped."""


def _led(names: Sequence[str], made: SettingOut, show: Display) -> list[str]:
    """Where the stakes stand of what leads water past."""
    dug = [name for name in names if name != _LED["apron"]]
    lines = filled(FEET) if len(dug) < len(names) else []
    if dug:
        lines += filled(f"The stakes stand beside the {' and the '.join(dug)}, clear of the dig:")
        lines += _asides(made, show)
    return lines


def _asides(made: SettingOut, show: Display) -> list[str]:
    """How far the stakes stand from what they mark, those alike together."""
    lines: list[str] = []
    groups: dict[str, list[str]] = {}
    for point in made.sheet.points:
        if point.stake.aside is not None:
            names = groups.setdefault(aside_words(point.stake.aside, show), [])
            names.append(visible(point.stake.name.removeprefix("pier "), 20))
        elif point.stake.kind in LED and point.stake.kind != "apron":
            words = "in the middle, since no ground beside it was shot"
            groups.setdefault(words, []).append(visible(point.stake.name, 20))
    for where, names in groups.items():
        lines += filled(f"- {where}: {', '.join(names)}", rest="  ")
    return lines


def aside_words(aside: Aside, show: Display) -> str:
    """Say where a stake stands from the middle of what it marks.

    >>> from gradework.sitework.setout import Aside
    >>> from gradework.units.display import FEET
    >>> aside_words(Aside(0.0, 0.0, 0.6096, (0.0, -1.0), "1-2"), FEET)
    '2.00 ft from the middle, toward side 1-2'
    """
    return f"{show.taped(aside.distance)} from the middle, {aside.where}"


def row_words(string: RowString, show: Display) -> str:
    """Say where the string of a row runs."""
    words = f"string from {string.first} to {string.second}, {show.taped(string.length)}"
    if not string.beside:
        return words
    where = "inside" if string.inside >= 0.0 else "outside"
    return f"{words}, {show.taped(abs(string.inside))} {where} side {string.beside}"


def _stake_levels(made: SettingOut, show: Display) -> list[str]:
    """What all stakes end at, once; then a line for each level that is a stake's own, and for its mark."""
    lines = []
    for shared in made.sheet.shared:
        parts = [f"{shared_words(shared, made.level, made.kind)} {show.elevation(shared.level)}"]
        if shared.reading is not None:
            parts.append(f"rod {_rod(shared.reading, show)}")
        if shared.from_string is not None and abs(shared.from_string) > 1e-9:
            parts.append(f"string {show.hung(shared.from_string)}")
        lines += filled(f"Everywhere: {', '.join(parts)}.")
    lines += filled(
        f"C is cut, F is fill, from the ground at the stake. The {FINISHED} is the {BUILT[made.kind]}."
    )
    header = ["stake", "mark", show.heading("elevation"), show.rod_heading("rod"), "string", "what"]
    rows = [row for point in made.sheet.points for row in _rows_of(point, show)]
    if show.form == "inches" and made.sheet.string is not None:
        # rod and string leave no room for the elevation, which nobody reads at the stake
        header, rows = [*header[:2], *header[3:]], [[*row[:2], *row[3:]] for row in rows]
    return [*lines, "", *text_table(header, rows)]


def shared_words(shared: SharedLevel, level: float, kind: str) -> str:
    """Name a level that many stakes end at."""
    return BUILT[kind] if math.isclose(shared.level, level, abs_tol=1e-6) else "strings on the boards"


def _rod(reading: RodReading, show: Display) -> str:
    # in brackets: the figure is right, but no rod shows it from here
    text = show.rod_number(reading.reading)
    return text if reading.reach == "yes" else f"({text})"


def _rows_of(point: StakedPoint, show: Display) -> list[list[str]]:
    """The levels that are the stake's own, and its marks, each beside the level that it leads to."""
    strings = dict(point.from_string)
    readings = {reading.what: reading for reading in point.readings}
    rows = []
    for what, level in point.own_levels:
        rod = _rod(readings[what], show) if what in readings else ""
        height = show.hung(strings[what]) if what in strings else ""
        mark = point.mark_text(show) if what == point.marked_for else ""
        rows.append([mark, show.elevation_number(level), rod, height, to(what) if mark else what])
    if point.finish is not None:
        rows.append([point.finish.text(show), "", "", "", to(FINISHED)])
    elif point.mark is not None and not point.own_levels:
        rows.append([point.mark.text(show), "", "", "", to(point.stake.worked_to[-1][0])])
    name = visible(point.stake.name, 20)
    return [[name if number == 0 else "", *row] for number, row in enumerate(rows or [[""] * 5])]


def asbuilt_text(built: AsBuilt) -> str:
    """Tell whether it is level and square, and what to do. Lines are at most 80 columns."""
    show = built.plan.job.show.fine
    parts = [
        [visible(built.plan.job.name, columns())],
        [_verdict(built)],
        [BUILT[built.kind].capitalize(), *(f"  {line}".rstrip() for line in _top_levels(built, show))],
    ]
    if built.square is not None:
        parts.append(["Corners", *(f"  {line}".rstrip() for line in _corners(built.square, show))])
    return "\n\n".join("\n".join(part) for part in parts)


_BUT = ("asbuilt-leans", "asbuilt-off-plan")
"""What does not fail, but shall not hide behind a pass."""


def _verdict(built: AsBuilt) -> str:
    if not built.tied:
        level = "flat among themselves" if built.levels.passed else "not level among themselves"
        return f"Not yet. The tops are {level}; height not checked: read a mark."
    if built.passed:
        square = " and square" if built.square is not None else ""
        near = words(built.plan.job.show.dialect)["neighboring"]
        if any(finding.code in _BUT for finding in built.findings):
            return f"Pass: {near} tops are level{square} within what is allowed. See the warning below."
        return f"Pass: level{square} within what is allowed."
    return "Not yet. Do what is listed below."


def _top_levels(built: AsBuilt, show: Display) -> list[str]:
    check = built.levels
    header = ["point", "elevation", *(["off plan"] if built.tied else []), "off best level", "do"]
    rows = [
        [
            visible(point.name, 20),
            show.elevation_number(point.measured),
            *([high_or_low(point.off_plan, show)] if built.tied else []),
            high_or_low(point.off_best, show),
            point.advice,
        ]
        for point in check.points
    ]
    lines = filled(_best(built, show))
    lines += ["", *text_table(header, rows)]
    off = [pair for pair in check.pairs if not pair.ok]
    if off:
        near = words(show.dialect)["neighboring"].capitalize()
        lines += ["", f"{near} tops that differ by more than {allowed(check.tolerance, show)}:"]
        for pair in off:
            higher, lower = (pair.first, pair.second) if pair.difference > 0 else (pair.second, pair.first)
            by = apart(abs(pair.difference), show)
            lines += filled(f"- {visible(higher, 20)} is {by} higher than {visible(lower, 20)}", rest="  ")
    if check.passed:
        high, low = check.spread
        fall = high.measured - low.measured
        if fall > check.tolerance + 1e-9:
            slope = f"From {visible(high.name, 20)} to {visible(low.name, 20)} tops fall {apart(fall, show)}"
            lines += ["", *filled(f"{slope} in small steps: the floor slopes.")]
    if built.ignored:
        names = ", ".join(visible(name, 20) for name in built.ignored[:8])
        lines += ["", *filled(f"Not compared, no such pier: {names}.")]
    return lines


def _best(built: AsBuilt, show: Display) -> str:
    check = built.levels
    count = f"{check.reworked} of {len(check.points)}"
    best = f"The level with the least rework is {show.elevation(check.best)}: {count} to rework."
    if not built.tied:
        return f"No known elevation to start from, so tops are compared only with each other. {best}"
    away = check.best - check.plan
    planned = f"Planned {show.elevation(check.plan)}."
    words = high_or_low(away, show)
    return f"{planned} {best}" + ("" if words == "on level" else f" That is {words}, all together.")


def _corners(square: SquareCheck, show: Display) -> list[str]:
    first, second = (show.taped(value) for value in square.diagonals)
    lines = filled(
        f"Diagonals 1-3 {first} and 2-4 {second} differ by {apart(square.difference, show)}; "
        f"{allowed(square.tolerance, show)} is allowed."
    )
    if square.misfit > 0.5 * square.tolerance:
        lines += filled(
            f"The six lengths do not fit together by {apart(square.misfit, show)}: measure again first."
        )
    if square.moves:
        held = " and ".join(str(corner) for corner in sorted(square.held))
        lines += filled(f"Leave corner {square.held[0]} and the line of corners {held} as they are.")
        for move in square.moves:
            lines += filled(f"- {_move(move, show)}", rest="  ")
    return lines


def _move(move: CornerMove, show: Display) -> str:
    """Say how far a corner is moved along and square to the side from corner 1 to corner 2."""
    parts = []
    for value, more, less in (
        (move.along, "from corner 1 toward 2", "from corner 2 toward 1"),
        (move.across, "to the left of the line 1-2", "to the right of the line 1-2"),
    ):
        if not math.isclose(value, 0.0, abs_tol=0.0005):
            parts.append(f"{show.depth(abs(value))} {more if value > 0 else less}")
    return f"move corner {move.number} {' and '.join(parts) or 'by a hair'}"
