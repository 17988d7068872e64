"""The command line: reads arguments, opens and writes files, prints. It computes nothing itself.

Importing this package loads click and the error tree only; a command loads its own rooms when it runs. No
other room prints.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import NoReturn

import click

from gradework.command.group import HELP, LazyGroup
from gradework.command.outcome import run_to_status
from gradework.command.process import leave, prepare

_SHORT = """\
gradework plans level foundations for small buildings on sloping ground.

  gradework new my-yard                 make a job to fill in
  gradework plan my-yard/job.toml       pad level, digging, gravel, the order
  gradework cutfill shots.csv --units ft --level 101.2 --corner 9,8 --size 16,12
                                        plain cut and fill, no job file
  gradework explain CODE                a finding or an error in full

Say 'gradework --help' for all commands, 'gradework COMMAND --help' for one."""

_EXAMPLES = """
gradework new my-yard
gradework plan my-yard/job.toml
gradework cutfill shots.csv --units ft --level 101.2 --corner 9,8 --size 16,12
"""

_HOMES = {
    "new": ("gradework.command.new", "new", "Make a folder with a job to fill in."),
    "sheet": ("gradework.command.sheet", "sheet", "A blank field sheet to print and take outside."),
    "reduce": ("gradework.command.reduce", "reduce", "Readings to elevations, with every check."),
    "cutfill": ("gradework.command.cutfill", "cutfill", "Plain cut and fill to a level, no job file."),
    "plan": ("gradework.command.plan", "plan", "Everything: summary, drawings, order list."),
    "setout": ("gradework.command.setout", "setout", "Stakes and rod readings for today, a sheet to print."),
    "asbuilt": ("gradework.command.asbuilt", "asbuilt", "Is it level and square? What to do at each pier."),
    "explain": ("gradework.command.explain", "explain", "A finding or an error in full."),
}

_STATUS = """
Exit status: 0 done; 1 the answer is no (a stop finding); 2 wrong use or unusable input; 70 a fault of the
program; 74 a result could not be written; 130 stopped by Ctrl-C; 141 the reader of the output went away.

To report a fault of the program, send the log file that it names together with the job.
"""


@click.group(
    cls=LazyGroup,
    homes=_HOMES,
    examples=_EXAMPLES,
    context_settings=HELP,
    invoke_without_command=True,
    epilog=_STATUS,
)
@click.option("--version", is_flag=True, help="Show the version and stop.")
@click.pass_context
def gradework(ctx: click.Context, *, version: bool) -> None:
    """From a yard survey to a level foundation for a small building, and one trip to the supplier."""
    if version:
        from gradework import __version__  # the package root carries nothing else

        click.echo(f"gradework {__version__}")
        ctx.exit()
    if ctx.invoked_subcommand is None:
        click.echo(_SHORT, err=True)
        ctx.exit(2)


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and leave with its exit status."""
    prepare()
    given = list(sys.argv[1:] if arguments is None else arguments)
    if "_GRADEWORK_COMPLETE" in os.environ:  # the shell asks for completion; click answers it
        gradework.main(args=given, prog_name="gradework")
    leave(run_to_status(gradework, given))
