"""From notes of readings to elevations: which way of levelling the columns tell, and its reduction.

Nothing here knows where the stations stand; ``placing`` does.
"""

from __future__ import annotations

from dataclasses import replace

from gradework.errors import Fault, Finding, InputError
from gradework.fieldnotes.dialect import DecimalMark
from gradework.fieldnotes.level_notes import LevelNotes
from gradework.fieldnotes.level_table import read_levels
from gradework.project.levelling_way import method_of
from gradework.project.readings_form import SHARES, ReadingsForm, Reduced, reading_sd, way_of
from gradework.project.simple_ways import laser, steps, string, water_level
from gradework.survey.heights import book_heights
from gradework.survey.levels import READING_SD, reduce_levels
from gradework.survey.looks import read_once
from gradework.survey.rod_survey import turned_on
from gradework.survey.two_peg import PegSetup, straighten, two_peg_test
from gradework.units import Display, Unit

__all__ = ["SHARES", "ReadingsForm", "Reduced", "reduce_readings"]


def reduce_readings(
    data: bytes,
    file: str,
    form: ReadingsForm,
    *,
    unit: Unit | None,
    decimal: DecimalMark | None = None,
) -> Reduced:
    """Reduce notes of readings to elevations.

    Raises ``InputError`` with every fault, among them `readings-unknown` where neither the form nor the
    columns tell the way of levelling.
    """
    method = form.method or method_of(data, file)
    if method is None or method == "spots":
        raise InputError([_unknown(file, spots=method == "spots")])
    way = way_of(form, method)
    reduce = {
        "level": _level,
        "laser": laser,
        "water-level": water_level,
        "string": string,
        "steps": steps,
    }[way]
    found = reduce(data, file, _with_instrument(form), unit, decimal)
    return replace(found, method=form.method or way)


def _with_instrument(form: ReadingsForm) -> ReadingsForm:
    if form.instrument is None and form.method == "laser":
        return replace(form, instrument="rotating laser")
    return form


def _level(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    notes = read_levels(data, file, unit=unit, decimal=decimal, known=form.known)
    if form.pegs is not None:
        notes = _straightened(notes, form.pegs)
    sd = reading_sd(form, READING_SD)
    book = reduce_levels(notes, work=form.work, share=form.share, reading_sd=sd)
    heights = book_heights(book)
    marks = turned_on(notes) | {book.benchmark}
    return Reduced("level", heights, book, read_once(heights.looks), marks, sd)


def _straightened(notes: LevelNotes, pegs: tuple[PegSetup, PegSetup]) -> LevelNotes:
    """Take the slope of the line of sight out of every reading whose length is known, and say so."""
    slope = two_peg_test(*pegs).slope
    show = Display(notes.unit)
    way = "up" if slope > 0 else "down"
    advice = (
        f"By the two-peg test the line of sight runs {way} by {show.elevation(abs(slope) * 30)} in "
        f"{show.distance(30)}. Readings whose sight length is noted are freed of that, here and in the book."
    )
    told = Finding("sights-straightened", "note", "the instrument", slope, None, advice)
    straight = straighten(notes, slope)
    return replace(straight, findings=(*straight.findings, told))


def _unknown(file: str, *, spots: bool) -> Fault:
    if spots:
        return Fault(
            "readings-none",
            "elevations, not readings",
            "readings: BS, IS and FS, or reading, drop, higher, or run and rise",
            "there is nothing to reduce: plan and cutfill take these notes as they are",
            file,
        )
    return Fault(
        "readings-unknown",
        "columns that tell no way of levelling",
        "station with BS, IS and FS, or with reading, drop, higher, or run and rise",
        "name the columns in the first row, or say the method",
        file,
    )
