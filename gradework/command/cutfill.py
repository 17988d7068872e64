"""``gradework cutfill NOTES``: plain cut and fill to a level plane, no job file."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

import click

from gradework.command.main import LeafCommand
from gradework.command.options import (
    InputName,
    angle,
    common_options,
    end_with,
    grid_of,
    lengths,
    pointing_at_options,
    read_input,
    show_option,
    size,
)
from gradework.command.screen import Screen
from gradework.command.survey_options import (
    asks_of_survey,
    columns_option,
    corner_option,
    decimal_option,
    grid_option,
    sheet_option,
    size_option,
    survey_form,
    survey_options,
    turn_option,
    units_option,
)
from gradework.earthwork.outline import Outline
from gradework.errors import Fault
from gradework.project.cutfill import Level, Wanted, plain_cut_and_fill, read_outline
from gradework.project.stations.forms import NotesForm
from gradework.units.display import Display
from gradework.units.lengths import Unit

_EXAMPLES = """
gradework cutfill shots.csv --units ft --level 101.2 --corner 9,8 --size 16,12
gradework cutfill - --units ft --grid 5 --level balanced --outline pad.csv
gradework cutfill shots.csv --level 48.5 --level 48.6 --outline pad.csv --json
gradework cutfill pasted.txt --units ft --grid 5 --level balanced
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("notes", type=InputName())
@click.option(
    "--level",
    multiple=True,
    required=True,
    metavar="LEVEL",
    help="An elevation, or balanced: cut equals fill. May be repeated.",
)
@corner_option
@size_option
@turn_option
@click.option(
    "--outline",
    type=InputName(),
    metavar="FILE",
    help="Instead of a rectangle: rows of x,y, one for each corner; a blank row begins a hole.",
)
@click.option("--spread", is_flag=True, help="Tell how sure the figures are: 10, 50 and 90 % of each.")
@sheet_option
@units_option
@show_option
@grid_option
@columns_option
@decimal_option
@survey_options
@common_options
def cutfill(*, screen: Screen, notes: str, **given: Any) -> None:
    """Plain cut and fill of the ground inside an outline, down or up to a level plane.

    NOTES is a CSV file or a workbook (xlsx, ods, xls) of spot elevations or of readings (as reduce takes
    them), or - for standard input. Cut is soil in place, fill is compacted.
    """
    _check_use(given)
    data, name = read_input(notes, given["sheet"])
    with pointing_at_options(_options_of_outline):
        result = plain_cut_and_fill(data, name, _form(given), lambda show: _wanted(given, show))
    if screen.as_json:
        from gradework.exchange.yard_records import cutfill_record  # one of the two is needed, never both

        screen.document(cutfill_record(result))
    else:
        from gradework.report.ground import cutfill_text

        screen.answer(cutfill_text(result))
        screen.findings(result.findings)
    end_with(result.findings)


def _options_of_outline(faults: Sequence[Fault]) -> dict[str, str]:
    """The option that each code is about where no file holds it: the corner itself, else what it is given."""
    codes = {fault.code for fault in faults}
    misplaced = any(
        fault.code == "outline-far-from-survey" or fault.found.startswith("corner 1 of ") for fault in faults
    )
    outline = "--corner" if misplaced else "--size"
    return {code: "--level" if code.startswith("level-") else outline for code in codes}


def _check_use(given: dict[str, Any]) -> None:
    context = click.get_current_context()
    rectangle = [name for name in ("corner", "size", "turn") if given[name] is not None]
    if given["outline"] is not None and rectangle:
        raise click.UsageError(f"Give --outline or --{rectangle[0]}, not both.", context)
    if rectangle and (given["corner"] is None or given["size"] is None):
        raise click.UsageError("Give --corner and --size, or --outline, or none: all of the survey.", context)


def _form(given: dict[str, Any]) -> NotesForm:
    unit = given["units"]
    return NotesForm(
        unit=unit,
        columns=given["columns"],
        grid=grid_of(given["grid"], unit, given["grid_corner"]),
        decimal=given["decimal"],
        survey=survey_form(given) if asks_of_survey(given) else None,
        show=given["show"],
    )


def _wanted(given: dict[str, Any], show: Display) -> Wanted:
    levels = [_level(text, show.unit) for text in given["level"]]
    if given["outline"] is None:
        outline = None if given["size"] is None else _rectangle(given, show)
        return Wanted(outline, levels, spread=given["spread"])
    data, name = read_input(given["outline"], shown=os.path.basename(given["outline"]))
    written = read_outline(data, name, show=show)
    return Wanted(written.outline, levels, written, given["spread"])


def _rectangle(given: dict[str, Any], show: Display) -> Outline:
    corner = lengths(given["corner"], "--corner", show.unit, (2,))
    sides = size(given["size"], "--size", show.unit)
    turn = 0.0 if given["turn"] is None else angle(given["turn"], "--turn")
    return Outline.rectangle(corner, sides, turn, show=show)


def _level(text: str, unit: Unit) -> Level:
    if text.strip().lower() in ("balance", "balanced"):
        return None
    if "," in text:
        raise click.BadParameter(
            f"{text!r} is more than one value; give --level once for each level, decimals with a point",
            param_hint="--level",
        )
    return lengths(text, "--level", unit, (1,))[0]
