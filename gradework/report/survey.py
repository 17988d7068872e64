"""Reduced notes in words: the field book with its checks, the stations, marks met, ties."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from gradework.errors import as_rows, visible
from gradework.report.text import bulleted, columns, filled, text_table
from gradework.survey.quality import judge
from gradework.survey.stations import name_key
from gradework.units.display import Display, counted

if TYPE_CHECKING:
    from gradework.project.stations.join import YardNotes
    from gradework.survey.levelling.field_book import BookLine, Closure, FieldBook, PageCheck
    from gradework.survey.levelling.heights import Heights, MarkCheck
    from gradework.survey.levelling.network import BookNetwork
    from gradework.survey.placing.tape import TieCheck


_SHARED = {
    "marks": "The mark is set at the mean of what all known marks give.",
    "runs": "The misclosure is shared out along the steps, by their runs.",
    "network": "The pairs are adjusted to all known marks together, by least squares.",
}


def marks_met(heights: Heights) -> Iterator[str]:
    """Write each mark that was met with its misclosure and allowance, and how the miss was shared."""
    show = heights.show
    yield "Checks on known marks"
    for check in heights.checks:
        known = "before" if check.again else "known"
        yield from bulleted(miss_words(check, show, over=check.over, rule=check.rule, known=known))
    if heights.shared in _SHARED and any(check.misclosure for check in heights.checks):
        yield _SHARED[heights.shared]
    elif any(check.misclosure for check in heights.checks):
        yield "Nothing is shared out: marks keep their elevations, everything else stays as read."


def miss_words(
    check: MarkCheck | Closure, show: Display, *, over: str, rule: str, known: str = "known"
) -> str:
    """One check on a mark: ``over`` what, against which ``rule``'s allowance, and the verdict."""
    line = f", line {check.line}" if check.line else ""
    words = (
        f"{visible(check.station)}{line}, over {over}: computed {show.elevation(check.computed)}, "
        f"{known} {show.elevation(check.known)}, misclosure {show.elevation(check.misclosure)}; "
    )
    if check.allowable is None:
        return f"{words}{rule} has no rule for what was measured."
    verdict = "good" if check.within else "too much"
    return f"{words}allowed {show.elevation(check.allowable)} ({rule}): {verdict}."


MOST_ROWS = 12
_LONGEST_TIE_NAME = 20


def tie_table(ties: Sequence[TieCheck], show: Display) -> Iterator[str]:
    """Lines of a table of residuals, the largest first; of many, the first dozen and how many more."""
    yield from filled(
        f"Stations with more than two ties, in {show.unit_title}; residuals in {show.error_unit}: taped "
        "length less the length that fits all ties best; the largest first."
    )
    worst = sorted(ties, key=lambda tie: -abs(tie.residual))
    rows = [
        [
            visible(tie.station, _LONGEST_TIE_NAME),
            str(tie.line),
            show.taped_number(tie.length),
            _signed(show.error_number(tie.residual)),
            f"from {visible(tie.mark, _LONGEST_TIE_NAME)}",
        ]
        for tie in worst[:MOST_ROWS]
    ]
    yield from text_table(["Station", "Line", "Taped", "Residual", ""], rows)
    if len(worst) > MOST_ROWS:
        yield f"and {len(worst) - MOST_ROWS} more, each smaller"


_LONGEST_NAME, _LONGEST_FILE = 10, 40


def field_book_text(book: FieldBook) -> str:
    """Write the book as a table of at most 80 columns with sums, both page checks and closures below it."""
    show = book.show
    cells = _cells(book, show)
    table = table_lines(cells)
    # long names and readings in feet and inches: the elevation before sharing follows from the rises
    if max(map(len, table)) > columns():
        table = table_lines([[*row[:-3], *row[-2:]] for row in cells])
    pages = [list(_page(page, book, show)) for page in book.pages]
    parts = [_heading(book, show), table, *pages, list(_closures(book, show))]
    if book.network is not None:
        parts.append(list(_network(book.network, show)))
    return "\n\n".join("\n".join(part) for part in parts)


def table_lines(rows: Sequence[Sequence[str]]) -> list[str]:
    """Lay out rows of cells, the first row a heading: names at the left, figures at the right.

    >>> table_lines([["Station", "FS"], ["A1", "4.62"]])
    ['Station    FS', 'A1       4.62']
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    gap = "  " if sum(widths) + 2 * (len(widths) - 1) <= columns() else " "
    return [
        gap.join(
            cell.ljust(width) if number == 0 else cell.rjust(width)
            for number, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _heading(book: FieldBook, show: Display) -> list[str]:
    start = show.elevation(book.datum)
    datum = f"assumed at {start}" if book.assumed else f"given as {start}"
    file = f" {visible(book.file, _LONGEST_FILE)}" if book.file else ""
    start = f"from {visible(book.benchmark)}, {datum}"
    error = _errors_in(show)
    return filled(
        f"Field book{file}, in {show.unit_title}: {counted(book.setups, 'set-ups')}, {start}.{error}"
    )


def _errors_in(show: Display) -> str:
    """Say what standard errors are in, where it is not what the elevations are in."""
    if show.error_unit == show.unit_mark:
        return ""
    unit = "inches" if show.error_unit == "in" else show.error_unit  # "in in" reads like a slip
    return f" Standard errors in {unit}."


def _cells(book: FieldBook, show: Display) -> list[list[str]]:
    sums = [show.elevation_number(total) for total in (book.sum_backsights, book.sum_foresights)]
    return [
        ["Station", "BS", "HI", "IS", "FS", "Rise", "Elevation", "Adjusted", "s.e."],
        *(_line(line, show) for line in book.lines),
        ["Sums", sums[0], "", "", sums[1], "", "", "", ""],
    ]


def _line(line: BookLine, show: Display) -> list[str]:
    """One line of the book; what was adjusted has no finer a figure than its error earns."""
    row = line.row
    readings = (row.backsight, line.height_of_instrument, row.intermediate, row.foresight)
    return [
        visible(row.station, _LONGEST_NAME),
        *("" if value is None else show.elevation_number(value) for value in readings),
        "" if line.rise is None else _signed(show.elevation_number(line.rise)),
        show.elevation_number(line.raw),
        show.known_to(line.sd).elevation_number(line.elevation),
        show.error_number(line.sd),
    ]


def _signed(number: str) -> str:
    """Put a plus before what is more than nothing."""
    return f"+{number}" if number.strip('0."') and not number.startswith("-") else number


def _page(page: PageCheck, book: FieldBook, show: Display) -> Iterator[str]:
    """The arithmetic check at the foot of one unbroken run, both ways."""
    if len(book.pages) > 1:
        yield f"Page check, lines {page.first_line} to {page.last_line}"
    else:
        yield "Page check"

    number = show.elevation_number
    shown = [
        (words, number(first), number(second), number(first - second))
        for words, first, second in (
            ("sum BS - sum FS", page.backsights, page.foresights),
            ("sum of rises - sum of falls", page.rises, page.falls),
            ("last - first elevation", page.last, page.first),
        )
    ]
    wide, wider, widest = (max(len(row[i]) for row in shown) for i in (1, 2, 3))
    for words, first, second, rest in shown:
        yield f"  {words:<28}{first:>{wide}} - {second:>{wider}} = {rest:>{widest}}"
    yield "  all three agree: the sums are right (a misread rod does not show here)"


def _closures(book: FieldBook, show: Display) -> Iterator[str]:
    if not book.closures:
        checked = (
            "the routes check each other" if book.network else "nothing shows whether the levels are right"
        )
        yield f"No closing mark: {checked}."
        return
    yield "Closing"
    for closure in book.closures:
        yield from bulleted(_closure(closure, book, show))
    how = {
        "setups": "The misclosure is shared out equally over the set-ups.",
        "distance": "The misclosure is shared out by the length of the sights.",
        "network": "The routes are adjusted together, by least squares.",
    }
    if any(c.misclosure for c in book.closures):
        why = "look for its cause" if any(c.within is False for c in book.closures) else "no rule allows it"
        yield how.get(book.shared, f"The misclosure is not shared out: {why}.")


def _network(network: BookNetwork, show: Display) -> Iterator[str]:
    """The adjustment of several routes: how good the readings are, and what is left of each."""
    yield from filled(
        f"Least squares over all routes: {len(network.readings)} readings, {network.surplus} redundant, "
        f"reference variance {network.reference_variance:.2f} for readings good to "
        f"{show.error(network.reading_sd)} (one standard error). Residuals (adjusted minus read, in "
        f"{show.error_unit}) of the readings that others check, and each over its own standard error:"
    )
    checked = [r for r in network.readings if abs(r.standardised) > 0]
    rows = [["Station", "Line", "Column", "Reading", "Residual", "/ s.e."]]
    for r in checked:
        worst = " worst" if r in network.suspects else ""
        rows.append(
            [
                visible(r.station, _LONGEST_NAME),
                str(r.line),
                r.column,
                show.elevation_number(r.reading),
                _signed(show.error_number(r.residual)),
                f"{r.standardised:+.1f}{worst or '      '}",
            ]
        )
    yield from table_lines(rows)


def _closure(closure: Closure, book: FieldBook, show: Display) -> str:
    over = counted(closure.setups, "set-ups")
    if closure.distance is not None:
        over += f", {show.distance(closure.distance)}"
    return miss_words(closure, show, over=over, rule=f"{book.allowance.kind} work")


def yard_text(yard: YardNotes) -> str:
    """Write what notes of readings give: the field book of levels, the stations, what checks them."""
    parts = []
    if yard.reduced.book is not None:
        parts.append(field_book_text(yard.reduced.book))
    if yard.reduced.book is None or yard.places is not None or _repeated(yard.reduced.book):
        parts.append("\n".join(_stations(yard)))
    if yard.reduced.heights.checks:
        parts.append("\n".join(marks_met(yard.reduced.heights)))
    if yard.places is not None and yard.places.ties:
        parts.append("\n".join(tie_table(yard.places.ties, yard.reduced.show)))
    checked = judge(yard.findings).summary.removesuffix(".")
    parts.append("\n".join(filled(f"{checked}.", width=columns())))
    return as_rows("\n\n".join(parts), yard.reduced.heights.file)


def _repeated(book: FieldBook) -> bool:
    """Whether a station that is no mark was read more than once, so that its elevation is a mean."""
    read = [line.row.station for line in book.lines if line.rise is not None]
    return len(set(read)) < len(read)


def _stations(yard: YardNotes) -> Iterator[str]:
    heights, show = yard.reduced.heights, yard.reduced.show
    found = () if yard.places is None else zip(yard.places.names, yard.places.xy.tolist(), strict=True)
    places = {name_key(name): xy for name, xy in found}
    rows = [["Station", *(["x", "y"] if places else []), "Elevation", "s.e."]]
    for name, level, sd in zip(heights.names, heights.elevation.tolist(), heights.sd.tolist(), strict=True):
        xy = places.get(name_key(name), (None, None)) if places else ()
        figures = ["" if value is None else show.taped_number(value) for value in xy]
        figures.append(show.known_to(sd).elevation_number(level))
        error = "" if math.isnan(sd) else show.error_number(sd)
        rows.append([visible(name, _LONGEST_NAME), *figures, error])
    error = _errors_in(show)
    yield f"Stations, in {show.unit_title}{f'.{error}' if error else ''}"
    yield from table_lines(rows)
