"""``gradework reduce``: notes of readings to the field book, as words and as JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
FOOT = 0.3048
KEYS = ["stations", "misclosure_m", "allowable_m", "setups", "sum_bs_m", "sum_fs_m", "findings"]
KEYS += ["benchmarks", "ties"]

# J. Mahun, Open Access Surveying Library, Elevations, chapter C, section 3, Fig. C-16.
TWO_PAGES = """station,BS,FS,known
BM Red,9.73,,893.56
L,10.39,2.88,
TP1,6.02,8.26,
M,11.35,1.63,
Q,3.23,1.88,
R,,5.66,
R,1.09,,
T,5.96,7.69,
TP2,3.87,9.03,
V,1.03,10.81,
BM Red,,4.78,
"""


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "book.csv"
    path.write_text(TWO_PAGES)
    return path


def test_json_of_a_published_loop(run: Run, book: Path) -> None:
    done = run("reduce", book, "--units", "ft", "--json")
    assert (done.status, done.err) == (0, "")
    found = done.document
    assert list(found) == KEYS
    assert list(found["stations"][0]) == [
        "station", "x_m", "y_m", "elevation_m", "raw_elevation_m", "sd_m",
    ]  # fmt: skip
    assert found["setups"] == 9
    # the author's sign of the misclosure is known minus measured; here it is computed minus known
    assert found["misclosure_m"] == pytest.approx(0.05 * FOOT, abs=0.005 * FOOT)
    assert found["sum_bs_m"] == pytest.approx((40.72 + 11.95) * FOOT, abs=1e-9)
    assert found["sum_fs_m"] == pytest.approx((20.31 + 32.31) * FOOT, abs=1e-9)
    raw = {s["station"]: s["raw_elevation_m"] / FOOT for s in found["stations"]}
    assert [raw[n] for n in ("L", "TP1", "M", "Q", "R", "T", "TP2", "V")] == pytest.approx(
        [900.41, 902.54, 906.93, 916.40, 913.97, 907.37, 904.30, 897.36], abs=0.005
    )
    assert {s["x_m"] for s in found["stations"]} == {None}
    assert all(s["sd_m"] > 0 for s in found["stations"] if s["station"] != "BM Red")


def test_words_fit_eighty_columns_and_end_with_the_checks(run: Run, book: Path) -> None:
    done = run("reduce", book, "--units", "ft")
    assert done.status == 0
    lines = done.out.splitlines()
    assert max(map(len, lines)) <= 80, lines
    heading = ["Station", "BS", "HI", "IS", "FS", "Rise", "Elevation", "Adjusted", "s.e."]
    assert heading in [line.split() for line in lines]
    (sums,) = (line for line in lines if line.startswith("Sums"))
    assert sums.split() == ["Sums", "52.67", "52.62"]
    text = " ".join(done.out.split())
    assert "sum BS - sum FS 52.67 - 52.62 = 0.05" in text
    assert "sum of rises - sum of falls 22.84 - 22.79 = 0.05" in text
    assert "last - first elevation 893.61 - 893.56 = 0.05" in text
    assert "misclosure 0.05 ft; allowed 0.06 ft (yard work): good" in text
    assert "Survey check: good" in text
    assert "[misclosure]" in done.out


def test_the_kind_of_work_says_what_is_allowed(run: Run, book: Path) -> None:
    found = run("reduce", book, "--units", "ft", "--work", "construction", "--json").document
    assert found["allowable_m"] == pytest.approx(3 * 0.025 * FOOT)  # nine set-ups
    found = run("reduce", book, "--units", "ft", "--work", "third order", "--json").document
    assert found["allowable_m"] is None  # that rule needs distances


def test_known_marks_and_a_grid_beside_the_notes(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "grid.csv"
    path.write_text("station,reading\nBM,4.0\nA1,5.0\nA2,5.5\nB1,4.5\nBM,4.0\n")
    found = run("reduce", path, "--units", "ft", "--known", "BM=200", "--grid", "5", "--json").document
    at = {s["station"]: s for s in found["stations"]}
    assert at["A2"]["x_m"] == pytest.approx(5 * FOOT)
    assert at["B1"]["y_m"] == pytest.approx(5 * FOOT)
    assert at["A2"]["elevation_m"] == pytest.approx(198.5 * FOOT)
    assert at["BM"]["x_m"] is None
    words = run("reduce", path, "--units", "ft", "--grid", "5")
    assert "benchmark-assumed" in words.out
    assert "Stations, in feet" in words.out


def test_ties_from_two_barn_corners(run: Run, tmp_path: Path) -> None:
    """A 3-4-5 triangle: 3 m along the wall and 4 m off it, on the left of A to B."""
    heights, ties = tmp_path / "book.csv", tmp_path / "ties.csv"
    heights.write_text("station,reading\nBM,1.5\nP,1.2\nQ,1.3\nBM,1.5\n")
    ties.write_text("station,mark,distance\nP,barn A,5\nP,barn B,5\nQ,barn A,4\nQ,barn B,7.211102550927978\n")
    marks = ("--mark", "barn A=0,0", "--mark", "barn B=6,0")
    done = run("reduce", heights, "--units", "m", "--places", ties, *marks, "--side", "left", "--json")
    at = {s["station"]: (s["x_m"], s["y_m"]) for s in done.document["stations"]}
    assert at["P"] == pytest.approx((3.0, 4.0))
    assert at["Q"] == pytest.approx((0.0, 4.0), abs=1e-6)
    sideless = run("reduce", heights, "--units", "m", "--places", ties, *marks)
    assert sideless.status == 2
    assert "[tie-side-unknown]" in sideless.err


def test_ties_to_spare_are_listed_with_what_they_miss_the_place_by(run: Run, tmp_path: Path) -> None:
    """P at (3, 4) and Q at (2, 5); the tie from C to P is 12 mm long, Q has two ties only."""
    heights, ties = tmp_path / "book.csv", tmp_path / "ties.csv"
    heights.write_text("station,reading\nBM,1.5\np,1.2\nQ,1.3\nBM,1.5\n")
    ties.write_text("station,A,B,C\nP,5,5,4.012\nQ,5.385165,6.403124,\n")
    marks = ("--mark", "A=0,0", "--mark", "B=6,0", "--mark", "C=3,8")
    asked = ("reduce", heights, "--units", "m", "--places", ties, *marks, "--side", "left")
    done = run(*asked, "--json")
    listed = done.document["ties"]
    assert [(t["station"], t["mark"], t["line"]) for t in listed] == [("P", m, 2) for m in "ABC"]
    # along y the two ties of 5 count (4/5)^2 each and the third 1: it keeps 1.28 / 2.28 of its 12 mm
    assert listed[2]["residual_m"] == pytest.approx(0.012 * 1.28 / 2.28, abs=2e-5)
    assert listed[0]["residual_m"] == pytest.approx(0.012 * 0.8 / 2.28, abs=2e-5)
    words = run(*asked).out
    table = words[words.index("Stations with more than two ties") :].splitlines()
    assert [line.split() for line in table[2:6]] == [
        ["Station", "Line", "Taped", "Residual"],
        ["P", "2", "4.012", "+6.7", "from", "C"],
        ["P", "2", "5.000", "+4.2", "from", "A"],
        ["P", "2", "5.000", "+4.2", "from", "B"],
    ]
    # the place of p is that of P
    (line,) = (line for line in words[words.index("Stations, in") :].splitlines() if line.startswith("p "))
    assert line.split()[1:3] == ["3.000", "3.995"]


@pytest.mark.parametrize(
    ("text", "options", "expected"),
    [
        ("station,drop\nA,0.4\nB,0.6\n", ("--string", "31,31,8,0"), {"A": 30.6, "B": 30.4}),
        (
            "station,higher\nA,0.25\nB,-0.5\n",
            ("--known", "BM=30", "--benchmark", "BM"),
            {"A": 30.25, "B": 29.5},
        ),
        ("station,run,rise\nA,2,-0.1\nB,2,-0.2\n", (), {"A": 29.9, "B": 29.7}),
        (
            "station,reading\nA,1.25\nB,1.75\n",
            ("--heights", "laser", "--hi", "31.5"),
            {"A": 30.25, "B": 29.75},
        ),
        (
            "from,water at from,to,water at to\nBM,1.2,A,1.35\n",
            ("--known", "BM=30"),
            {"A": 29.85},
        ),
    ],
    ids=["string", "differences", "steps", "laser", "water"],
)
def test_the_simple_ways(
    run: Run, tmp_path: Path, text: str, options: tuple[str, ...], expected: dict[str, float]
) -> None:
    path = tmp_path / "notes.csv"
    path.write_text(text)
    done = run("reduce", path, "--units", "m", *options, "--json")
    assert done.status == 0, done.out
    found = done.document
    assert {s["station"]: s["elevation_m"] for s in found["stations"]} == pytest.approx(expected)
    assert (found["misclosure_m"], found["setups"], found["sum_bs_m"]) == (None, None, None)
    words = run("reduce", path, "--units", "m", *options)
    assert words.status == 0
    assert words.out.startswith("Stations, in metres")


@pytest.mark.parametrize(
    ("text", "options", "said"),
    [
        ("station,x,y,elevation\nA,0,0,1\n", (), "[readings-none]"),
        ("station,colour\nA,red\n", (), "[readings-unknown]"),
        ("station,drop\nA,0.4\n", (), "[string-ends-missing]"),
        ("station,BS,IS\nBM,1,\nA,,x\n", (), "notes.csv:3:"),
        ("station,BS,IS\nBM,1,\nA,,2\n", ("--known", "TBM=3"), "[levels-mark-missing]"),
        ("station,BS,IS\nBM,1,\nA,,2\n", ("--known", "3"), "--known"),
        ("station,BS,IS\nBM,1,\nA,,2\n", ("--mark", "A=3"), "--mark"),
        ("station,BS,IS\nBM,1,\nA,,2\n", ("--grid", "4"), "[notes-not-in-grid]"),
        ("station,BS,IS\nBM,1,\nA,,2\n", ("--places", "no-such.csv"), "[file-missing]"),
    ],
)
def test_bad_notes_and_wrong_use(
    run: Run, tmp_path: Path, text: str, options: tuple[str, ...], said: str
) -> None:
    path = tmp_path / "notes.csv"
    path.write_text(text)
    done = run("reduce", path, "--units", "m", *options)
    assert (done.status, done.out) == (2, "")
    assert said in done.err
    as_json = run("reduce", path, "--units", "m", *options, "--json")
    assert as_json.status == as_json.document["status"] == 2


def test_a_misread_rod_is_named(run: Run, tmp_path: Path) -> None:
    """A plane, read without error but for one reading a whole foot short."""
    rows = ["BM,4.00,,"]
    for r, letter in enumerate("ABCDEF"):
        for c in range(1, 9):
            reading = 5.0 + 0.12 * c + 0.07 * r + (1.0 if (letter, c) == ("C", 4) else 0.0)
            rows.append(f"{letter}{c},,{reading:.2f},")
    rows.append("BM,,,4.00")
    path = tmp_path / "book.csv"
    path.write_text("station,BS,IS,FS\n" + "\n".join(rows) + "\n")
    done = run("reduce", path, "--units", "ft", "--grid", "5")
    assert "[shot-misread]" in done.out
    assert "whole foot" in " ".join(done.out.split())
    assert "Survey check: poor. Shot misread (C4" in " ".join(done.out.split())


def test_cutfill_takes_the_same_notes(run: Run, tmp_path: Path) -> None:
    """A level yard at 96 ft: a plane at 97 ft over 6 by 5 ft takes 30 cubic feet of fill."""
    rows = [f"{letter}{c},,8.00," for letter in "ABCD" for c in range(1, 5)]
    path = tmp_path / "book.csv"
    path.write_text("station,BS,IS,FS\nBM,4.00,,\n" + "\n".join(rows) + "\nBM,,,4.00\n")
    arguments = (
        "--units",
        "ft",
        "--grid",
        "4",
        "--level",
        "97",
        "--corner",
        "2,3",
        "--size",
        "6,5",
        "--json",
    )
    found = run("cutfill", path, "--known", "BM=100", *arguments).document
    assert found["fill_m3"] == pytest.approx(30 * FOOT**3)
    assert found["cut_m3"] == 0
    assert run("cutfill", path, "--known", "TBM=100", *arguments).status == 2


def test_an_origin_puts_zero_on_a_station_as_the_job_does(run: Run, tmp_path: Path) -> None:
    """Three pegs of UTM zone 15 in a book of their own; the grid's scale there is 0.99963 or so."""
    book, pegs = tmp_path / "book.csv", tmp_path / "pegs.csv"
    book.write_text("station,reading\nBM,1.5\nP,1.2\nQ,1.3\nR,1.1\nBM,1.5\n")
    pegs.write_text("station,east,north\nP,484210,4971870\nQ,484222,4971870\nR,484210,4971886\n")
    asked = ("reduce", book, "--units", "m", "--places", pegs, "--crs", "EPSG:26915")
    at = places_of(run(*asked, "--origin", "Q", "--json").document)
    assert at["Q"] == (0.0, 0.0)
    assert at["P"] == pytest.approx((-12.0, 0.0), abs=0.01)
    assert at["R"] == pytest.approx((-12.0, 16.0), abs=0.01)
    free = places_of(run(*asked, "--json").document)
    assert free["P"][0] - free["Q"][0] == pytest.approx(at["P"][0])
    lost = run(*asked, "--origin", "gate")
    assert (lost.status, "[places-origin-unknown]" in lost.err) == (2, True)
    job = tmp_path / "job.toml"
    job.write_text(
        'name = "p"\nunits = "m"\n[survey]\nnotes = "book.csv"\nplaces = "pegs.csv"\ncrs = "EPSG:26915"\n'
        'origin = "Q"\n[building]\nsize = [2, 2]\ncorner = [-11, 2]\n'
    )
    assert run("plan", job, "-o", tmp_path / "out").status in (0, 1)
    rows = [line.split(",") for line in (tmp_path / "out" / "stations.csv").read_text().splitlines()]
    planned = {row[0]: (float(row[1]), float(row[2])) for row in rows[1:] if row[1]}
    assert planned["P"] == pytest.approx(at["P"], abs=0.001)


def test_a_two_peg_test_frees_unequal_sights(run: Run, tmp_path: Path) -> None:
    """A line of sight that rises 0.1 mm a metre; 10 m back and 60 m ahead read 5 mm too much apart."""
    path = tmp_path / "book.csv"
    path.write_text(
        "station,BS,IS,FS,distance,back distance\nBM,1.501,,,10,\nA,,1.206,,60,\nBM,,,1.501,10,\n"
    )
    pegs = "1.500,1.700,25,25,1.400,1.605,2,52"  # midway 0.200 apart, close to one 0.205
    plain = run("reduce", path, "--units", "m", "--json").document
    true = run("reduce", path, "--units", "m", "--two-peg", pegs, "--json").document
    rise = [d["stations"][1]["elevation_m"] - d["stations"][0]["elevation_m"] for d in (plain, true)]
    assert rise[0] == pytest.approx(0.295)
    assert rise[1] == pytest.approx(0.300)
    assert "sights-straightened" in {f["code"] for f in true["findings"]}
    assert run("reduce", path, "--units", "m", "--two-peg", "1,2,3").status == 2


def test_a_two_peg_test_serves_plain_cut_and_fill_too(run: Run, tmp_path: Path) -> None:
    """A level yard, 50 m farther away than the benchmark; the line of sight rises 0.1 mm a metre."""
    rows = [f"{letter}{c},,1.505,,60,\n" for letter in "ABC" for c in (1, 2, 3)]
    head = "station,BS,IS,FS,distance,back distance\n"
    path = tmp_path / "book.csv"
    path.write_text(f"{head}BM,1.501,,,10,\n{''.join(rows)}BM,,,1.501,10,\n")
    asked = ("--units", "m", "--grid", "4", "--known", "BM=30", "--level", "30", "--corner", "2,2")
    pegs = ("--two-peg", "1.500,1.700,25,25,1.400,1.605,2,52")
    plain = run("cutfill", path, *asked, "--size", "4,4", "--json").document
    true = run("cutfill", path, *asked, "--size", "4,4", *pegs, "--json").document
    assert plain["fill_m3"] == pytest.approx(0.004 * 16)
    # 60 m of 0.1 mm ahead less 10 m of it behind: 5 mm too much read; the yard stands 1 mm above the mark.
    assert true["cut_m3"] == pytest.approx(0.001 * 16)
    assert true["fill_m3"] == pytest.approx(0, abs=1e-9)


ROUTES = """station,BS,IS,FS,known
BM1,5.12,,,100.00
TP1,4.80,,6.21,
BM2,3.95,,4.44,99.29
TP1,,,4.33,
BM1,6.00,,,
P,,5.00,,
TP1,,,7.09,
"""


def test_several_routes_are_adjusted_together_and_the_worst_reading_named(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "routes.csv"
    path.write_text(ROUTES)
    done = run("reduce", path, "--units", "ft")
    assert done.status == 0
    assert max(map(len, done.out.splitlines())) <= 80
    text = " ".join(done.out.split())
    assert "The routes are adjusted together, by least squares." in text
    assert "9 readings, 3 redundant, reference variance 0.52" in text
    assert " worst" in text
    assert "[levels-adjusted]" in done.out
    path.write_text(ROUTES.replace("4.33", "4.71"))
    done = run("reduce", path, "--units", "ft")
    assert "[routes-disagree]" in done.err
    assert "Survey check: poor" in done.out
    assert list(run("reduce", path, "--units", "ft", "--json").document) == KEYS


def places_of(found: Any) -> dict[str, tuple[float, float]]:
    return {s["station"]: (s["x_m"], s["y_m"]) for s in found["stations"]}


def test_what_the_job_file_says_can_be_said_by_options(run: Run, tmp_path: Path) -> None:
    laser, rays = tmp_path / "laser.csv", tmp_path / "rays.csv"
    laser.write_text("station,reading\nA1,1.5\nB1,1.25\n")
    rays.write_text("station,angle,distance\nA1,90,2\nB1,0,3\n")
    asked = ["--units", "m", "--hi", "31.5", "--json"]
    found = run("reduce", laser, *asked, "--places", rays, "--seat", "5,5", "--zero", "90").document
    assert places_of(found)["A1"] == pytest.approx((7.0, 5.0))
    assert [s["elevation_m"] for s in found["stations"]] == pytest.approx([30.0, 30.25])
    turned = [*asked, "--places", rays, "--seat", "5,5", "--circle", "anticlockwise"]
    assert places_of(run("reduce", laser, *turned).document)["A1"] == pytest.approx((5.0, 7.0))
    found = run("reduce", laser, *asked, "--grid", "2", "--grid-corner", "10,5,90").document
    assert places_of(found) == {"A1": pytest.approx((10, 5)), "B1": pytest.approx((8, 5))}
    strings = tmp_path / "strings.csv"
    strings.write_text("station,string,drop\nA1,east,0.5\nB1,west,0.25\n")
    both = ["--string", "east=31,31,6", "--string", "west=30,30,6"]
    found = run("reduce", strings, "--units", "m", *both, "--json").document
    assert [s["elevation_m"] for s in found["stations"]] == pytest.approx([30.5, 29.75])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--grid-corner", "1,2"], "Give --grid"),
        (["--grid", "2", "--grid-corner", "1"], "--grid-corner"),
        (["--zero", "90"], "Give --seat"),
        (["--height-sd", "0.1"], "Give --receiver"),
        (["--string", "31,31", "--string", "30,30"], "a second string"),
        (["--origin", "A1"], "Give --crs with --origin"),
        (["--seat", "1,2"], "Give --places with --seat"),
        (["--placing", "ties"], "Give --places with --placing"),
        (["--hi", "31", "--two-peg", "1,2,3,4,5,6,7,8"], "Give --hi or --two-peg, not both"),
        (["--hi", "31", "--heights", "level"], "Give --hi only with --heights laser, not with level"),
        (["--grid", "2", "--crs", "EPSG:4326"], "Give --grid or --crs, not both"),
    ],
)
def test_options_that_say_nothing_alone_are_told(
    run: Run, tmp_path: Path, options: list[str], words: str
) -> None:
    path = tmp_path / "laser.csv"
    path.write_text("station,reading\nA1,1.5\nB1,1.25\n")
    done = run("reduce", path, "--units", "m", *options)
    assert done.status == 2
    assert words in done.err


def test_an_unknown_system_is_told_of_its_option_or_its_key(run: Run, tmp_path: Path) -> None:
    notes = tmp_path / "gps.csv"
    notes.write_text("station,x,y,elevation\nA,500000,4900000,1\nB,500009,4900000,1\nC,500000,4900009,1\n")
    for command in (("reduce",), ("cutfill", "--level", "1", "--corner", "0,0", "--size", "1,1")):
        (fault,) = run(*command, notes, "--units", "m", "--crs", "EPSG:999999", "--json").document["faults"]
        assert (fault["code"], fault["file"], fault["line"]) == ("crs-unknown", "--crs", 0)
    job = tmp_path / "job.toml"
    job.write_text(
        'name = "p"\nunits = "m"\n[survey]\nnotes = "gps.csv"\nreceiver = "survey-grade"\n'
        'height_sd = "2 cm"\ncrs = "EPSG:999999"\n[building]\nsize = [2, 2]\ncorner = [1, 1]\n[pad]\n'
    )
    (fault,) = run("plan", job, "--json", "-n").document["faults"]
    assert (fault["code"], fault["file"], fault["line"]) == ("crs-unknown", str(job), 7)
    assert fault["column"] > 0
