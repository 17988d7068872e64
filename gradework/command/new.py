"""``gradework new FOLDER``: a job with comments and an empty survey table, ready to fill in."""

from __future__ import annotations

from pathlib import Path

import click

from gradework.command.main import LeafCommand
from gradework.command.options import OutputName, common_options, shown_path
from gradework.command.screen import Screen
from gradework.command.survey_options import UNIT_WORDS
from gradework.files.write import write_folder

JOB = """\
# A job: fill in, then run   gradework plan job.toml
# A line that begins with # is a remark. Every length in quotes carries its unit.

name  = "My building"
units = "{unit}"                    # or "in", "m", "cm", "mm": every bare number here and in the notes

[survey]
notes = "yard.csv"              # the shots, in this folder: station, x, y, elevation
# grid = {{ spacing = 5 }}        # for stations named A1, A2 ... B1 ... on a taped grid, without x and y

[building]
size   = [{size}]               # along, across
corner = [{corner}]               # its first corner, on the same x and y as the shots
turn   = 0                      # degrees anticlockwise from the x axis
# outline = [[0, 0], [16, 0], [16, 12], [0, 12]]    # instead of the three lines above, for any other shape

[pad]
level    = "least fill"         # or "balanced", "least cost", or an elevation
margin   = "{margin}"              # gravel beyond the walls
strip    = "{strip}"               # topsoil that comes off
gravel   = "{strip}"               # least thickness of compacted gravel
edge     = "boxed"              # or "battered", with batter = 2 (2 out for 1 down)
material = "dense-graded crushed stone"

# Other foundations: remove the # marks, and they are planned and compared. Leave [pad] out for no pad.
# [piers]                       # concrete blocks on gravel beds
# rows    = 2                   # beams, each over a row of piers
# spacing = "{spacing}"              # most between two piers of a row
# [slab]                        # concrete on the ground
# thickness = "{strip}"

# What stands near the building, one such table for each: distances, digging and water are checked.
# [[site.near]]
# name = "board fence"
# kind = "fence"                # or "house", "lot line", "tree", "pipe" and others: docs/neighbours.md
# line = [[0, 0], [0, {near}]]    # or outline = [...], on the same x and y as the shots

# Money is optional; with it the least-cost level and the sums are shown. Every price here is invented.
# [prices]
# gravel   = "{gravel_price}"
# dig      = "{dig}"      # in place
# haul     = "{haul}"      # loose
# concrete = "{concrete}"     # ready-mix, for a slab
"""
NOTES = "station,x,y,elevation,note\r\n"

_US = {
    "margin": "12 in",
    "strip": "4 in",
    "spacing": "6 ft",
    "gravel_price": "38 per short ton",
    "dig": "60 per yd3",
    "haul": "25 per yd3",
    "concrete": "185 per yd3",
}
_METRIC = {
    "margin": "300 mm",
    "strip": "100 mm",
    "spacing": "1.8 m",
    "gravel_price": "40 per tonne",
    "dig": "80 per m3",
    "haul": "30 per m3",
    "concrete": "240 per m3",
}
_PLACES = {
    "ft": {"size": "16, 12", "corner": "10, 10", "near": "40"},
    "in": {"size": "192, 144", "corner": "120, 120", "near": "480"},
    "m": {"size": "5, 3.5", "corner": "3, 3", "near": "12"},
    "cm": {"size": "500, 350", "corner": "300, 300", "near": "1200"},
    "mm": {"size": "5000, 3500", "corner": "3000, 3000", "near": "12000"},
    "ftUS": {"size": "16, 12", "corner": "10, 10", "near": "40"},
}


@click.command(cls=LeafCommand, examples="gradework new my-yard\ngradework new --units m my-yard")
@click.argument("folder", type=OutputName(path_type=Path))
@click.option(
    "--units",
    type=click.Choice(UNIT_WORDS),
    help="Unit of every number without one [default: ft].",
)
@click.option("-f", "--force", is_flag=True, help="Replace a job that is already there.")
@common_options
def new(*, screen: Screen, folder: Path, units: str | None, force: bool) -> None:
    """Make FOLDER with a job file to fill in and an empty table for the shots."""
    unit = units or "ft"
    job = JOB.format_map({"unit": unit, **_PLACES[unit], **(_METRIC if unit in ("m", "cm", "mm") else _US)})
    # spreadsheets know UTF-8 by its mark only
    contents = {"job.toml": job.encode(), "yard.csv": b"\xef\xbb\xbf" + NOTES.encode()}
    written = write_folder(contents, folder, force=force, manifest=False)
    if screen.as_json:
        screen.document({"record": 1, "written": [str(w.path) for w in written]})
        return
    screen.answer("\n".join(shown_path(w.path) for w in written))
    notes, job_file = shown_path(folder / "yard.csv"), shown_path(folder / "job.toml")
    screen.note(f"Write the shots into {notes}, fill in {job_file}, then run:")
    screen.note(f"  gradework plan {job_file}")
