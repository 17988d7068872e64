"""Given elevations are honoured by every way of levelling: they hold, they check, and a name that belongs to
nothing is told. All notes are invented and worked by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from gradework.errors import Finding, InputError
from gradework.exchange.yard_records import field_book_record
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.project.stations.forms import NotesForm, PlacesForm, ReadingsForm, SurveyForm
from gradework.project.stations.join import YardNotes, read_yard, stations_of
from gradework.project.stations.notes import read_stations
from gradework.report.survey import yard_text
from gradework.survey.levelling.given import String
from gradework.survey.quality import judge

FOOT = 0.3048

DIFFERENCES = "station,higher\nA,-0.12\nB,-0.305\nP,0.04\n"
PAIRS = "from,water at from,to,water at to\nBM,1.20,A,1.32\nA,1.15,P,1.00\n"  # A 0.12 down, P 0.15 up
LASER = "station,reading\nBM,1.372\nA,1.5\n"
DROPS = "station,drop\nA,0.50\nB,0.62\n"
STEPS = "station,run,rise\n1,2,-0.085\n2,2,-0.11\n3,2,-0.06\npegB,0.5,0\n"


def reduced(notes: str, known: dict[str, float] | None = None, **form: Any) -> YardNotes:
    readings = ReadingsForm(known=known or {}, **form)
    return read_yard(notes.encode(), "notes.csv", SurveyForm(readings), unit="m")


def levels(yard: YardNotes) -> dict[str, float]:
    heights = yard.reduced.heights
    return dict(zip(heights.names, heights.elevation.tolist(), strict=True))


def told(yard: YardNotes, code: str) -> Finding:
    (found,) = (f for f in yard.findings if f.code == code)
    return found


def codes(yard: YardNotes) -> list[str]:
    return [f.code for f in yard.findings]


def faults(*arguments: Any, **more: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        reduced(*arguments, **more)
    return [f.code for f in caught.value.faults]


# ---- water level


def test_a_known_station_gives_the_zero_of_differences() -> None:
    yard = reduced(DIFFERENCES, {"P": 31.0})
    assert levels(yard) == pytest.approx({"A": 30.84, "B": 30.655, "P": 31.0})  # the mark lies at 30.96
    assert judge(yard.findings).summary == "Survey check: fair. Nothing checks the readings"


def test_a_second_mark_checks_the_differences() -> None:
    far = reduced(DIFFERENCES, {"BM": 30.0, "P": 31.0}, benchmark="BM")
    large = told(far, "misclosure-too-large")
    assert (large.value, large.limit) == (pytest.approx(-0.96), pytest.approx(0.010))
    assert levels(far) == pytest.approx({"A": 29.88, "B": 29.695, "P": 31.0})  # nothing shared
    assert judge(far.findings).grade == "poor"
    record = field_book_record(far)
    assert (record["misclosure_m"], record["allowable_m"]) == (pytest.approx(-0.96), pytest.approx(0.010))
    raw = {s["station"]: s["raw_elevation_m"] for s in record["stations"]}
    assert raw == pytest.approx({"A": 29.88, "B": 29.695, "P": 30.04})
    # 4 mm low: the mark is taken 2 mm higher
    near = reduced(DIFFERENCES, {"BM": 30.0, "P": 30.044}, benchmark="BM")
    assert levels(near) == pytest.approx({"A": 29.882, "B": 29.697, "P": 30.044})
    assert judge(near.findings).grade == "good"
    assert "computed 30.040 m, known 30.044 m" in " ".join(yard_text(near).split())


def test_marks_among_the_differences_check_each_other() -> None:
    """A says that the mark is at 30.12, B at 30.125 and P at 30.12 m: 30.1217 on the average."""
    yard = reduced(DIFFERENCES, {"A": 30.0, "B": 29.82, "P": 30.16})
    assert [c.station for c in yard.reduced.heights.checks] == ["B", "P"]
    assert [c.misclosure for c in yard.reduced.heights.checks] == pytest.approx([-0.005, 0.0])
    assert levels(yard) == {"A": 30.0, "B": 29.82, "P": 30.16}
    more = reduced(DIFFERENCES + "C,0\n", {"A": 30.0, "B": 29.82, "P": 30.16})
    assert levels(more)["C"] == pytest.approx(30.12 + 0.005 / 3)


def test_the_mark_that_the_notes_leave_out_is_named() -> None:
    yard = reduced(DIFFERENCES, {"QQ": 3.0})
    assert levels(yard)["A"] == pytest.approx(2.88)
    assert told(yard, "mark-outside-notes").where == "QQ"
    assert "mark-outside-notes" not in codes(reduced(DIFFERENCES, {"QQ": 3.0}, benchmark="QQ"))
    assert faults(DIFFERENCES, {"BM": 100.5, "B2": 100.9}) == ["levels-mark-missing"] * 2
    assert faults(DIFFERENCES, {"BN": 30.0}, benchmark="BM") == ["levels-mark-missing"]
    assert faults(DIFFERENCES, {"p": 31.0}) == ["levels-mark-missing"]  # P, but for the capital
    assert told(reduced(DIFFERENCES, benchmark="BM"), "benchmark-assumed").where == "BM"


def test_known_marks_of_a_web_of_pairs() -> None:
    yard = reduced(PAIRS, {"BM": 30.0, "P": 30.04})
    (check,) = yard.reduced.heights.checks
    assert (check.station, check.computed, check.over) == ("P", pytest.approx(30.03), "2 hops")
    assert check.allowable == pytest.approx(0.010 * 2**0.5)
    assert levels(yard) == pytest.approx({"A": 29.885, "P": 30.04})  # half of the 10 mm
    assert judge(yard.findings).grade == "good"
    far = reduced(PAIRS, {"BM": 30.0, "P": 31.0})
    assert levels(far) == pytest.approx({"A": 29.88, "P": 31.0})
    assert told(far, "misclosure-too-large").value == pytest.approx(-0.97)
    back = reduced(PAIRS, {"P": 31.0})
    assert levels(back) == pytest.approx({"BM": 30.97, "A": 30.85})
    assert "survey-not-checked" in codes(back)
    assert faults(PAIRS, {"BM": 30.0, "Q": 3.0}) == ["levels-mark-missing"]
    loop = reduced(PAIRS + "BM,1.20,P,1.17\n", {"BM": 30.0})  # a second route that agrees
    assert judge(loop.findings).grade == "good"


def test_the_mark_that_is_said_holds_the_web() -> None:
    yard = reduced(PAIRS, {"P": 31.0, "BM": 30.0}, benchmark="BM")
    assert told(yard, "misclosure-too-large").where == "P, line 3"
    assert told(reduced(PAIRS, {"P": 31.0, "BM": 30.0}), "misclosure-too-large").where == "BM, line 2"


# ---- laser and string


def test_a_known_mark_checks_the_plane_of_a_laser() -> None:
    far = reduced(LASER, {"BM": 31.0}, hi=31.852)  # BM 30.480
    assert told(far, "misclosure-too-large").value == pytest.approx(-0.52)
    assert levels(far) == pytest.approx({"BM": 31.0, "A": 30.352})
    near = reduced(LASER, {"BM": 30.483}, hi=31.852)
    assert told(near, "misclosure").limit == pytest.approx(0.02 * FOOT)
    assert levels(near) == pytest.approx({"BM": 30.483, "A": 30.352})  # the plane stays as it was given
    assert judge(near.findings).grade == "good"
    assert judge(reduced(LASER, hi=31.852).findings).grade == "fair"
    assert faults(LASER, {"QQ": 3.0}, hi=31.852) == ["levels-mark-missing"]
    ruleless = reduced(LASER, {"BM": 30.483}, hi=31.852, work="third order")
    assert told(ruleless, "misclosure-without-rule").value == pytest.approx(-0.003)
    assert judge(ruleless.findings).grade == "fair"


def test_without_its_height_a_laser_hangs_on_its_marks() -> None:
    yard = reduced(LASER, {"A": 30.0}, method="laser")
    assert levels(yard) == pytest.approx({"BM": 30.128, "A": 30.0})
    assert judge(yard.findings).grade == "fair"


def test_a_known_mark_checks_a_string() -> None:
    string = String(31.0, 31.0, 8.0)
    yard = reduced(DROPS, {"B": 35.0}, string=string)
    assert told(yard, "misclosure-too-large").value == pytest.approx(-4.62)
    assert levels(yard) == pytest.approx({"A": 30.5, "B": 35.0})
    assert judge(reduced(DROPS, {"B": 30.37}, string=string).findings).grade == "good"  # 10 of 13 mm
    assert judge(reduced(DROPS, string=string).findings).grade == "fair"
    assert faults(DROPS, {"C": 30.0}, string=string) == ["levels-mark-missing"]


def test_the_column_of_known_elevations_serves_every_table() -> None:
    string = String(31.0, 31.0, 8.0)
    for notes, form in (
        ("station,drop,known\nA,0.5,30.51\nB,0.6,\n", {"string": string}),
        ("station,reading,known\nA,1.5,30.504\nB,1.6,\n", {"hi": 32.0}),
        ("station,higher,known\nA,0.5,30.504\nB,0.4,\nC,0,30\n", {}),
        ("station,run,rise,known\nA,2,0.5,30.502\nB,2,0.1,\n", {"known": {"S": 30.0}, "benchmark": "S"}),
    ):
        yard = reduced(notes, **form)
        assert "misclosure" in codes(yard), notes
        assert levels(yard)["A"] in (30.51, 30.504, 30.502)
    assert faults("station,reading,known\nA,1.5,30.5\n", {"A": 30.0}, hi=32.0) == ["levels-mark-twice"]


# ---- straightedge


def test_steps_that_miss_their_mark_by_too_much_are_not_shared() -> None:
    yard = reduced(STEPS, {"start": 30.0, "pegB": 29.0}, benchmark="start")
    large = told(yard, "misclosure-too-large")
    assert (large.where, large.value, large.limit) == (
        "pegB, line 5",
        pytest.approx(0.745),
        pytest.approx(0.006),
    )
    assert levels(yard) == pytest.approx({"1": 29.915, "2": 29.805, "3": 29.745, "pegB": 29.0})
    record = field_book_record(yard)
    assert record["misclosure_m"] == pytest.approx(0.745)
    assert record["stations"][3]["raw_elevation_m"] == pytest.approx(29.745)
    assert judge(yard.findings).grade == "poor"


def test_steps_share_an_allowed_miss_by_their_runs() -> None:
    yard = reduced(STEPS, {"start": 30.0, "pegB": 29.7515}, benchmark="start")  # 6.5 mm: over 6, not shared
    assert yard.reduced.heights.shared == "no"
    yard = reduced(STEPS, {"start": 30.0, "pegB": 29.7385}, benchmark="start")
    assert yard.reduced.heights.shared == "no"
    yard = reduced(STEPS, {"start": 30.0, "pegB": 29.7515 - 0.0013}, benchmark="start")  # 5.2 mm over 6.5 m
    assert levels(yard) == pytest.approx({"1": 29.9166, "2": 29.8082, "3": 29.7498, "pegB": 29.7502})
    assert field_book_record(yard)["stations"][0]["raw_elevation_m"] == pytest.approx(29.915)
    assert judge(yard.findings).grade == "good"


def test_marks_in_the_middle_of_steps_hold_them() -> None:
    """2 mm low at 2, after two steps; another 3 mm, or 1 mm in all, over the next two."""
    yard = reduced(STEPS, {"start": 30.0, "2": 29.807, "pegB": 29.744}, benchmark="start")
    assert [c.misclosure for c in yard.reduced.heights.checks] == pytest.approx([-0.002, 0.003])
    assert [c.over for c in yard.reduced.heights.checks] == ["2 steps", "2 steps"]
    assert levels(yard) == pytest.approx(
        {"1": 29.916, "2": 29.807, "3": 29.745 + 0.002 - 0.003 * 2 / 2.5, "pegB": 29.744}
    )
    sd = dict(zip(yard.reduced.heights.names, yard.reduced.heights.sd.tolist(), strict=True))
    assert sd["1"] == pytest.approx(0.0015 * 0.5**0.5)
    assert sd["2"] == sd["pegB"] == 0.0


def test_steps_hang_on_the_mark_they_end_on() -> None:
    yard = reduced(STEPS, {"pegB": 29.0})
    assert levels(yard) == pytest.approx({"1": 29.17, "2": 29.06, "3": 29.0, "pegB": 29.0})
    assert yard.reduced.heights.sd.tolist() == pytest.approx([0.0015 * n**0.5 for n in (3, 2, 1, 0)])
    assert judge(yard.findings).grade == "fair"
    assert faults(STEPS, {"pegB": 29.0, "BM": 30.0, "BN": 850.0}) == ["levels-mark-missing"] * 2
    assert faults(STEPS, {"peg b": 29.0}) == ["levels-mark-missing"]
    assert told(reduced(STEPS, {"BN": 850.0}), "mark-outside-notes").value == 850.0
    assert judge(reduced(STEPS).findings).grade == "fair"


def test_a_point_that_the_steps_come_back_to_is_a_check() -> None:
    """A at 30.1, on to B and back to A at 29.6: half a metre lost over two steps."""
    yard = reduced("station,run,rise\nA,2,0.1\nB,2,0.3\nA,2,-0.8\n", {"S": 30.0}, benchmark="S")
    large = told(yard, "misclosure-too-large")
    assert (large.where, large.value) == ("A, line 4", pytest.approx(-0.5))
    assert large.limit == pytest.approx(0.003 * 2**0.5)
    assert "0.500 m low the second time, over 2 steps" in large.advice
    assert judge(yard.findings).grade == "poor"
    sound = reduced("station,run,rise\nA,2,0.1\nB,2,0.3\nA,2,-0.302\n", {"S": 30.0}, benchmark="S")
    assert levels(sound)["A"] == pytest.approx(30.099)  # the mean
    assert judge(sound.findings).grade == "good"


# ---- a sag that nobody can place


def test_a_sag_needs_to_know_where_the_drops_hang() -> None:
    assert faults(DROPS, string=String(30.0, 30.0, 12.0, 0.06)) == ["string-sag-unplaced"]
    assert faults(DROPS, string=String(30.0, 30.0, 12.0, -0.06)) == ["string-unusable"]
    hung = reduced("station,drop,along\nA,0.5,6\n", string=String(30.0, 30.0, 12.0, 0.06))
    assert levels(hung) == pytest.approx({"A": 29.44})
    straight = reduced(DROPS, string=String(30.0, 30.0, 12.0, 0.0))  # measured, and it hangs straight
    assert "string-sag-unknown" not in codes(straight)


# ---- what else checks a survey


def test_neighbours_check_readings_that_nothing_else_checks() -> None:
    rows = [
        f"{letter}{c},{1.0 + 0.05 * c + 0.02 * r:.3f}" for r, letter in enumerate("ABC") for c in (1, 2, 3)
    ]
    form = SurveyForm(ReadingsForm(hi=32.0), PlacesForm(grid=LetteredGrid((2.0, 2.0))))
    notes = "station,reading\n" + "\n".join(rows) + "\n"
    stations = stations_of(notes.encode(), "yard.csv", form, unit="m")
    assert judge(stations.findings).grade == "good"
    few = "station,reading\n" + "\n".join(rows[:7]) + "\n"
    stations = stations_of(few.encode(), "yard.csv", form, unit="m")
    assert judge(stations.findings).summary == "Survey check: fair. Nothing checks the readings"
    twice = few + rows[0] + "\n"  # a second look at A1, which agrees
    stations = stations_of(twice.encode(), "yard.csv", form, unit="m")
    assert judge(stations.findings).grade == "good"


def test_a_verdict_names_what_is_wrong_and_that_nothing_checks() -> None:
    found = [
        Finding("string-sag-unknown", "warning", "string", None, None, "Words."),
        Finding("survey-not-checked", "warning", "the readings", None, None, "Words."),
    ]
    assert judge(found).summary == (
        "Survey check: fair. String sag unknown (string). Nothing checks the readings"
    )


def test_a_plan_honours_given_elevations(tmp_path: Path) -> None:
    from gradework.command.main import gradework, run_to_status

    rows = "\n".join(f"{letter}{c},{-0.05 * c}" for letter in "ABC" for c in (1, 2, 3))
    (tmp_path / "yard.csv").write_text(f"station,higher\n{rows}\n")
    text = (
        'name = "Shed"\nunits = "m"\n[survey]\nnotes = "yard.csv"\ngrid = {{ spacing = 2 }}\n{}\n'
        "[building]\nsize = [1, 1]\ncorner = [1, 1]\n"
    )
    job = tmp_path / "job.toml"
    job.write_text(text.format("known = { BM = 100.5, peg = 100.9 }"))
    assert run_to_status(gradework, ["plan", str(job), "--dry-run"]) == 2
    job.write_text(text.format('known = { BM = 100.5 }\nbenchmark = "BM"'))
    assert run_to_status(gradework, ["plan", str(job), "--dry-run"]) in (0, 1)


# ---- elevations that were noted as such

SPOTS = "station,x,y,elevation\nBM,0,0,30.004\nA,4,0,29.9\nB,4,4,29.8\nC,0,4,29.95\n"


def test_known_marks_check_spot_elevations_too() -> None:
    def read(known: dict[str, float]) -> Any:
        form = NotesForm(unit="m", survey=SurveyForm(ReadingsForm(known=known)))
        return read_stations(SPOTS.encode(), "spots.csv", form)

    near = read({"BM": 30.0})
    assert near.xyz[:, 2].tolist() == [30.0, 29.9, 29.8, 29.95]
    assert [f.code for f in near.findings] == ["misclosure"]
    assert judge(near.findings).grade == "good"
    far = read({"BM": 31.0})
    (large,) = (f for f in far.findings if f.code == "misclosure-too-large")
    assert large.value == pytest.approx(-0.996)
    assert judge(read({}).findings).summary == "Survey check: fair. Nothing checks the elevations"
    with pytest.raises(InputError, match="levels-mark-missing"):
        read({"BN": 30.0})


def test_known_marks_check_elevations_whose_places_stand_apart() -> None:
    heights = b"station,elevation\nBM,30.004\nA,29.9\nB,29.8\nC,29.95\n"
    places = PlacesForm(data=b"station,x,y\nA,4,0\nB,4,4\nC,0,4\n", file="places.csv")
    form = SurveyForm(ReadingsForm(known={"BM": 30.0}), places)
    stations = stations_of(heights, "spots.csv", form, unit="m")
    assert [f.code for f in stations.findings] == ["misclosure"]  # and BM needs no place
    wrong = SurveyForm(ReadingsForm(known={"BN": 30.0}), places)
    with pytest.raises(InputError, match="levels-mark-missing"):
        stations_of(heights, "spots.csv", wrong, unit="m")
