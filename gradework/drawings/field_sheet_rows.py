"""What a field sheet already says: its rows in the order of the walk, and the line for the job file."""

from __future__ import annotations

from collections.abc import Iterator

from gradework.drawings.field_sheet_methods import BENCHMARK, Entry, reading_table
from gradework.project.field_sheet import FieldSheet


def entries(sheet: FieldSheet) -> Iterator[Entry]:
    """Run through the rows of the table in the order of the walk, one row of the grid after another."""
    method, width = sheet.method, len(reading_table(sheet.method, sheet.show).columns)
    if method == "level":
        yield Entry("mark", (BENCHMARK, "", "", "", "", "", "start: BS"), shut=(2, 3))
    if method == "laser":
        yield Entry("mark", (BENCHMARK, "", "", "first"))
    if method == "steps":
        yield Entry("mark", (BENCHMARK, "0", "0", "", "start here"))
    for number, names in enumerate(sheet.names):
        if method == "level" and number:
            yield Entry("turn", ("", "", "", "", "", "", "if moved: turning point"))
        if method == "string":
            yield Entry("band", (f"String {names[0].rstrip('0123456789')}",))
        order = range(len(names))
        # a straightedge goes from point to point: back along every second row
        for column in reversed(order) if method == "steps" and number % 2 else order:
            yield Entry("station", _cells(sheet, names[column], number, column, width))
    if method == "level":
        yield Entry("mark", (BENCHMARK, "", "", "", "", "", "end: FS on the BM"), shut=(1, 2, 4))
    if method == "laser":
        yield Entry("mark", (BENCHMARK, "", "", "again"))
    if method == "water-level":
        yield Entry("mark", (BENCHMARK, "", "", "", "", "again: 0"))
    if method == "steps":
        yield Entry("mark", (BENCHMARK, "", "", "", "back on the BM"))


def _cells(sheet: FieldSheet, name: str, row: int, column: int, width: int) -> tuple[str, ...]:
    if sheet.method != "spots":
        return (name, *[""] * (width - 1))
    x, y = sheet.grid.place(row, column)
    figures = [f"{sheet.show.in_units(v):.2f}".rstrip("0").rstrip(".") for v in (x, y)]
    return (name, *("0" if f == "-0" else f for f in figures), "", "")


def tie_entries(sheet: FieldSheet) -> Iterator[Entry]:
    """Run through the stations of the table of ties."""
    width = len(sheet.ties) + 3
    for names in sheet.names:
        for name in names:
            yield Entry("station", (name, *[""] * (width - 1)))


def job_lines(sheet: FieldSheet) -> str:
    """Write the grid as the job file takes it."""
    show, grid = sheet.show, sheet.grid

    def figure(metres: float) -> str:
        text = f"{show.in_units(metres):.3f}".rstrip("0").rstrip(".")
        return "0" if text == "-0" else text

    spacing = figure(grid.spacing[0])
    if grid.spacing[0] != grid.spacing[1]:
        spacing = f"[{spacing}, {figure(grid.spacing[1])}]"
    parts = [f"spacing = {spacing}"]
    if any(grid.origin):
        parts.append(f"origin = [{figure(grid.origin[0])}, {figure(grid.origin[1])}]")
    if grid.turn:
        parts.append(f"turn = {grid.turn:g}")
    return f"grid = {{ {', '.join(parts)} }}"
