"""``gradework plan NOTES --size``: notes in place of a job, and the job that they stand for."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import click

from gradework.command.options import angle, grid_of, in_group, lengths, shown_path
from gradework.command.options import size as read_size
from gradework.command.survey_options import (
    columns_option,
    corner_option,
    decimal_option,
    grid_option,
    reading_options,
    sheet_option,
    size_option,
    survey_form,
    turn_option,
    units_option,
)
from gradework.errors import Finding, InputError, unwritten
from gradework.fieldnotes.workbook.door import notes_in
from gradework.files.ownership import digest, digest_of_file, is_plain_file, read_if_small
from gradework.files.read import read_bytes, read_standard_input
from gradework.project.from_notes import Wanted, job_of, untouched
from gradework.project.job.model import Job
from gradework.project.stations.forms import NotesForm
from gradework.units.form import Form
from gradework.units.lengths import Unit

_TABLES = (".csv", ".tsv", ".txt", ".xlsx", ".xls", ".ods")
_FOUNDATIONS = ("pad", "piers", "slab")
_GROUP = "Notes in place of a job"


class Asked(NamedTuple):
    """A job, and where from: its text where it was written for notes, what is told of that, the notes."""

    job: Job
    notes: bytes
    kept: dict[str, bytes]
    findings: tuple[Finding, ...]


def notes_options(function: Any) -> Any:
    """Add the options that go with notes in place of a job."""
    kinds = (
        click.option(f"--{kind}", is_flag=True, help=f"Plan {words} [default: --pad]; several are compared.")
        for kind, words in zip(_FOUNDATIONS, ("a gravel pad", "block piers", "a slab"), strict=True)
    )
    options = (size_option, corner_option, turn_option, *kinds)
    function = reading_options("known", "benchmark", "hi", "heights")(function)
    for option in reversed(
        (*options, units_option, grid_option, sheet_option, columns_option, decimal_option)
    ):
        function = in_group(_GROUP, option(function))
    return function


def are_notes(path: Path, given: Mapping[str, Any]) -> bool:
    """Tell notes from a job: ``--size`` says what to build on them. Raises a usage error for half of it."""
    context = click.get_current_context()
    if given["size"] is not None:
        if path.suffix == ".toml":
            raise click.UsageError("Give --size with notes; a job says the size itself.", context)
        return True
    if path.suffix.lower() in _TABLES or str(path) == "-":
        raise click.UsageError("Give --size with notes, such as --size 16,12, or give a job.", context)
    used = [name for name in _OPTIONS if given[name] not in (None, False, ())]
    if used:
        raise click.UsageError(f"Give --{used[0]} with notes and --size; a job says it itself.", context)
    return False


_OPTIONS = (
    "corner",
    "turn",
    *_FOUNDATIONS,
    "units",
    "grid",
    "sheet",
    "columns",
    "decimal",
    "known",
    "benchmark",
    "hi",
    "heights",
)


def job_of_notes(path: Path, folder: Path, given: Mapping[str, Any], show: Form | None) -> Asked:
    """Read the notes and write the job they stand for; it goes into ``folder``."""
    piped = str(path) == "-"
    data = read_standard_input() if piped else read_bytes(path)
    text, file = notes_in(data, "standard input" if piped else str(path), given["sheet"])
    named = "notes.csv" if piped else os.path.relpath(path, folder).replace(os.sep, "/")
    wanted = _wanted(given, named, "notes" if piped else path.stem)
    with _pointing_at_options(given):
        written = job_of(text, file, _form(given, show), wanted)
    kept = {"job.toml": written.text, **({"notes.csv": data} if piped else {})}
    job = written.job.given_by(
        {("building",): "--corner" if given["corner"] else "--size", ("survey",): file}
    )
    job = job if show is None else job.saying(show)
    return Asked(job, data, kept, written.findings)


@contextmanager
def _pointing_at_options(given: Mapping[str, Any]) -> Iterator[None]:
    """Let a fault of the job that nobody wrote name the option that its value came from."""
    try:
        yield
    except InputError as problem:
        faults = []
        for fault in problem.faults:
            key, _, found = fault.found.partition(": ")
            ours = fault.file == "job.toml" and given.get(key) is not None
            option = {"file": f"--{key}", "found": found, "line": 0, "column": 0}
            faults.append(replace(fault, **option) if ours else fault)  # type: ignore[arg-type]
        raise InputError(faults, problem.findings) from None


def _form(given: Mapping[str, Any], show: Form | None) -> NotesForm:
    unit = given["units"]
    absent: defaultdict[str, Any] = defaultdict(lambda: None)
    absent.update({**given, "marks": (), "strings": ()})
    return NotesForm(
        unit=unit,
        columns=given["columns"],
        grid=grid_of(given["grid"], unit),
        decimal=given["decimal"],
        survey=survey_form(absent)
        if any(given[name] for name in ("known", "benchmark", "hi", "heights"))
        else None,
        show=show,
    )


def _wanted(given: Mapping[str, Any], notes: str, name: str) -> Wanted:
    asked = tuple(kind for kind in _FOUNDATIONS if given[kind]) or ("pad",)
    words = {
        "sheet": "sheet",
        "heights": "method",
        "columns": "columns",
        "decimal": "decimal",
        "benchmark": "benchmark",
    }
    return Wanted(
        name=name,
        notes=notes,
        size=_size(given["size"]),
        corner=None if given["corner"] is None else _pair(given["corner"], "--corner"),
        turn=0.0 if given["turn"] is None else angle(given["turn"], "--turn"),
        foundations=asked,
        survey={key: given[option] for option, key in words.items() if given[option]},
        lengths=_lengths(given),
    )


def _size(text: str) -> Callable[[Unit], Sequence[float]]:
    read_size(text, "--size", "m")  # what is no size is told before the notes are read
    return lambda unit: read_size(text, "--size", unit)


def _pair(text: str, option: str) -> Callable[[Unit], list[float]]:
    lengths(text, option, "m", (2,))  # what is no pair of lengths is told before the notes are read
    return lambda unit: lengths(text, option, unit, (2,))


def _lengths(given: Mapping[str, Any]) -> dict[str, Any]:
    """The keys of the survey that are lengths [m]."""
    unit, found = given["units"], dict[str, Any]()
    grid = grid_of(given["grid"], unit)
    if grid is not None:
        found["grid"] = {"spacing": list(grid.spacing)}
    readings = _form(given, None).survey
    if readings is not None:
        known = readings.readings
        found |= {key: value for key, value in (("known", known.known), ("hi", known.hi)) if value}
    return found


def new_in(folder: Path, kept: Mapping[str, bytes]) -> dict[str, bytes]:
    """Give of a job and its notes what does not stand in ``folder`` yet.

    Over others that stand there nothing is written, even by force; but over a job that was written here for
    other options and that nobody has changed since. Raises ``OutputError``.
    """
    new = {}
    for name, data in kept.items():
        path = folder / name
        if is_plain_file(path) and digest_of_file(path) == digest(data):
            continue
        new[name] = data
        if os.path.lexists(path) and not untouched(read_if_small(path)):
            raise unwritten("result-not-written", variant="other-job", path=shown_path(path))
    return new
