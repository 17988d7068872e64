"""The command line: reads arguments, opens and writes files, prints. It computes nothing itself.

Importing this file loads click only; the file of a command loads the rooms it needs, and is loaded when the
command is named. No other room prints.
"""

from __future__ import annotations

import gc
import importlib
import os
import re
import sys
from collections.abc import Mapping, MutableMapping, Sequence
from typing import Any, NoReturn

import click
from click.exceptions import Exit

from gradework import __version__
from gradework.command.screen import Screen, columns

# What the process of a command sets for itself before the work, and how it leaves.

_MADE_BEFORE_GARBAGE = 50_000  # objects; loading modules makes as many, and none of them is garbage


def prepare(environment: MutableMapping[str, str] = os.environ) -> None:
    """Let closed streams lead nowhere, keep the linear algebra under numpy on one thread unless the user has
    said otherwise, and look for garbage less often.

    A survey is a few hundred rows: starting the threads costs more than all the arithmetic, on a busy machine
    a hundred times more. One thread also adds in the same order on every machine.

    >>> prepare(own := {"OPENBLAS_NUM_THREADS": "4"}), own["OPENBLAS_NUM_THREADS"]
    (None, '4')
    """
    _open_closed_streams()
    environment.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(_MADE_BEFORE_GARBAGE)


def _open_closed_streams() -> None:
    """Open /dev/null in the place of each standard stream that was closed (``>&-``).

    Otherwise the next file that is opened, a result, would get the number of the stream. Python has put None
    where a stream was closed.
    """
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number, which is this one
        if getattr(sys, name) is None:
            mode = "r" if name == "stdin" else "w"
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115 - lasts as long as we do


def leave(status: int) -> NoReturn:
    """End the process with ``status``, without looking for garbage in every module that was loaded.

    Everything is written by now, and the system takes the memory back at once.
    """
    gc.freeze()
    sys.exit(status)


# How a run goes: every way out becomes one exit status and, where something is wrong, a plain sentence.

OUT_OF_MEMORY = 2


def run_to_status(group: click.Group, arguments: Sequence[str]) -> int:
    """Run ``group`` and return the exit status; nothing escapes but a second Ctrl-C."""
    options = _before_the_end(arguments)
    quiet = any(re.fullmatch("--quiet|-[fn]*q[fn]*", option) for option in options)
    screen = Screen(quiet=quiet, as_json="--json" in options, colour="--no-color" not in options)
    try:
        status = _status_of(group, arguments, screen)
        _flush(sys.stdout)
        return status
    except (KeyboardInterrupt, Exception) as problem:
        from gradework.command import ending  # a run that ends well needs no words about its end

        return ending.after_failure(problem, screen, debug="--debug" in options)


def _status_of(group: click.Group, arguments: Sequence[str], screen: Screen) -> int:
    try:
        with group.make_context("gradework", list(arguments)) as context:
            group.invoke(context)
    except Exit as done:
        return done.exit_code
    except click.Abort:
        raise KeyboardInterrupt from None
    except MemoryError:
        screen.failure("this needs more memory than there is; use fewer shots", OUT_OF_MEMORY)
        return OUT_OF_MEMORY
    except Exception as wrong:
        from gradework.command import ending  # as above

        return ending.after_wrong_input(wrong, screen)
    return 0


def _before_the_end(arguments: Sequence[str]) -> list[str]:
    given = list(arguments)
    return given[: given.index("--")] if "--" in given else given


def _flush(stream: object) -> None:
    """Push out what is still held back, so that a full disk shows now and not after the exit status."""
    flush = getattr(stream, "flush", None)
    if flush is not None:
        flush()


# The manner of every command: loaded when it runs, helped at every level, never run by a guess.

EVERYWHERE = "In every command"
"""The title of the options that every command has; it comes last."""

HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 80}


class _Context(click.Context):
    """Finds the width of the help itself: click asks shutil, which loads every kind of compression."""

    def make_formatter(self) -> click.HelpFormatter:
        """Write help as wide as the terminal, 50 to 78 letters in a line."""
        return click.HelpFormatter(width=max(min(columns(), self.max_content_width or 80) - 2, 50))


class LeafCommand(click.Command):
    """``-h`` and ``--help`` answer even when other arguments are wrong; ``examples`` lead the help."""

    context_class = _Context

    def __init__(self, *args: Any, examples: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **{"context_settings": HELP, **kwargs})
        self.examples = examples

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        given = args[: args.index("--")] if "--" in args else list(args)
        try:
            return super().parse_args(ctx, args)
        except click.UsageError:
            if "-h" in given or "--help" in given:
                click.echo(self.get_help(ctx), color=ctx.color)
                ctx.exit()
            raise

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Put the examples first, as they stand and not flowed into a paragraph, then the text."""
        if self.examples:
            with formatter.section("Examples"):
                for line in self.examples.strip().splitlines():
                    formatter.write(f"{'':>{formatter.current_indent}}{line.strip()}\n")
        super().format_help_text(ctx, formatter)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the command's own options first, then each group under its title."""
        groups: dict[str, list[tuple[str, str]]] = {"": []}
        for param in (p for p in self.get_params(ctx) if isinstance(p, click.Option)):
            shown = param.get_help_record(ctx)
            if shown is not None:
                groups.setdefault(getattr(param, "group", ""), []).append(shown)
        for title, rows in sorted(groups.items(), key=lambda item: item[0] == EVERYWHERE):
            if rows:
                with formatter.section(title or "Options"):
                    formatter.write_dl(rows)
        if isinstance(self, click.Group):
            self.format_commands(ctx, formatter)


class LazyGroup(LeafCommand, click.Group):
    """A group that knows its commands by name and one line, and imports the module of the one that runs.

    ``homes`` maps a name to ``(module, attribute, one line of help)``.
    """

    def __init__(self, *args: Any, homes: Mapping[str, tuple[str, str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.homes = homes

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - the signature is click's
        """Name the commands in the order of work."""
        return [*self.homes, "help"]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import the command of that name, or give None."""
        if cmd_name == "help":
            return _help
        if cmd_name not in self.homes:
            return None
        module, attribute, _ = self.homes[cmd_name]
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; an unknown name is answered with the nearest known one."""
        name = args[0]
        command = self.get_command(ctx, name)
        if command is not None:
            return name, command, args[1:]
        import difflib  # only to guess what was meant

        near = difflib.get_close_matches(name.lower(), self.homes, n=1, cutoff=0.5)
        guess = f" Did you mean {near[0]!r}?" if near else ""
        raise click.UsageError(f"No such command {name!r}.{guess}", ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands without importing them."""
        with formatter.section("Commands, in the order of work"):
            lines = [(name, line) for name, (_, _, line) in self.homes.items()]
            formatter.write_dl([*lines, ("help", "A command in full, as COMMAND --help.")])


@click.command("help", cls=LeafCommand, examples="gradework help plan")
@click.argument("command", required=False)
@click.pass_context
def _help(ctx: click.Context, command: str | None) -> None:
    """Tell how a command is used; all of them without one."""
    above = ctx.parent
    assert above is not None
    group = above.command
    assert isinstance(group, LazyGroup)
    if command is None:
        click.echo(group.get_help(above))
        return
    name, found, _ = group.resolve_command(above, [command])
    assert found is not None
    with found.context_class(found, info_name=name, parent=above, **found.context_settings) as context:
        click.echo(found.get_help(context))


_SHORT = """\
gradework plans level foundations for small buildings on sloping ground.

  gradework new my-yard                             make a job to fill in
  gradework plan my-yard                            level, digging, the order
  gradework plan yard.csv --size 16,12 --piers      notes alone, no job file
  gradework corners 12x8 --drops "0, 4 1/2, 13, 9"  four drops to block piers
  gradework explain CODE                            a finding or error in full

Say 'gradework --help' for all commands, 'gradework help COMMAND' for one."""

_EXAMPLES = """
gradework new my-yard
gradework plan my-yard/job.toml
gradework plan yard.csv --size 16,12 --units ft --piers
gradework cutfill shots.csv --units ft --level 101.2 --corner 9,8 --size 16,12
"""

_HOMES = {
    "new": ("gradework.command.new", "new", "Make a folder with a job to fill in."),
    "sheet": ("gradework.command.sheet", "sheet", "A blank field sheet to print and take outside."),
    "reduce": ("gradework.command.reduce", "reduce", "Readings to elevations, with every check."),
    "cutfill": ("gradework.command.cutfill", "cutfill", "Plain cut and fill to a level, no job file."),
    "plan": ("gradework.command.plan", "plan", "Everything: summary, drawings, order list."),
    "place": ("gradework.command.place", "place", "Where it stands best: every place and turn."),
    "section": ("gradework.command.section", "section", "The ground along any line, before and after."),
    "corners": ("gradework.command.corners", "corners", "Four drops below a line to blocks and gravel."),
    "setout": ("gradework.command.setout", "setout", "Stakes and rod readings for today, a sheet to print."),
    "asbuilt": ("gradework.command.asbuilt", "asbuilt", "Is it level and square? What to do at each pier."),
    "batch": ("gradework.command.batch", "batch", "Many jobs, one table; done ones are kept."),
    "explain": ("gradework.command.explain", "explain", "A finding or an error in full."),
}

_STATUS = """
Exit status: 0 done; 1 the answer is no (a stop finding); 2 usage error or unusable input; 70 internal
error; 74 a result could not be written; 130 stopped by Ctrl-C; 141 output pipe closed.

To report an internal error, send the log file that it names together with the job.
"""


@click.group(cls=LazyGroup, homes=_HOMES, examples=_EXAMPLES, invoke_without_command=True, epilog=_STATUS)
@click.option("--version", is_flag=True, help="Show the version and stop.")
@click.pass_context
def gradework(ctx: click.Context, *, version: bool) -> None:
    """From a yard survey to a level foundation for a small building, and one trip to the supplier."""
    if version:
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
