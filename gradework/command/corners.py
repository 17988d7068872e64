"""``gradework corners SIZE --drops``: four drops below a level line to blocks and gravel, on one screen."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gradework.command.main import LeafCommand
from gradework.command.options import (
    OutputName,
    common_options,
    end_with,
    force_option,
    lengths,
    named_value,
    paper_option,
    pointing_at_options,
    shown_path,
)
from gradework.command.options import size as sides
from gradework.command.progress import working
from gradework.command.screen import Screen
from gradework.command.survey_options import units_option
from gradework.exchange.record import record
from gradework.files.write import write_folder
from gradework.library.results import table_files
from gradework.project.corners import Measured, Point, plan_corners
from gradework.project.plan import Plan
from gradework.report.corners import NOT_KNOWN, corners_text, corners_verdict, only_if, sheet_rows, taken
from gradework.report.text import WIDTH, as_wide_as
from gradework.units.display import FEET, METRIC, counted
from gradework.units.lengths import Unit, unit_named
from gradework.units.numbers import plain
from gradework.units.sizes import is_bare

if TYPE_CHECKING:
    from gradework.drawings.paper import Paper

_EXAMPLES = """
gradework corners 12x8 --drops "0, 4 1/2, 13, 9"
gradework corners 12x8 --drops "0, 4 1/2, 13, 9" --blocks "2 in, 4 in"
gradework corners 3.6x2.4 --units m --drops "0, 12, 33, 24" --point 1.8,1.2=15
"""

FARTHEST = 2.5
"""A drop of more than this [m] below a line at four corners is a slip of the unit."""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("size", metavar="SIZE")
@click.option(
    "--drops",
    required=True,
    metavar="A,B,C,D",
    help="Measured down from one level line to the ground at corners 1 to 4, in inches; in metric, cm or mm.",
)
@click.option(
    "--point",
    "points",
    multiple=True,
    metavar="X,Y=DROP",
    help="A drop at another place, along and across from corner 1; may be repeated.",
)
@click.option(
    "--blocks",
    metavar="THICKNESS,...",
    help='True thicknesses of the blocks on hand, such as "2 in, 4 in" [default: the usual ones].',
)
@units_option
@paper_option
@click.option(
    "-o", "--output", type=OutputName(path_type=Path), help="The folder of results [default: corners, here]."
)
@force_option
@click.option("-n", "--dry-run", is_flag=True, help="Draw and write nothing.")
@common_options
def corners(
    *, screen: Screen, size: str, output: Path | None, force: bool, dry_run: bool, **given: Any
) -> None:
    """Block piers for a building of SIZE, such as 12x8, from how far the ground lies below a level line at
    its corners: each stack, how much gravel, what to buy.

    Corner 2 is along the first side from corner 1, corner 3 across from corner 2. Sizes are in feet, drops in
    inches; with --units m, or a size that is written in m, in metres and cm; with cm or mm all is in that; a
    unit that is written wins. Writes corners.pdf, the sheet to take along, order.csv and result.json.
    """
    unit: Unit = given["units"] or _unit_of(size)
    measured = _measured(size, given, unit)
    with pointing_at_options(lambda faults: {fault.code: "SIZE" for fault in faults}):
        plan = plan_corners(measured)
    folder = output or Path("corners")
    said = _said(plan, unit)
    document = record(plan)
    if not dry_run:
        with working(screen, "drawing"):
            write_folder(_files(plan, measured, said, document, given["paper"]), folder, force=force)
    if screen.as_json:
        screen.document(document)
    elif screen.quiet:
        screen.answer(corners_verdict(plan, said))
        screen.findings(plan.findings)
    else:
        where = "" if dry_run else f"{shown_path(folder)}: corners.pdf to take along, order.csv to buy by"
        screen.answer(corners_text(plan, measured, said, files=where))
    end_with(plan.findings)


def _unit_of(size: str) -> Unit:
    """The metric unit that a side is written in, else feet."""
    named = set(map(unit_named, re.findall(r"[A-Za-z]+", size)))
    metric: tuple[Unit, ...] = ("m", "cm", "mm")
    return next((unit for unit in metric if unit in named), "ft")


def _files(
    plan: Plan, measured: Measured, said: str, document: Mapping[str, Any], paper: Paper | None
) -> dict[str, bytes]:
    from gradework.drawings import corners as drawn  # matplotlib
    from gradework.drawings import paper as printed

    show = plan.job.show
    pages = drawn.corners_pages(
        (f"Block piers for {plan.job.name}", f"{said}, measured down from a level line", plan.stamp()),
        measured.size,
        [show.depth(drop) for drop in measured.drops],
        [] if plan.foundations.piers is None else plan.foundations.piers.piers,
        sheet_rows(plan, measured),
        [[counted(line.quantity, line.unit), line.item] for line in plan.order.lines]
        or [["nothing", "it cannot be built as drawn"]],
        [*only_if(plan), f"Not known: {NOT_KNOWN}", f"Taken: {taken(plan, measured)}"],
    )
    with as_wide_as(WIDTH):  # the same file from every terminal
        text = corners_text(plan, measured, said)
    tables = table_files(plan, document)
    kept = {name: tables[name] for name in ("order.csv", "result.json")}
    return {
        "corners.pdf": printed.pdf_of(pages, paper or printed.paper_for(show)),
        "corners.txt": f"{text}\n".encode(),
        **kept,
    }


_SMALL_UNIT: Mapping[Unit, Unit] = {"m": "cm", "cm": "cm", "mm": "mm"}
"""What a drop or a block without a unit is in, by the unit of the size; beside feet and inches in inches."""


def _said(plan: Plan, unit: Unit) -> str:
    """What was understood, to be said back: the size, and what drops without a unit were taken for."""
    return f"{plan.job.name}, drops in {_SMALL_UNIT.get(unit, 'inches')}"


def _measured(size: str, given: dict[str, Any], unit: Unit) -> Measured:
    along, across = sides(size, "SIZE", unit)
    drops = _drops(given["drops"], "--drops", unit, 4)
    points = []
    for text in given["points"]:
        place, drop = named_value(text, "--point")
        x, y = lengths(place, "--point", unit, (2,))
        if not (0.0 <= x <= along and 0.0 <= y <= across):
            raise click.BadParameter(f"{text!r} lies outside the building", param_hint="--point")
        points.append(Point(x, y, _drops(drop, "--point", unit, 1)[0]))
    return Measured(
        unit, (along, across), (drops[0], drops[1], drops[2], drops[3]), tuple(points), _blocks(given, unit)
    )


def _blocks(given: dict[str, Any], unit: Unit) -> tuple[float, ...]:
    text = given["blocks"]
    return () if text is None else tuple(_small(text, "--blocks", unit, range(1, 10)))


def _small(text: str, option: str, unit: Unit, counts: Any) -> list[float]:
    """Lengths in inches, cm or mm, where they have no unit of their own."""
    bare = _SMALL_UNIT.get(unit, "in")
    parts = map(plain, text.split(","))
    written = (f"{part} {bare}" if is_bare(part) else part for part in parts)
    return lengths(",".join(written), option, unit, counts)


def _drops(text: str, option: str, unit: Unit, count: int) -> list[float]:
    drops = _small(text, option, unit, (count,))
    far = max(drops, key=abs)
    if min(drops) < 0.0:
        raise click.BadParameter("a drop is measured down from the line; raise the line", param_hint=option)
    if far > FARTHEST:
        raise click.BadParameter(
            f"{text.strip()!r} goes down {METRIC.distance(far)} ({FEET.distance(far)}) below the line; write "
            "the unit, such as 13 in or 33 cm",
            param_hint=option,
        )
    return drops
