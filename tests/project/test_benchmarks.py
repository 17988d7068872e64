"""A benchmark named once is known everywhere: in notes, options or the job, given, assumed or levelled."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.exchange.record import record
from gradework.exchange.tables import stations_table
from gradework.fieldnotes.names import names_in, remarks_in
from gradework.project.asbuilt import AsBuilt, check_built
from gradework.project.backsight import read_backsight
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.project.stations.forms import NotesForm, SurveyForm
from gradework.project.stations.notes import read_stations
from gradework.project.tops import read_tops
from gradework.report.yard import asbuilt_text

JOB = """
name = "Shed"
units = "ft"
[survey]
notes = "book.csv"
grid = { spacing = 5 }
{survey}
[building]
size = [8, 8]
corner = [2, 2]
[pad]
margin = "0 in"
"""
GROUND = [f"{'ABCDE'[k % 5]}{k // 5 + 1},,{5.0 + 0.01 * (k % 5):.2f}," for k in range(25)]


def book(known: str = ",100") -> bytes:
    """Rod readings on a grid from a sill; the second column is what the notes give it."""
    head = "station,BS,IS,FS,known" if known else "station,BS,IS,FS"
    return "\n".join([head, f"BM porch step,3.20,,{known}", *GROUND, "peg,,,4.00", ""]).encode()


def yard(notes: bytes, survey: str = "", setout: str = "") -> Plan:
    return plan(read_job((JOB.replace("{survey}", survey) + setout).encode()), notes)


def told(done: Plan) -> list[tuple[str, float, str, str]]:
    return [(m.name, round(m.elevation / 0.3048, 6), m.basis, m.source) for m in done.benchmarks]


@pytest.mark.parametrize(
    ("notes", "survey", "setout", "known"),
    [
        (book(), "", "", [("BM porch step", 100.0, "given", "notes")]),
        (book(""), "", "", [("BM porch step", 100.0, "assumed", "notes")]),
        (book(""), 'known = { "BM porch step" = 52 }', "", [("BM porch step", 52.0, "given", "known")]),
        (
            book(),
            "",
            "[setout]\nbenchmarks = { gate = 103.5 }",
            [("BM porch step", 100.0, "given", "notes"), ("gate", 103.5, "given", "setout")],
        ),
    ],
)
def test_every_mark_is_carried_once(
    notes: bytes, survey: str, setout: str, known: list[tuple[str, float, str, str]]
) -> None:
    done = yard(notes, survey, setout)
    named = [mark for mark in told(done) if mark[0] != "peg"]
    assert named == known
    # HI 103.20 or so less 4.00 read on the peg: known as levelled
    (peg,) = [mark for mark in told(done) if mark[0] == "peg"]
    assert peg[1:3] == (pytest.approx(known[0][1] - 0.80), "levelled")
    assert [one["name"] for one in record(done)["survey"]["benchmarks"]] == [one[0] for one in told(done)]


def test_two_elevations_for_one_mark_are_refused_at_the_second() -> None:
    with pytest.raises(InputError) as problem:
        yard(book(), setout='[setout]\nbenchmarks = { "bm porch step" = 103.5 }')
    (fault,) = problem.value.faults
    assert (fault.code, fault.line) == ("benchmark-twice", 14)
    assert "(given)" in str(fault)
    # the same elevation again is no second one
    assert len(yard(book(), setout='[setout]\nbenchmarks = { "BM porch step" = 100 }').benchmarks) == 2


@pytest.mark.parametrize(
    ("text", "name", "feet"),
    [
        ("BM porch step 3' 11 1/4\"", "BM porch step", 3 + 11.25 / 12),
        ("bm  porch   step 4.5", "BM porch step", 4.5),
        ("peg 2 1 1/4 in", "peg 2", 1.25 / 12),
        ("peg 2", "peg", 2.0),
        ('peg 2"', "peg", 2 / 12),
    ],
)
def test_a_name_of_several_words_is_the_longest_known_one_that_leaves_a_length(
    text: str, name: str, feet: float
) -> None:
    done = yard(book(), setout='[setout]\nbenchmarks = { "peg 2" = 99.5 }')
    seen = read_backsight(text, done)
    assert seen.name == name
    assert seen.reading == pytest.approx(feet * 0.3048)


def test_an_unknown_mark_is_named_without_its_length() -> None:
    with pytest.raises(InputError, match='for "BM back step" - did you mean BM porch step'):
        read_backsight("BM back step 3' 11 1/4\"", yard(book()))


def test_marks_of_the_survey_are_what_stakes_are_taped_from() -> None:
    survey = 'marks = { "barn A" = [0, 0], "barn B" = [20, 0] }'
    made = set_out_plan(yard(book(), survey), Wanted())
    assert made.marks_given
    assert [mark.name for mark in made.marks] == ["barn A", "barn B"]


def test_stations_csv_carries_the_marks_and_gives_them_back() -> None:
    done = yard(book())
    written = stations_table(done.stations, done.job.show, done.benchmarks)
    assert b"BM porch step,,,100.0,,given,,,30.48,\r\n" in written
    again = read_stations(written, "stations.csv", NotesForm())
    assert [(m.name, m.basis) for m in again.benchmarks] == [(m.name, m.basis) for m in done.benchmarks]
    assert again.benchmarks[0].elevation == pytest.approx(30.48)
    assert len(again) == len(done.stations)


def judged(done: Plan, readings: bytes) -> AsBuilt:
    return check_built(done, read_tops(done, readings, "tops.csv", SurveyForm()), "tops.csv")


def tops(done: Plan, mark: str, off: float = 0.0) -> bytes:
    """Four points of the pad ``off`` [ft] above the plan, read from a mark at 100 ft with 3.20 on it."""
    rod = 103.2 - done.pad.chosen.level / 0.3048 - off
    rows = [f"pad {k},,{rod:.3f}," for k in range(1, 5)]
    return "\n".join(["station,BS,IS,FS", f"{mark},3.20,,", *rows, f"{mark},,,3.20", ""]).encode()


def test_a_pad_half_a_foot_too_low_never_passes() -> None:
    done = yard(book())
    low = judged(done, tops(done, "bm porch step", -0.5))
    assert low.tied
    assert [f.code for f in low.findings if f.severity == "stop"] == ["asbuilt-off-plan"]
    assert judged(done, tops(done, "BM porch step")).passed


def test_readings_on_no_mark_are_judged_for_flatness_and_do_not_pass() -> None:
    done = yard(book())
    loose = judged(done, tops(done, "a stone"))
    assert not loose.tied
    assert not loose.passed
    assert loose.levels.passed
    assert [f.code for f in loose.findings if f.severity == "stop"] == ["asbuilt-height-not-checked"]
    assert "flat among themselves; height not checked: read a mark" in asbuilt_text(loose)
    assert "Pass" not in asbuilt_text(loose)


def test_a_plan_on_an_assumed_datum_is_tied_by_the_same_mark() -> None:
    done = yard(book(""))
    assert judged(done, tops(done, "BM porch step")).passed


def test_a_reading_is_no_station() -> None:
    """A survey whose stations are called 1 to 25, and a rod that reads 6 on the pad."""
    numbers = {row.split(",")[0]: str(k) for k, row in enumerate(GROUND, start=1)}
    places = [f"{n},{(int(s[1]) - 1) * 5},{'ABCDE'.index(s[0]) * 5}" for s, n in numbers.items()]
    shots = [f"{row},{98.2 - 0.01 * k:.2f}" for k, row in enumerate(places)]
    job = JOB.replace("{survey}", "").replace("grid = { spacing = 5 }\n", "")
    done = plan(read_job(job.encode()), "\n".join(["station,x,y,elevation", *shots, ""]).encode())
    rows = [f"P{k},,6," for k in range(1, 5)]
    read = "\n".join(["station,BS,IS,FS", "a stone,6,,", *rows, "a stone,,,6", ""]).encode()
    assert names_in(read, "tops.csv") == ("a stone", "P1", "P2", "P3", "P4")
    assert not judged(done, read).tied
    # a shot that the readings begin on ties them; shots named further on are ground that may be dug by now
    assert judged(done, read.replace(b"a stone", b"6")).tied
    assert not judged(done, read.replace(b"P4,", b"7,")).tied


def test_elevations_on_another_datum_are_not_compared_with_the_plan() -> None:
    done = yard(book())
    rows = [f"pad {k},{done.pad.chosen.level / 0.3048:.2f}" for k in range(1, 5)]
    for mark, passes in (("100.00", True), ("52.00", False)):
        table = "\n".join(["station,elevation", f"BM porch step,{mark}", *rows, ""]).encode()
        built = judged(done, table)
        assert built.passed is passes
        assert len(built.levels.points) == 4
        assert ("asbuilt-mark-off" in {f.code for f in built.findings}) is not passes


def test_remarks_are_joined_by_name() -> None:
    data = b"station,BS,FS,note\n# a comment\n1-1,,4,rock\n1-1,4,,again\n1-2,,5,\n"
    assert remarks_in(data, "holes.csv") == {"1-1": "rock; again"}
