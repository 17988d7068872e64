"""Jobs whose notes are readings: heights and places joined, reference systems, tied corners, trust."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.project.job.read import read_job
from gradework.project.placed import known_marks, placed_building
from gradework.project.plan import plan
from gradework.project.specs import notes_form
from gradework.project.stations.forms import NotesForm, PlacesForm, ReadingsForm, SurveyForm
from gradework.project.stations.join import read_yard, stations_of
from gradework.project.stations.method import method_of
from gradework.project.stations.notes import read_stations
from gradework.project.stations.placing import find_places
from gradework.survey.levelling.given import String

DATA = Path(__file__).parents[3] / "data"
FOOT = 0.3048
MILLIMETRE = 1e-3


def ground(x: float, y: float) -> float:
    """A plane [m]: 4 % down along x, 2 % up along y."""
    return 30.0 - 0.04 * x + 0.02 * y


GRID = [(f"{'ABCDEFGH'[r]}{c + 1}", 2.0 * c, 2.0 * r) for r in range(8) for c in range(8)]


def level_book(extra: str = "") -> bytes:
    """The grid read from one set-up without error, from a mark at 31 m and back to it."""
    hi = 31.0 + 1.25
    rows = [f"{name},,{hi - ground(x, y):.4f},,{extra}" for name, x, y in GRID]
    return ("station,BS,IS,FS,known\nBM,1.25,,,31\n" + "\n".join(rows) + "\nBM,,,1.25,\n").encode()


def spots() -> bytes:
    rows = [f"{name},{x},{y},{ground(x, y):.4f}" for name, x, y in GRID]
    return ("station,x,y,elevation\n" + "\n".join(rows) + "\n").encode()


def job(survey: str, building: str = "size = [4, 3]\ncorner = [5, 5]", units: str = "m") -> Any:
    text = (
        f'name = "Shed"\nunits = "{units}"\n[survey]\nnotes = "yard.csv"\n{survey}\n[building]\n{building}\n'
    )
    return read_job(text.encode(), "job.toml")


def refused(call: Any, *arguments: Any, **more: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        call(*arguments, **more)
    return [fault.code for fault in caught.value.faults]


# ---- heights and places


@pytest.mark.parametrize(
    ("header", "method"),
    [
        ("station,BS,IS,FS", "level"),
        ("stn,backsight,foresight", "level"),
        ("station,reading", "level"),
        ("station,drop", "string"),
        ("station,higher", "water-level"),
        ("from,water at from,to,water at to", "water-level"),
        ("station,run,rise", "steps"),
        ("station,x,y,elevation", "spots"),
        ("colour,taste", None),
        ("", None),
    ],
)
def test_the_first_row_tells_the_way_of_levelling(header: str, method: str | None) -> None:
    assert method_of(f"{header}\nA,1,2,3\n".encode(), "n.csv") == method
    assert method_of(f"Yard of May 3\n{header}\nA,1,2,3\n".encode(), "n.csv") == method


def test_notes_that_are_no_text_are_left_to_their_reader() -> None:
    assert method_of(b"\x00\x01\x02", "n.csv") is None


def test_a_plan_from_readings_is_the_plan_from_their_elevations() -> None:
    read = plan(job("grid = { spacing = 2 }"), level_book())
    known = plan(job(""), spots())
    assert read.pad.chosen.level == pytest.approx(known.pad.chosen.level, abs=1e-4)  # readings to 0.1 mm
    assert read.pad.chosen.gravel == pytest.approx(known.pad.chosen.gravel, abs=1e-3)
    assert read.trust.grade == "good"
    assert read.stations.sd.min() > 0
    assert np.isnan(known.stations.sd).all()


def test_cut_and_fill_takes_the_same_notes() -> None:
    stations = read_stations(level_book(), "yard.csv", NotesForm(unit="m", grid=LetteredGrid((2.0, 2.0))))
    assert len(stations) == 64
    assert dict(zip(stations.names, stations.xyz.tolist(), strict=True))["C4"] == pytest.approx(
        [6.0, 4.0, ground(6.0, 4.0)], abs=1e-4
    )


def test_heights_and_places_in_two_files_are_joined_by_name() -> None:
    places = "station,x,y\n" + "\n".join(f"{n.lower()},{x},{y}" for n, x, y in GRID if n != "H8")
    form = SurveyForm(places=PlacesForm(data=places.encode(), file="places.csv"))
    stations = stations_of(level_book(), "yard.csv", form, unit="m")
    assert len(stations) == 63
    (missing,) = (f for f in stations.findings if f.code == "station-without-place")
    assert "H8" in missing.advice


def test_places_that_stand_beside_the_readings() -> None:
    rows = [f"{n},,{32.25 - ground(x, y):.4f},,{x},{y}" for n, x, y in GRID]
    text = "station,BS,IS,FS,x,y\nBM,2.25,,,,\n" + "\n".join(rows) + "\n"
    stations = stations_of(text.encode(), "yard.csv", SurveyForm(), unit="m")
    assert stations.xyz[:, :2].tolist() == [[x, y] for _, x, y in GRID]


ONE_FILE: dict[str, tuple[str, Any, PlacesForm]] = {
    "offsets": (
        "along,offset",
        lambda x, y: f"{x},{y}",
        PlacesForm(baseline=((0.0, 0.0), (20.0, 0.0))),
    ),
    "rays": (
        "angle,distance,rise",
        lambda x, y: f"{math.degrees(math.atan2(x + 1, y + 1))},{math.hypot(x + 1, y + 1)},",
        PlacesForm(seat=(-1.0, -1.0), zero=90.0),
    ),
    "ties": (
        "gate,oak,side",
        lambda x, y: f"{math.hypot(x + 1, y + 1)},{math.hypot(x - 30, y + 1)},left",
        PlacesForm(marks={"gate": (-1.0, -1.0), "oak": (30.0, -1.0)}),
    ),
    "x and y": ("x,y", lambda x, y: f"{x},{y}", PlacesForm()),
}
READ_AS: dict[str, tuple[str, Any]] = {
    "level": ("BS,IS,FS", lambda z: f",{32.25 - z:.4f},"),
    "laser": ("reading", lambda z: f"{32.25 - z:.4f}"),
    "string": ("drop", lambda z: f"{32.25 - z:.4f}"),
    "water": ("higher", lambda z: f"{z - 31:.4f}"),
}


@pytest.mark.parametrize("placed", ONE_FILE)
@pytest.mark.parametrize("read", READ_AS)
def test_heights_and_places_in_one_file(placed: str, read: str) -> None:
    columns, where, form = ONE_FILE[placed]
    names, height = READ_AS[read]
    rows = [f"{n},{where(x, y)},{height(ground(x, y))}" for n, x, y in GRID]
    blank = "," * (columns.count(",") + 1)
    mark = {"level": f"BM,{blank}1.25,,\n"}.get(read, "")
    text = f"station,{columns},{names}\n{mark}" + "\n".join(rows) + "\n"
    data = text.encode()
    readings = ReadingsForm(
        hi=32.25 if read == "laser" else None,
        known={} if read == "laser" else {"BM": 31.0},
        benchmark="BM" if read == "water" else None,
        string=String(32.25, 32.25, 8.0, 0.0) if read == "string" else None,
    )
    if read == "string":
        readings = replace(readings, known={})
    places = form if placed == "x and y" else replace(form, data=data, file="yard.csv")
    stations = stations_of(data, "yard.csv", SurveyForm(readings, places), unit="m")
    assert list(stations.names) == [n for n, _, _ in GRID]
    expected = np.array([(x, y, ground(x, y)) for _, x, y in GRID])
    assert np.asarray(stations.xyz) == pytest.approx(expected, abs=6e-5)


def test_a_level_book_keeps_its_rise_and_the_lengths_of_its_sights_beside_angles() -> None:
    """Rows of the benchmark have a length and no angle; a rise worked out by hand slopes no distance."""
    seen = [(math.degrees(math.atan2(x + 1, y + 1)), math.hypot(x + 1, y + 1)) for _, x, y in GRID]
    rows = [
        f"{n},,{32.25 - ground(x, y):.4f},,{r},{a},0.9" for (n, x, y), (a, r) in zip(GRID, seen, strict=True)
    ]
    head, last = "station,BS,IS,FS,distance,angle,rise", "BM,,,1.25,12,,"
    data = "\n".join([head, "BM,1.25,,,12,,", *rows, last, ""]).encode()
    places = PlacesForm(data=data, file="yard.csv", seat=(-1.0, -1.0), zero=90.0)
    form = SurveyForm(ReadingsForm(known={"BM": 31.0}), places)
    yard = read_yard(data, "yard.csv", form, unit="m")
    assert yard.reduced.book is not None
    assert yard.reduced.book.lines[0].row.distance == 12.0
    assert yard.places is not None
    assert yard.places.names == tuple(n for n, _, _ in GRID)
    assert yard.places.xy == pytest.approx(np.array([(x, y) for _, x, y in GRID]), abs=1e-6)


def test_steps_keep_their_rise_beside_angles() -> None:
    data = b"station,run,rise,angle,distance\nA,2,-0.1,0,3\nB,2,-0.2,90,4\nC,2,0.1,45,5\nD,2,0.1,10,9\n"
    places = PlacesForm(data=data, file="s.csv", seat=(0.0, 0.0))
    yard = read_yard(data, "s.csv", SurveyForm(ReadingsForm(known={}), places), unit="m")
    assert yard.reduced.heights.elevation.tolist() == pytest.approx([29.9, 29.7, 29.8, 29.9])
    assert yard.places is not None
    assert yard.places.xy[:2].tolist() == [pytest.approx([3, 0]), pytest.approx([0, -4], abs=1e-9)]


@pytest.mark.parametrize(("columns", "named"), [("x,y", False), ("lon,lat", False), ("angle,distance", True)])
def test_places_beside_pairs_of_a_water_level_go_into_another_table(columns: str, named: bool) -> None:
    data = f"from,water at from,to,water at to,{columns}\nBM,1.2,A,1.3,0,0\n".encode()
    places = PlacesForm(data=data if named else None, file="w.csv" if named else "", seat=(0.0, 0.0))
    with pytest.raises(InputError) as caught:
        read_yard(data, "w.csv", SurveyForm(places=places), unit="m")
    assert [fault.code for fault in caught.value.faults] == ["places-beside-pairs"]


def test_offsets_and_rays_need_to_know_from_where() -> None:
    offsets = ("station,along,offset\n" + "\n".join(f"{n},{y},{-x}" for n, x, y in GRID)).encode()
    places = PlacesForm(data=offsets, file="o.csv", baseline=((0.0, 0.0), (0.0, 20.0)))
    stations = stations_of(level_book(), "yard.csv", SurveyForm(places=places), unit="m")
    assert stations.xyz[:, :2] == pytest.approx(np.array([(x, y) for _, x, y in GRID]), abs=1e-12)
    bare = SurveyForm(places=PlacesForm(data=offsets, file="o.csv"))
    assert refused(stations_of, level_book(), "yard.csv", bare, unit="m") == ["places-key-missing"]

    seat = (-3.0, -3.0)
    rays = "station,angle,distance\n" + "\n".join(
        f"{n},{math.degrees(math.atan2(y + 3, x + 3)):.9f},{math.hypot(x + 3, y + 3):.9f}" for n, x, y in GRID
    )
    places = PlacesForm(data=rays.encode(), file="r.csv", seat=seat, zero=0.0, clockwise=False)
    stations = stations_of(level_book(), "yard.csv", SurveyForm(places=places), unit="m")
    assert stations.xyz[:, :2] == pytest.approx(np.array([(x, y) for _, x, y in GRID]), abs=1e-7)
    bare = SurveyForm(places=PlacesForm(data=rays.encode(), file="r.csv"))
    assert refused(stations_of, level_book(), "yard.csv", bare, unit="m") == ["places-key-missing"]


def test_heights_alone_can_be_reduced_but_not_planned_on() -> None:
    yard = read_yard(level_book(), "yard.csv", SurveyForm(), unit="m")
    assert yard.stations is None
    assert yard.places is None
    assert refused(stations_of, level_book(), "yard.csv", SurveyForm(), unit="m") == ["places-missing"]


def test_a_profile_can_be_reduced_but_not_planned_on() -> None:
    text = b"station,BS,IS,x,y\nBM,1,,,\nA,,1.1,0,0\nB,,1.2,1,0\nC,,1.3,2,0\n"
    yard = read_yard(text, "yard.csv", SurveyForm(), unit="m")
    assert isinstance(yard.stations, InputError)
    assert refused(stations_of, text, "yard.csv", SurveyForm(), unit="m") == ["shots-on-a-line"]


def test_what_the_job_says_reaches_the_reduction() -> None:
    read = plan(
        job('grid = { spacing = 2 }\nknown = { BM = 131 }\nwork = "construction"\ninstrument = "hand level"'),
        level_book().replace(b",,,31\n", b",,,\n"),
    )
    assert read.stations.xyz[:, 2].min() == pytest.approx(100 + ground(14.0, 0.0), abs=1e-3)
    coarse = read.stations.sd.max()
    fine = plan(job("grid = { spacing = 2 }"), level_book()).stations.sd.max()
    assert coarse / fine == pytest.approx(0.015 / 0.003)  # the two standard errors of a reading


def test_a_string_and_a_laser_in_a_job() -> None:
    drops = "station,drop\n" + "\n".join(f"{n},{31 - ground(x, y):.4f}" for n, x, y in GRID)
    hung = 'string = { first = 31, second = 31, sag = "0 mm" }\ngrid = { spacing = 2 }'
    stations = plan(job(hung), drops.encode()).stations
    assert stations.xyz[:, 2] == pytest.approx([ground(x, y) for _, x, y in GRID], abs=1e-4)
    readings = "station,reading\n" + "\n".join(f"{n},{33 - ground(x, y):.4f}" for n, x, y in GRID)
    stations = plan(job('method = "laser"\nhi = 33\ngrid = { spacing = 2 }'), readings.encode()).stations
    assert stations.xyz[:, 2] == pytest.approx([ground(x, y) for _, x, y in GRID], abs=1e-4)


# ---- reference systems


def test_longitudes_and_latitudes_keep_their_distances() -> None:
    from pyproj import Geod  # the second way: geodesics on the ellipsoid

    rows = [(f"S{i}", -72.6 + 1e-4 * (i % 4), 44.25 + 1e-4 * (i // 4), 100 - 0.1 * i) for i in range(16)]
    text = "station,latitude,longitude,elevation\n" + "\n".join(
        f"{n},{b:.8f},{a:.8f},{z}" for n, a, b, z in rows
    )
    form = SurveyForm(places=PlacesForm(crs="EPSG:4326"), receiver="survey-grade", height_sd=0.02)
    stations = stations_of(text.encode(), "gps.csv", form, unit="m")
    geod = Geod(ellps="WGS84")
    for i in range(16):
        for j in range(i):
            _, _, length = geod.inv(rows[i][1], rows[i][2], rows[j][1], rows[j][2])
            assert math.dist(stations.xyz[i, :2], stations.xyz[j, :2]) == pytest.approx(
                length, abs=MILLIMETRE
            )
    assert stations.xyz[5, 2] == 99.5
    (told,) = (f for f in stations.findings if f.code == "places-in-system")
    assert "at 44.250° north, 72.600° west" in told.advice


def test_survey_feet_and_metres_of_one_state_plane_agree() -> None:
    """Vermont (NAD83): EPSG 5646 counts in US survey feet, EPSG 32145 in metres; the same projection."""
    east, north = 500_000.0, 180_000.0
    metres = [(f"{n}", east + x, north + y, ground(x, y)) for n, x, y in GRID]
    in_metres = "station,east,north,elevation\n" + "\n".join(f"{n},{a},{b},{z}" for n, a, b, z in metres)
    survey_foot = 1200 / 3937
    in_feet = "station,east,north,elevation\n" + "\n".join(
        f"{n},{a / survey_foot:.6f},{b / survey_foot:.6f},{z / survey_foot:.6f}" for n, a, b, z in metres
    )
    named = 'origin = "A1"'
    one = plan(job(f'crs = "EPSG:32145"\n{named}'), in_metres.encode())
    # 4 by 3 m at 5, 5 in survey feet
    foot = "size = [13.1233333333, 9.8425]\ncorner = [16.404166667, 16.404166667]"
    two = plan(job(f'crs = "EPSG:5646"\n{named}', foot, units="ftUS"), in_feet.encode())
    assert one.stations.xyz == pytest.approx(two.stations.xyz, abs=1e-4)
    assert one.stations.xyz[0, :2].tolist() == [0.0, 0.0]
    assert one.pad.chosen.gravel == pytest.approx(
        two.pad.chosen.gravel, rel=0.05
    )  # other default thicknesses


def test_a_survey_foot_system_in_plain_feet_is_refused() -> None:
    text = b"station,east,north,elevation\nA,1640000,590000,1\nB,1640020,590000,1\nC,1640000,590020,1\n"
    form = SurveyForm(places=PlacesForm(crs="EPSG:5646"))
    assert refused(stations_of, text, "s.csv", form, unit="ft") == ["crs-unit-differs"]


def test_survey_feet_and_metres_agree_through_whole_jobs_without_an_origin() -> None:
    """Each zero is a round coordinate in its own unit; what lies between places must not differ."""
    metres = [(n, 500_000.0 + x, 180_000.0 + y, ground(x, y)) for n, x, y in GRID]
    feet = [(n, *(round(v * 3937 / 1200, 6) for v in values)) for n, *values in metres]
    size = "size = [13.1233333333, 9.8425]\ncorner = [16, 16]"
    jobs = (job('crs = "EPSG:32145"'), job('crs = "EPSG:5646"', size, units="ftUS"))
    found = []
    for one, rows in zip(jobs, (metres, feet), strict=True):
        text = "station,east,north,elevation\n" + "\n".join(f"{n},{a},{b},{z}" for n, a, b, z in rows)
        found.append(plan(one, text.encode()).stations.xyz)
    assert found[0][:, :2] != pytest.approx(found[1][:, :2], abs=0.1)
    one, two = (np.column_stack([xyz[:, :2] - xyz[0, :2], xyz[:, 2]]) for xyz in found)
    assert one == pytest.approx(two, abs=1e-4)


DEGREES = [(f"S{i}", -72.6 + 1e-4 * (i % 4), 44.25 + 1e-4 * (i // 4), 100 - 0.1 * i) for i in range(16)]


def degrees_table(*, heights: bool) -> bytes:
    head, tail = (
        ("station,longitude,latitude", ",elevation") if heights else ("station,longitude,latitude", "")
    )
    rows = [f"{n},{a:.6f},{b:.6f}" + (f",{z}" if heights else "") for n, a, b, z in DEGREES]
    return ("\n".join([head + tail, *rows]) + "\n").encode()


def test_elevations_beside_degrees_ask_what_read_them() -> None:
    form = SurveyForm(places=PlacesForm(crs="EPSG:4326"))
    with pytest.raises(InputError) as caught:
        read_yard(degrees_table(heights=True), "gps.csv", form, unit="m")
    (fault,) = caught.value.faults
    assert (fault.code, fault.file, fault.line) == ("receiver-not-said", "gps.csv", 2)
    assert all(f'"{word}"' in fault.expected for word in ("phone", "hand-held", "survey-grade"))
    job_form = job('crs = "EPSG:4326"')
    assert refused(plan, job_form, degrees_table(heights=True)) == ["receiver-not-said"]


def test_elevations_beside_projected_coordinates_are_only_asked_about() -> None:
    rows = [f"{n},{480_000 + x},{4_980_000 + y},{ground(x, y):.3f}" for n, x, y in GRID]
    text = ("station,east,north,elevation\n" + "\n".join(rows)).encode()
    for receiver, sd, expected in ((None, None, ["receiver-asked"]), ("survey-grade", 0.02, [])):
        form = SurveyForm(places=PlacesForm(crs="EPSG:26915"), receiver=receiver, height_sd=sd)
        stations = stations_of(text, "s.csv", form, unit="m")
        assert [f.code for f in stations.findings if f.code.startswith("receiver")] == expected


@pytest.mark.parametrize("receiver", ["phone", "hand-held", "survey-grade", None])
def test_heights_by_rod_with_places_of_a_receiver(receiver: str | None) -> None:
    book = [
        "station,BS,IS,FS",
        "BM,1.25,,",
        *(f"{n},,{1.0 + 0.01 * i:.3f}," for i, (n, *_) in enumerate(DEGREES)),
    ]
    survey = 'places = "gps.csv"\ncrs = "EPSG:4326"\n' + (f'receiver = "{receiver}"' if receiver else "")
    done = plan(
        job(survey, "size = [2, 2]\ncorner = [0, 0]"),
        "\n".join([*book, "BM,,,1.25"]).encode(),
        degrees_table(heights=False),
    )
    told = [f.code for f in done.findings if f.code in ("gnss-plan-coarse", "receiver-asked")]
    coarse = receiver in ("phone", "hand-held")
    assert told == (["gnss-plan-coarse"] if coarse else ["receiver-asked"] if receiver is None else [])
    assert ("gnss-plan-coarse" in [f.code for f in done.trust.reasons]) == coarse


def test_coordinates_of_a_system_stand_in_a_table_of_their_own() -> None:
    """Beside the readings they were once taken for plain x and y, and the system was passed over."""
    book = b"station,BS,IS,FS,east,north\nBM,1.25,,,,\nA,,1.1,,480000,4980000\nB,,1.2,,480010,4980000\n"
    form = SurveyForm(places=PlacesForm(crs="EPSG:26915"))
    with pytest.raises(InputError) as caught:
        read_yard(book, "b.csv", form, unit="m")
    (fault,) = caught.value.faults
    assert fault.code == "places-key-missing"
    assert 'places = "places.csv"' in fault.fix


def test_a_receiver_goes_with_levels_only_beside_coordinates() -> None:
    assert refused(job, 'method = "level"\nreceiver = "phone"') == ["job-clash"]
    assert job('method = "level"\nreceiver = "phone"\ncrs = "EPSG:4326"').survey.receiver == "phone"


@pytest.mark.parametrize("receiver", ["phone", "hand-held"])
def test_heights_of_a_phone_are_refused(receiver: str) -> None:
    assert refused(plan, job(f'receiver = "{receiver}"'), spots()) == ["gnss-height-too-coarse"]


def test_survey_grade_heights_carry_their_stated_error() -> None:
    done = plan(job('receiver = "survey-grade"\nheight_sd = "15 mm"'), spots())
    assert done.stations.sd.tolist() == [0.015] * 64
    assert refused(plan, job('receiver = "survey-grade"'), spots()) == ["gnss-height-too-coarse"]


# ---- tied buildings


def test_a_corner_tied_to_two_marks() -> None:
    marks = "marks = { a = [0, 0], b = [6, 0] }"
    found, _ = placed_building(job(marks, 'size = [4, 3]\nties = { a = 5, b = 5 }\nside = "left"'))
    assert found.corners[0] == pytest.approx([3.0, 4.0])
    up = math.hypot(3, 8)
    turned, _ = placed_building(
        job(
            marks,
            f'size = [4, 3]\nside = "left"\nties = {{ a = 5, b = 5 }}\n'
            f"second_ties = {{ a = {up}, b = {up} }}",
        )
    )
    assert turned.corners[:2] == pytest.approx(np.array([(3.0, 4.0), (3.0, 8.0)]), abs=1e-9)


@pytest.mark.parametrize(
    ("building", "code"),
    [
        ("size = [4, 3]\nties = { a = 5, b = 5 }", "tie-side-unknown"),
        ('size = [4, 3]\nties = { a = 1, b = 1 }\nside = "left"', "ties-do-not-meet"),
        ('size = [4, 3]\nties = { a = 5, c = 5 }\nside = "left"', "tie-mark-unknown"),
        (
            'size = [9, 3]\nties = { a = 5, b = 5 }\nsecond_ties = { a = 8, b = 8 }\nside = "left"',
            "corners-apart",
        ),
    ],
)
def test_ties_that_give_no_corner_point_into_the_job(building: str, code: str) -> None:
    with pytest.raises(InputError) as caught:
        placed_building(job("marks = { a = [0, 0], b = [6, 0] }", building))
    (fault,) = caught.value.faults
    assert fault.code == code
    assert fault.file == "job.toml"
    assert fault.line > 0


def test_a_building_whose_ties_disagree_is_no_good_survey() -> None:
    """By hand: 15, 15 lies 21.213 from both ends of a base of 30 and 25 from a mark at 15, 40."""
    marks = "marks = { A = [0, 0], B = [30, 0], C = [15, 40] }"
    size = "size = [4, 3]\nties = { A = 21.213, B = 21.213, C = %s }"
    wide = "station,x,y,elevation\n" + "\n".join(
        f"{n},{3 * x},{3 * y},{ground(x, y):.4f}" for n, x, y in GRID
    )
    right = plan(job(marks, size % "25"), wide.encode())
    assert right.building.corners[0] == pytest.approx([15, 15], abs=1e-3)
    assert not [f for f in right.findings if f.code.startswith("tie")]
    wrong = plan(job(marks, size % "28"), wide.encode())
    (told,) = (f for f in wrong.findings if f.code == "ties-disagree")
    assert told.where == "first corner"
    assert wrong.trust.grade == "poor"
    assert told in wrong.trust.reasons


def test_a_building_whose_ties_cross_flat_is_told() -> None:
    building = 'size = [4, 3]\nties = { A = 15.1, B = 15.1 }\nside = "left"'
    _, told = placed_building(job("marks = { A = [0, 0], B = [30, 0] }", building))
    assert [(f.code, f.where) for f in told] == [("ties-cross-flat", "first corner")]


def test_the_side_of_a_building_counts_from_its_first_two_marks_for_both_corners() -> None:
    up = math.hypot(3, 8)
    marks = "marks = { b = [6, 0], a = [0, 0] }"
    placed, told = placed_building(
        job(
            marks,
            'size = [4, 3]\nside = "left"\nties = { a = 5, b = 5 }\n'
            f"second_ties = {{ b = {up}, a = {up} }}",
        )
    )
    assert placed.corners[:2] == pytest.approx(np.array([(3.0, 4.0), (3.0, 8.0)]), abs=1e-9)
    assert told == ()


def test_marks_may_be_tied_from_marks_that_are_tied_themselves() -> None:
    """By hand: oak is 5 from both ends of a base of 6, so at 3, 4; the well at -1, 7 is 5 from oak, 7.0711
    from a, and left of the line from a to oak."""
    marks = (
        "marks = { well = { a = 7.0710678, oak = 5, side = 'left' }, a = [0, 0], b = [6, 0],"
        " oak = { a = 5, b = 5 } }\nside = 'left'"
    )
    found = known_marks(job(marks))
    assert list(found.places) == ["well", "a", "b", "oak"]
    assert found.places["oak"] == pytest.approx((3, 4))
    assert found.places["well"] == pytest.approx((-1, 7), abs=1e-6)
    assert found.findings == ()


def test_tied_marks_serve_the_building_and_the_stations() -> None:
    survey = 'marks = { a = [0, 0], b = [6, 0], oak = { a = 5, b = 5 } }\nside = "left"'
    tied = job(survey, "size = [4, 3]\nties = { a = 5.6568542, oak = 1 }\nside = 'right'")
    assert placed_building(tied)[0].corners[0] == pytest.approx([4, 4], abs=1e-6)
    form = notes_form(tied).survey
    assert form is not None
    assert form.places.marks == {"a": (0, 0), "b": (6, 0), "oak": pytest.approx((3, 4))}


def test_what_the_ties_of_a_mark_say_is_said_of_the_job() -> None:
    marks = "marks = { a = [0, 0], b = [6, 0], c = [3, 9], oak = { a = 5, b = 5, c = 5.3 } }"
    _, told = placed_building(job(marks))
    assert [(f.code, f.where) for f in told] == [("ties-disagree", "oak")]


@pytest.mark.parametrize(
    ("marks", "code", "count"),
    [
        ("marks = { a = [0, 0], p = { q = 3, a = 4 }, q = { p = 3, a = 4 } }", "mark-ties-circle", 2),
        ("marks = { a = [0, 0], p = { p = 3, a = 4 } }", "mark-ties-circle", 1),
        ("marks = { a = [0, 0], p = { z = 3, a = 4 } }", "tie-mark-unknown", 1),
        ("marks = { a = [0, 0], b = [6, 0], p = { b = 5, a = 5 } }", "tie-side-unknown", 1),
    ],
)
def test_marks_that_cannot_be_placed_point_into_the_job(marks: str, code: str, count: int) -> None:
    with pytest.raises(InputError) as caught:
        notes_form(job(marks))
    assert [(f.code, f.file, f.line) for f in caught.value.faults] == [(code, "job.toml", 5)] * count


@pytest.mark.parametrize(
    ("mark", "found"),
    [
        ("{ a = 20 }", "a table with 1 distance"),
        ("{ side = 'left' }", "a table with no distances"),
        ("{ a = 20, b = -3 }", "b: -3"),
        ("{ a = 20, b = 25, side = 'up' }", 'oak: "up"'),
        ("[1]", "oak: a list of 1"),
        ("3", "oak: 3"),
    ],
)
def test_a_mark_is_a_place_or_two_ties(mark: str, found: str) -> None:
    with pytest.raises(InputError) as caught:
        job(f"marks = {{ a = [0, 0], b = [9, 0], oak = {mark} }}")
    (fault,) = caught.value.faults
    assert found in fault.found
    assert (fault.code, fault.line) == ("job-value", 5)


@pytest.mark.parametrize(
    "building",
    [
        "size = [4, 3]\ncorner = [0, 0]\nties = { a = 5, b = 5 }",
        "outline = [[0, 0], [1, 0], [1, 1]]\nties = { a = 5, b = 5 }",
        "size = [4, 3]\nturn = 3\nties = { a = 5, b = 5 }\nsecond_ties = { a = 5, b = 5 }",
        'size = [4, 3]\ncorner = [0, 0]\nside = "left"',
        "size = [4, 3]\ncorner = [0, 0]\nsecond_ties = { a = 5, b = 5 }",
    ],
)
def test_keys_that_contradict_ties(building: str) -> None:
    assert refused(job, "", building) == ["job-clash"]


# ---- trust


def test_the_barn_yard_names_its_misread_rod() -> None:
    yard = DATA / "barn-yard"
    read = read_job((yard / "job.toml").read_bytes(), "job.toml")
    done = plan(read, (yard / "levels.csv").read_bytes(), (yard / "ties.csv").read_bytes())
    (misread,) = (f for f in done.findings if f.code == "shot-misread")
    assert misread.where == "C5, line 21"
    assert "whole foot" in misread.advice
    assert misread.value == pytest.approx(-FOOT, abs=0.05 * FOOT)
    assert done.trust.grade == "poor"
    assert done.trust.summary.startswith("Survey check: poor. Shot misread (C5, line 21)")
    assert done.trust.reasons == (misread,)
    assert done.building.corners[0] / FOOT == pytest.approx([13.0, 16.5], abs=0.02)


def test_shots_that_do_not_reach_around_the_building_are_listed() -> None:
    done = plan(job("", "size = [4, 3]\ncorner = [9.5, 9.5]"), spots())
    assert done.trust.grade == "fair"
    (missing,) = (f for f in done.findings if f.code == "shots-missing")
    assert missing in done.trust.reasons


def test_a_yard_taped_from_two_corners_is_told_its_missing_shots_by_tape() -> None:
    rows = [(n, x + 2, y + 2) for n, x, y in GRID if x < 8 and y < 8]
    hi = 31.0 + 1.25
    book = ["station,BS,IS,FS,known", "BM,1.25,,,31"]
    book += [f"S{n},,{hi - ground(x, y):.4f},," for n, x, y in rows] + ["BM,,,1.25,"]
    ties = ["station,a,b"] + [f"S{n},{math.hypot(x, y):.4f},{math.hypot(x - 12, y):.4f}" for n, x, y in rows]
    asked = job(
        'places = "t.csv"\nmarks = { a = [0, 0], b = [12, 0] }\nside = "left"',
        "size = [4, 3]\ncorner = [3, 3]",
    )
    done = plan(asked, "\n".join(book).encode(), "\n".join(ties).encode())
    (missing,) = (f for f in done.findings if f.code == "shots-missing")
    told = re.findall(
        r"x (-?[\d.]+) m, y (-?[\d.]+) m, ([\d.]+) m from a and ([\d.]+) m from b", missing.advice
    )
    assert len(told) >= 2
    for x, y, from_a, from_b in (map(float, one) for one in told):
        assert math.hypot(x, y) == pytest.approx(from_a, abs=0.02)
        assert math.hypot(x - 12, y) == pytest.approx(from_b, abs=0.02)
    plain = ["station,x,y,elevation", *(f"S{n},{x},{y},{ground(x, y):.4f}" for n, x, y in rows)]
    other = plan(
        job("marks = { a = [0, 0], b = [12, 0] }", "size = [4, 3]\ncorner = [3, 3]"),
        "\n".join(plain).encode(),
    )
    (missing,) = (f for f in other.findings if f.code == "shots-missing")
    assert "from a and" not in missing.advice  # nothing was taped


def test_a_table_of_places_that_is_not_there_is_told(tmp_path: Path) -> None:
    from gradework.command.main import gradework, run_to_status

    (tmp_path / "yard.csv").write_bytes(level_book())
    (tmp_path / "job.toml").write_text(
        'name = "Shed"\nunits = "m"\n[survey]\nnotes = "yard.csv"\nplaces = "ties.csv"\n'
        "[building]\nsize = [4, 3]\ncorner = [5, 5]\n"
    )
    assert run_to_status(gradework, ["plan", str(tmp_path / "job.toml"), "--dry-run"]) == 2


PAGE = (Path(__file__).parents[3] / "docs" / "survey.md").read_text("utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


@pytest.mark.parametrize("number", range(len(BLOCKS)))
def test_every_example_of_the_page_reads(number: int) -> None:
    block = BLOCKS[number]
    rest = {
        "[survey]": '[survey]\nnotes = "yard.csv"\n',
        "[building]": "[building]\nsize = [4, 3]\ncorner = [5, 5]\n",
    }
    missing = "".join(text for table, text in rest.items() if table not in block)
    assert read_job(f'name = "Shed"\nunits = "ft"\n{missing}{block}'.encode()).name == "Shed"


@pytest.mark.parametrize(
    ("survey", "key"),
    [
        ('method = "level"\nhi = 31', "hi"),
        ('method = "water-level"\nshare = "distance"', "share"),
        ("hi = 31\nstring = { first = 31, second = 31 }", "string"),
        ("zero = 90", "zero"),
        ('places = "p.csv"\nbaseline = [[0, 0], [9, 0]]\nseat = [0, 0]', "seat"),
        ('placing = "ties"', "placing"),
        ('places = "p.csv"\nplacing = "ties"\nbaseline = [[0, 0], [9, 0]]', "baseline"),
        ('origin = "A1"', "origin"),
        ('height_sd = "1 in"', "height_sd"),
    ],
)
def test_keys_of_the_survey_that_do_not_go_together_are_told_with_their_line(survey: str, key: str) -> None:
    with pytest.raises(InputError) as caught:
        job(survey)
    (fault,) = caught.value.faults
    assert fault.code == "job-clash"
    assert key in fault.found
    lines = ["", 'name = "Shed"', 'units = "m"', "[survey]", 'notes = "yard.csv"', *survey.splitlines()]
    assert lines[fault.line].startswith(key)


def test_a_building_near_the_edge_of_the_shots_asks_for_the_next_row_by_name() -> None:
    asked = job("grid = { spacing = 2 }", "size = [4, 3]\ncorner = [5, 10.5]")
    (missing,) = (f for f in plan(asked, level_book()).findings if f.code == "shots-missing")
    assert re.search(r"Shoot these next\. .*I[1-8] \(x ", missing.advice)


def test_several_strings_in_one_file_each_from_its_own_ends() -> None:
    notes = b"station,string,drop\nA1,east,0.50\nB1,west,0.25\nA2,east,0.75\nB2,west,0.40\n"
    west = ", west = { first = 30, second = 30 }"
    strings = f"grid = {{ spacing = 2 }}\nstrings = {{ east = {{ first = 31, second = 31 }}{west} }}"
    stations = read_stations(notes, "yard.csv", notes_form(job(strings)))
    assert list(stations.names) == ["A1", "B1", "A2", "B2"]
    assert stations.xyz[:, 2] == pytest.approx([30.5, 29.75, 30.25, 29.6])
    with pytest.raises(InputError) as caught:
        read_stations(notes, "yard.csv", notes_form(job(strings.replace(west, ""))))
    assert "west" in caught.value.faults[0].found
    assert {f.where for f in stations.findings if f.code == "string-sag-unknown"} == {
        "string east",
        "string west",
    }


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        ("station;drop\nA1;1,500\nA2;1,250\n", [29.5, 29.75]),
        ("station;higher\nA1;0,500\nA2;-0,125\n", [30.5, 29.875]),
        ("station;run;rise\nA1;2,125;0,500\nA2;1,875;0,250\n", [30.5, 30.75]),
        ("station;reading\nA1;1,500\nA2;1,250\n", [29.5, 29.75]),
        ("from;water at from;to;water at to\nBM;1,500;A1;1,250\n", [30.25]),
    ],
)
def test_the_decimal_mark_that_was_said_counts_in_every_table(notes: str, expected: list[float]) -> None:
    string = String(31.0, 31.0) if "drop" in notes else None
    form = SurveyForm(ReadingsForm(hi=31.0 if "reading" in notes else None, string=string))
    read = read_yard(notes.encode(), "yard.csv", form, unit="m", decimal=",")
    assert read.reduced.heights.elevation == pytest.approx(expected)
    as_point = notes.replace(",", ".").replace(";", ",").encode()
    read = read_yard(as_point, "yard.csv", form, unit="m", decimal=".")
    assert read.reduced.heights.elevation == pytest.approx(expected)


@pytest.mark.parametrize(
    ("places", "form", "away"),
    [
        ("station;along;offset\nA1;1,125;1,500\n", {"baseline": ((0.0, 0.0), (9.0, 0.0))}, 1.875),
        ("station;angle;distance\nA1;90;2,125\n", {"seat": (0.0, 0.0)}, 2.125),
        ("station;x;y\nA1;1,125;1,500\n", {}, 1.875),
        ("station;P;Q;side\nA1;2,125;2,500;left\n", {"marks": {"P": (0.0, 0.0), "Q": (2.0, 0.0)}}, 2.125),
    ],
)
def test_the_decimal_mark_counts_in_the_table_of_places_too(
    places: str, form: dict[str, Any], away: float
) -> None:
    def read(mark: Any) -> Any:
        return find_places(
            PlacesForm(data=places.encode(), file="p.csv", decimal=mark, **form),
            ["A1"],
            b"",
            "y.csv",
            unit="m",
        )

    assert math.hypot(*read(",").xy[0]) == pytest.approx(away)
