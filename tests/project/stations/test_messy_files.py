"""Files as builders keep them, with titles, blank rows and units of their own.

The elevations are worked out here by hand, in fractions of an inch. All of them are invented.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.project.stations.forms import NotesForm, PlacesForm, ReadingsForm, SurveyForm
from gradework.project.stations.join import YardNotes, read_yard
from gradework.project.stations.notes import read_stations
from gradework.survey.levelling.string_and_straightedge import String
from gradework.survey.stations import Stations

INCH = Fraction(254, 10000)
FOOT = 12 * INCH


def reduced(text: str, unit: str | None, **readings: object) -> YardNotes:
    return read_yard(text.encode(), "n.csv", SurveyForm(ReadingsForm.asked(None, **readings)), unit=unit)  # type: ignore[arg-type]


def levels(yard: YardNotes) -> dict[str, float]:
    heights = yard.reduced.heights
    return dict(zip(heights.names, heights.elevation.tolist(), strict=True))


def codes(findings) -> set[str]:
    return {one.code for one in findings}


LASER = '''\
Hillside shed,,,,
"Oct 14, dry, laser on the tripod by the gate",,,,
,,,,
Tools:,laser,25 ft rod,,
,,,,
Stake,Across,North,Rod (ft-in),Known

BM,,,"4' 3 1/2""",100' 0"
A1,0,0,"5' 0 1/4""",
A2,12,0,"4-11 3/8",
A3,24' 6",0,"4' 6 7/8""",

B1,0,10,"5' 8 1/2""",
B2,12,10,"5' 2""",
B3,24' 6",10,"4' 10 1/4""",
BM,,,"4' 3 1/2""",
'''


def test_a_laser_book_in_feet_and_inches_below_titles():
    """The plane is at 100' + 4' 3 1/2" = 1251 1/2 in; each stake is its rod below that."""
    yard = reduced(LASER, "ft")
    plane = Fraction(2503, 2)
    rods = {"A1": "60.25", "A2": "59.375", "A3": "54.875", "B1": "68.5", "B2": "62", "B3": "58.25"}
    found = levels(yard)
    for name, rod in rods.items():
        assert found[name] == pytest.approx(float((plane - Fraction(rod)) * INCH), abs=1e-9)
    assert isinstance(yard.stations, Stations)
    at = list(yard.stations.names).index("B3")
    assert yard.stations.xyz[at, :2] == pytest.approx([float(Fraction("24.5") * FOOT), float(10 * FOOT)])
    (title,) = (one for one in yard.findings if one.code == "notes-title-line")
    assert title.advice.startswith("Lines 1 ('Hillside shed'), 2 (")


STRING = '''\
String from the barn sill to the post - level
Measured down with a tape
,,
Name,Along (ft),Drop (in)
1,0,12 1/4
2,6,9
3,12,"1' 3 1/2"""
4,18,16 7/8
'''


def test_drops_in_inches_in_a_job_in_feet():
    """The string hangs at 101 ft = 1212 in."""
    yard = reduced(STRING, "ft", string=String(101 * 0.3048, 101 * 0.3048, 18 * 0.3048, 0.0))
    drops = {"1": "12.25", "2": "9", "3": "15.5", "4": "16.875"}
    for name, drop in drops.items():
        assert levels(yard)[name] == pytest.approx(float((1212 - Fraction(drop)) * INCH), abs=1e-9)
    (told,) = (one for one in yard.findings if one.code == "notes-units-by-column")
    assert told.advice.startswith("Read as the header says: drop in inches.")


@pytest.mark.parametrize(
    "header", ["drop (in)", "Drop, inches", "drop in", "DROP [in.]", 'drop (")', "drop/in"]
)
def test_a_unit_in_a_header_is_read_however_it_is_written(header: str) -> None:
    text = f'station,"{header.replace(chr(34), chr(34) * 2)}"\nA,9\nB,14.5\n'
    for unit in ("ft", "m", "in", "cm", "ftUS"):
        found = levels(reduced(text, unit, string=String(30.0, 30.0, 5.0, None)))
        assert found["B"] == pytest.approx(30.0 - 14.5 * 0.0254, abs=1e-6)


WATER = """\
Schlauchwaage / water level,,
mark = corner of the terrace,,
point,higher (cm),remark
A,-12.5,
B,-30.5,by the oak
C,4,
"""


def test_a_water_level_in_centimetres_in_a_job_in_metres():
    found = levels(reduced(WATER, "m", known={"T": 30.0}, benchmark="T"))
    assert found == pytest.approx({"A": 29.875, "B": 29.695, "C": 30.04}, abs=1e-9)


def test_pairs_of_a_water_level_in_centimetres():
    text = "from,water at from (cm),to,water at to (cm)\nBM,120,A,132\nA,115,B,133.5\n"
    found = levels(reduced(text, "m", known={"BM": 30.0}))
    assert found["A"] == pytest.approx(29.88, abs=1e-9)
    assert found["B"] == pytest.approx(29.695, abs=1e-9)


def test_a_job_in_centimetres_or_millimetres_reads_bare_numbers_so():
    text = "station,x,y,elevation\nA,0,0,{0}\nB,{1},0,{0}\nC,0,{1},{2}\n"
    for unit, values in (("cm", (3000, 400, 3012.5)), ("mm", (30000, 4000, 30125))):
        found = read_stations(text.format(*values).encode(), "n.csv", NotesForm(unit))  # type: ignore[arg-type]
        assert found.xyz == pytest.approx(np.array([[0, 0, 30], [4, 0, 30], [0, 4, 30.125]]))
        assert not found.show.us


ROVER = """\
JOB GARDEN EXPORT
1,1040100.12,2801200.05,812.31,CORNER PIN
2,1040100.07,2801230.02,812.94,GRND
3,1040140.01,2801215.11,813.02,GRND
4,1040120.55,2801212.40,812.70,GRND
"""


def test_a_rover_file_without_header_is_refused_with_both_orders():
    with pytest.raises(InputError) as caught:
        read_stations(ROVER.encode(), "r.csv", NotesForm("ftUS"))
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("notes-no-header", 2)
    assert "which is northing cannot be told" in fault.found
    north_first, east_first = "name,northing,easting,elevation,description", "name,easting,northing,"
    assert f"put {north_first} or {east_first}" in fault.fix
    found = read_stations(ROVER.encode(), "r.csv", NotesForm("ftUS", columns=north_first))
    survey_foot = 1200 / 3937
    assert found.xyz[1] - found.xyz[0] == pytest.approx(
        np.array([29.97, -0.05, 0.63]) * survey_foot, abs=1e-6
    )
    assert codes(found.findings) >= {"notes-title-line"}
    mirrored = read_stations(ROVER.encode(), "r.csv", NotesForm("ftUS", columns="PENZD"))
    assert mirrored.xyz[:, 0] == pytest.approx(found.xyz[:, 1])


def test_a_rover_file_in_a_system_takes_its_order_from_columns():
    """EPSG:26850, Minnesota Central in US survey feet: scale 0.99989 or so on the map there."""
    order = "name,northing,easting,elevation,description"
    survey = SurveyForm(places=PlacesForm(crs="EPSG:26850"), receiver="survey-grade", height_sd=0.01)
    found = read_stations(ROVER.encode(), "r.csv", NotesForm("ftUS", columns=order, survey=survey))
    apart = float(np.hypot(*(found.xyz[1] - found.xyz[0])[:2]))
    assert apart == pytest.approx(np.hypot(29.97, 0.05) * 1200 / 3937, rel=5e-4)
    assert found.names == ("1", "2", "3", "4")


GRID = """\
Lawn,,,
Rod readings from the patio,,,
,0,8,16
0,4.10,4.35,4.62
8,4.48,4.71,4.99
"""


def test_a_grid_of_rod_readings_is_refused_and_read_either_way_when_said():
    with pytest.raises(InputError) as caught:
        read_stations(GRID.encode(), "g.csv", NotesForm("ft"))
    assert [fault.code for fault in caught.value.faults] == ["heights-unclear"]
    assert "--heights elevations or --heights readings" in caught.value.faults[0].fix
    as_read = SurveyForm(ReadingsForm.asked("elevations"))
    assert read_stations(GRID.encode(), "g.csv", NotesForm("ft", survey=as_read)).xyz[0, 2] == pytest.approx(
        4.1 * 0.3048
    )
    below = SurveyForm(ReadingsForm.asked("readings", hi=104.1 * 0.3048))
    found = read_stations(GRID.encode(), "g.csv", NotesForm("ft", survey=below))
    assert found.xyz[:, 2] / 0.3048 == pytest.approx([100, 99.75, 99.48, 99.62, 99.39, 99.11])
    on_mark = SurveyForm(ReadingsForm.asked("readings", known={"x8 y0": 50 * 0.3048}))
    found = read_stations(GRID.encode(), "g.csv", NotesForm("ft", survey=on_mark))
    assert found.xyz[:2, 2] / 0.3048 == pytest.approx([50.25, 50.0])


@pytest.mark.parametrize(
    "text",
    [
        GRID.replace(",0,8,16", "elevation,0,8,16"),
        GRID.replace("Rod readings", "Elevations"),
        GRID.replace("4.", "94."),
    ],
)
def test_a_grid_that_says_elevation_or_is_no_rod_is_believed(text: str) -> None:
    assert len(read_stations(text.encode(), "g.csv", NotesForm("ft"))) == 6


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("benchmark", "BM"),
        ("work", "construction"),
        ("share", "distance"),
        ("string", String(30.0, 30.0, 5.0, None)),
        ("strings", {"north": String(30.0, 30.0, 5.0, None)}),
    ],
)
def test_figures_without_a_header_use_the_height_of_their_plane_only(key: str, value: object) -> None:
    form = SurveyForm(ReadingsForm.asked("readings", hi=31.0, **{key: value}))
    with pytest.raises(InputError) as told:
        read_stations(b",0,5\n0,4.1,4.2\n5,4.5,4.6\n", "g.csv", NotesForm("ft", survey=form))
    (fault,) = told.value.faults
    assert (fault.code, fault.found.split(" ")[0]) == ("survey-key-unused", key)
    assert fault.found.endswith("with notes of figures without a header")


def test_elevations_with_places_of_their_own_are_no_readings_either():
    places = PlacesForm(data=b"station,x,y\nA,0,0\nB,10,0\nC,0,10\n", file="p.csv")
    form = SurveyForm(ReadingsForm.asked("readings"), places)
    with pytest.raises(InputError) as told:
        read_stations(b"station,elevation\nA,98\nB,98.5\nC,98.2\n", "n.csv", NotesForm("ft", survey=form))
    assert codes(told.value.faults) == {"heights-headed"}


def test_elevations_written_as_on_a_rod_are_believed_with_a_warning():
    rows = ["A,0,0,4' 3\"", "B,10,0,4' 6 1/2\"", "C,0,10,4' 1\"", "D,10,10,4' 4\""]
    marked = "station,x,y,elevation\n" + "\n".join(rows) + "\n"
    found = read_stations(marked.encode(), "n.csv", NotesForm("ft"))
    assert found.xyz[0, 2] == pytest.approx(51 * 0.0254)
    assert "elevations-like-readings" in codes(found.findings)
    plain = "station,x,y,elevation\nA,0,0,4.2\nB,10,0,4.5\nC,0,10,4.1\nD,10,10,4.3\n"
    assert "elevations-like-readings" not in codes(
        read_stations(plain.encode(), "n.csv", NotesForm("ft")).findings
    )


def test_two_headers_one_above_the_other_and_a_row_of_units():
    text = ",Readings,,,Elevations\nPoint,BS,IS,FS,Known\n,ft,ft,ft,ft\nBM,4.5,,,100\nA,,5.25,,\nBM,,,4.5,\n"
    assert levels(reduced(text, None))["A"] == pytest.approx(99.25 * 0.3048)


@pytest.mark.parametrize(
    ("title", "unit", "told"),
    [
        ("All measured in inches", "ft", True),
        ("Units: cm", "m", True),
        ("drops (mm)", "m", True),
        ("All in feet", "ft", False),
        ("Lengths in feet", "ftUS", False),
        ("Laser on a 25 ft rod", "m", False),
    ],
)
def test_a_unit_in_a_title_that_is_not_the_one_read_in_is_told(title: str, unit: str, told: bool) -> None:
    text = f"{title}\nstation,drop\nA,0.4\nB,0.5\n"
    yard = reduced(text, unit, string=String(30.0, 30.0, 5.0, None))
    assert ("notes-unit-in-title" in codes(yard.findings)) is told
    headed = reduced(text.replace("drop\n", "drop (in)\n"), unit, string=String(30.0, 30.0, 5.0, None))
    assert "notes-unit-in-title" not in codes(headed.findings)
