"""``gradework cutfill``: arguments to answers, with figures that a person can work out."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

# A plane that rises 1 in 10 along x, from 100 m at x = 0: shots on a 3 x 3 grid, 5 m apart.
PLANE = "station,x (m),y (m),elevation (m)\n" + "".join(
    f"S{i}{j},{5 * i},{5 * j},{100 + 0.5 * i}\n" for i in range(3) for j in range(3)
)
KEYS = [
    "level_m",
    "area_m2",
    "cut_m3",
    "fill_m3",
    "net_m3",
    "cut_area_m2",
    "fill_area_m2",
    "doubt_m3",
    "findings",
]


@pytest.fixture
def notes(tmp_path: Path) -> Path:
    path = tmp_path / "plane.csv"
    path.write_text(PLANE)
    return path


def document(run: Run, *arguments: object) -> Any:
    done = run("cutfill", *arguments, "--json")
    assert done.status == 0, done.out
    assert done.err == ""
    return done.document


def test_one_level_on_a_plane(run: Run, notes: Path) -> None:
    found = document(run, notes, "--level", "100.3", "--corner", "1,2", "--size", "4,5")
    assert list(found) == KEYS
    # heights above the level run from -0.2 m at x = 1 to +0.2 m at x = 5: two wedges of 2 m x 5 m, 0.2 m high
    assert found["level_m"] == 100.3
    assert found["area_m2"] == pytest.approx(20, rel=1e-12)
    assert found["cut_m3"] == pytest.approx(0.5 * 0.2 * 2 * 5, rel=1e-9)
    assert found["fill_m3"] == pytest.approx(0.5 * 0.2 * 2 * 5, rel=1e-9)
    assert found["net_m3"] == pytest.approx(0, abs=1e-9)
    assert found["cut_area_m2"] == pytest.approx(10, rel=1e-9)
    assert found["fill_area_m2"] == pytest.approx(10, rel=1e-9)


def test_how_sure_it_is_where_that_is_asked(run: Run, notes: Path) -> None:
    where = (notes, "--corner", "1,2", "--size", "4,5", "--spread")
    found = document(run, *where, "--level", "100.3")["spread"]
    assert list(found) == ["cut_m3", "fill_m3", "net_m3"]
    for band in found.values():
        assert band["p10"] < band["p50"] < band["p90"]
    # a plane is all that the shots show, so what is most likely is the plane
    assert found["cut_m3"]["p50"] == pytest.approx(0.5 * 0.2 * 2 * 5, rel=0.2)
    assert document(run, *where, "--level", "100.3")["spread"] == found
    told = run("cutfill", *where, "--level", "100.3", "--level", "100.4").out
    assert "9 in 10 are less" in told
    assert "level 100.300 m" in told


def test_several_levels_and_the_balance(run: Run, notes: Path) -> None:
    found = document(
        run,
        notes,
        "--level",
        "100.1",
        "--level",
        "balance",
        "--level",
        "101",
        "--corner",
        "1,2",
        "--size",
        "4,5",
    )
    assert [list(entry) for entry in found["levels"]] == [KEYS] * 3
    assert [entry["level_m"] for entry in found["levels"]] == pytest.approx([100.1, 100.3, 101])
    low, balance, high = found["levels"]
    assert low["fill_m3"] == pytest.approx(0, abs=1e-12)
    assert low["cut_m3"] == pytest.approx(0.2 * 20, rel=1e-12)
    assert balance["cut_m3"] == pytest.approx(balance["fill_m3"], rel=1e-9)
    assert high["fill_m3"] == pytest.approx(0.7 * 20, rel=1e-12)
    assert isinstance(found["findings"], list)


def test_bare_numbers_take_the_unit_of_the_notes_and_quoted_ones_their_own(run: Run, notes: Path) -> None:
    metres = document(run, notes, "--level", "100.3", "--corner", "1,2", "--size", "4,5")
    mixed = document(run, notes, "--level", "10030 cm", "--corner", "100 cm,2", "--size", "4 m,5000 mm")
    assert [mixed[k] for k in KEYS[:-1]] == pytest.approx([metres[k] for k in KEYS[:-1]])


def test_a_bare_size_too_small_for_any_building_is_told_and_the_advice_works(
    run: Run, tmp_path: Path
) -> None:
    """Water levels read in cm, places taped in m: 3.2 is no 32 mm. But a test pit may be so small."""
    rows = [
        "station,x (m),y (m),elevation (cm)",
        *(f"{n},{n % 3 * 4},{n // 3 * 4},{100 + n}" for n in range(9)),
    ]
    (tmp_path / "water.csv").write_text("\n".join(rows), "utf-8")
    notes = (tmp_path / "water.csv", "--units", "cm", "--corner", "1 m,1 m", "--level", "balanced")
    bare = run("cutfill", *notes, "--size", "3.2x2.5")
    assert bare.status == 0
    flat = " ".join(bare.out.split())
    assert "covers 0.00 m² only; its bare numbers count as cm. If another unit is meant, write it" in flat
    assert "[outline-tiny]" in flat
    done = run("cutfill", *notes, "--size", "3.2x2.5 m", "--json")
    assert done.status == 0
    assert "outline-tiny" not in [one["code"] for one in done.document["findings"]]
    assert done.document["area_m2"] == pytest.approx(8.0)


def test_a_turned_rectangle(run: Run, notes: Path) -> None:
    straight = document(run, notes, "--level", "100.5", "--corner", "2,2", "--size", "4,3")
    turned = document(run, notes, "--level", "100.5", "--corner", "6,2", "--size", "3,4", "--turn", "90 deg")
    assert {k: v for k, v in turned.items() if k != "findings"} == pytest.approx(
        {k: v for k, v in straight.items() if k != "findings"}
    )


@pytest.mark.parametrize(
    "text",
    [
        "1,2\n5,2\n5,7\n1,7\n",
        "x,y\n1,7\n5,7\n5,2\n1,2\n1,7\n\n",
        "# remark\nx (cm);y (m)\n100;2\n500;2,0\n500;7\n100;7\n",
        "\ufeff1 m\t2\r\n5\t2\r\n5\t7\r\n100 cm\t7\r\n",
        '"1","2"\n"5","2"\n"5","7"\n"1","7"\n,,\n,\n',
    ],
    ids=["plain", "closed, clockwise, header", "semicolons", "tabs", "quotes, blank rows at the end"],
)
def test_an_outline_file_in_the_ways_people_write_it(
    run: Run, notes: Path, tmp_path: Path, text: str
) -> None:
    (tmp_path / "pad.csv").write_text(text)
    found = document(run, notes, "--level", "100.3", "--outline", tmp_path / "pad.csv")
    assert found["area_m2"] == pytest.approx(20)
    assert found["cut_m3"] == pytest.approx(1)


def test_a_blank_row_begins_a_hole(run: Run, notes: Path, tmp_path: Path) -> None:
    (tmp_path / "pad.csv").write_text("1,2\n5,2\n5,7\n1,7\n\n2,3\n4,3\n4,5\n2,5\n")
    found = document(run, notes, "--level", "99", "--outline", tmp_path / "pad.csv")
    assert found["area_m2"] == pytest.approx(20 - 4)
    # both shapes have their middle at x = 3 m, where the ground is 1.3 m above the level
    assert found["cut_m3"] == pytest.approx(16 * 1.3)


def test_the_columns_of_an_outline_may_stand_y_first(run: Run, notes: Path, tmp_path: Path) -> None:
    found = []
    for text in ("x (ft),y (m)\n3,2\n15,2\n15,7\n3,7\n", "y (m),x (ft)\n2,3\n2,15\n7,15\n7,3\n"):
        (tmp_path / "pad.csv").write_text(text)
        found.append(document(run, notes, "--level", "100.1", "--outline", tmp_path / "pad.csv"))
    assert found[0] == found[1]
    assert found[0]["area_m2"] == pytest.approx(12 * 0.3048 * 5)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("x,y\n# the yard ends at 10\n1,1\n11,1\n11,9\n1,9\n", [4, 5]),
        ("801,1\n811,1\n811,9\n801,9\n", [1]),
    ],
)
def test_an_outline_beyond_the_survey_is_told_at_the_rows_of_its_corners(
    run: Run, notes: Path, tmp_path: Path, text: str, lines: list[int]
) -> None:
    (tmp_path / "pad.csv").write_text(text)
    done = run("cutfill", notes, "--level", "100", "--outline", tmp_path / "pad.csv", "--json")
    assert done.status == 2
    faults = done.document["faults"]
    assert {fault["file"] for fault in faults} == {"pad.csv"}
    assert sorted(fault["line"] for fault in faults) == lines


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("", "notes-empty-outline", 0),
        ("x,y\n\n", "notes-empty-outline", 0),
        ("1,2\n5\n5,7\n", "outline-row", 2),
        ("1,2\n#REF!,2\n5,7\n1,7\n", "outline-row", 2),
        ("1,2\n#####,2\n5,7\n1,7\n", "outline-row", 2),
        ("1,2\n5,2,9\n5,7\n", "outline-row", 2),
        ("1,2\n5,nan\n5,7\n", "outline-row", 2),
        ('1,2\n"5,2\n5,7\n', "outline-row", 2),
        ("1,2\n5,7\n", "outline-too-few-corners", 1),
        ("1,2\n5,7\n5,2\n1,7\n", "outline-crosses-itself", 1),
    ],
)
def test_bad_outline_files(run: Run, notes: Path, tmp_path: Path, text: str, code: str, line: int) -> None:
    (tmp_path / "pad.csv").write_text(text)
    done = run("cutfill", notes, "--level", "100", "--outline", tmp_path / "pad.csv", "--json")
    assert done.status == 2
    first = done.document["faults"][0]
    assert (first["code"], first["line"], first["file"]) == (code, line, "pad.csv")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Missing option '--level'"),
        (("--level", "100", "--turn", "5"), "Give --corner and --size, or --outline"),
        (("--level", "100", "--corner", "1,2"), "Give --corner and --size"),
        (("--level", "100", "--corner", "1,2", "--size", "4,5", "--outline", "x"), "not both"),
        (("--level", "100", "--corner", "1", "--size", "4,5"), "has 1 value where 2 should be"),
        (("--level", "1,2,3", "--corner", "1,2", "--size", "4,5"), "--level"),
        (("--level", "nan", "--corner", "1,2", "--size", "4,5"), "--level"),
        (("--level", "1e400", "--corner", "1,2", "--size", "4,5"), "--level"),
        (("--level", "100", "--corner", "1,2", "--size", "4,0"), "outline-size"),
        (("--level", "100", "--corner", "1,2", "--size", "4,5", "--turn", "east"), "--turn"),
        (("--level", "100", "--corner", "8,2", "--size", "4,5"), "outline-outside-survey"),
        (("--level", "100", "--corner", "800,2", "--size", "4,5"), "outline-far-from-survey"),
        (("--level", "30", "--corner", "1,2", "--size", "4,5"), "level-far-from-ground"),
        (("--level", "100", "--corner", "1,2", "--size", "4,5", "--grid", "0 m"), "--grid"),
        (("--level", "100", "--corner", "1,2", "--size", "4,5", "--units", "furlong"), "--units"),
        (("--level", "100", "--corner", "1,2", "--size", "4,5", "--units", "ft"), "notes-unit"),
    ],
)
def test_wrong_use_is_told(run: Run, notes: Path, arguments: tuple[str, ...], words: str) -> None:
    done = run("cutfill", notes, *arguments)
    assert (done.status, done.out) == (2, "")
    assert words in done.err
    assert "Traceback" not in done.err


@pytest.mark.parametrize(
    ("arguments", "code", "option"),
    [
        (("--corner", "8,2", "--size", "4,5"), "outline-outside-survey", "--size"),
        (("--corner", "-1,2", "--size", "4,5"), "outline-outside-survey", "--corner"),
        (("--corner", "800,2", "--size", "4,5"), "outline-far-from-survey", "--corner"),
        (("--corner", "1,2", "--size", "4,0"), "outline-size", "--size"),
        (("--corner", "1,2", "--size", "4,5", "--level", "30"), "level-far-from-ground", "--level"),
    ],
)
def test_a_fault_of_an_option_names_the_option(
    run: Run, notes: Path, arguments: tuple[str, ...], code: str, option: str
) -> None:
    level = () if "--level" in arguments else ("--level", "100")
    done = run("cutfill", notes, *arguments, *level)
    assert done.status == 2
    assert {line.partition(":")[0] for line in done.err.splitlines()} == {option}, done.err
    assert f"[{code}]" in done.err
    faults = run("cutfill", notes, *arguments, *level, "--json").document["faults"]
    assert (faults[0]["code"], faults[0]["file"]) == (code, option)


def test_notes_from_standard_input(notes: Path) -> None:
    command = [
        sys.executable,
        "-m",
        "gradework",
        "cutfill",
        "-",
        "--level",
        "100.3",
        "--corner",
        "1,2",
        "--size",
        "4,5",
    ]
    done = subprocess.run(command, input=PLANE, text=True, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "1.00 m³ in place" in done.stdout
    done = subprocess.run(command, input="", text=True, capture_output=True, check=False)
    assert done.returncode == 2
    assert "standard input" in done.stderr


def test_the_words(run: Run, notes: Path) -> None:
    done = run("cutfill", notes, "--level", "100.4", "--corner", "1,2", "--size", "4,5")
    assert done.status == 0
    assert "A level plane at 100.400 m over 20.0 m²:" in done.out
    assert "more fill than cut" in done.out
    assert "-0.00" not in done.out
    assert (
        run("cutfill", notes, "--level", "100.3", "--corner", "1,2", "--size", "4,5").out.count("equal") == 1
    )


def test_no_line_is_longer_than_a_terminal(run: Run, tmp_path: Path) -> None:
    (tmp_path / "three.csv").write_text("station,x,y,elevation\nA,0,0,5\nB,9,0,7\nC,0,9,7.5\n")
    for unit in ("m", "ft"):
        for levels in (["--level", "5.2"], ["--level", "5.2", "--level", "balance"]):
            arguments = [tmp_path / "three.csv", "--units", unit, *levels, "--corner", "1,1", "--size", "2,2"]
            done = run("cutfill", *arguments)
            assert done.status == 0
            assert "[only-three-shots]" in done.out
            assert max(map(len, done.out.splitlines())) <= 80


def test_flat_ground_at_the_level_says_so(run: Run, tmp_path: Path) -> None:
    (tmp_path / "flat.csv").write_text("station,x,y,elevation\nA,0,0,5\nB,9,0,5\nC,9,9,5\nD,0,9,5\n")
    done = run(
        "cutfill", tmp_path / "flat.csv", "--units", "ft", "--level", "5", "--corner", "1,1", "--size", "3,3"
    )
    assert "no cut, no fill" in done.out
    assert "-" not in done.out.partition("\nwarning: ")[0]


def test_the_table_lines_up(run: Run, notes: Path) -> None:
    levels = [word for level in ("100.1", "balance", "103.25") for word in ("--level", level)]
    lines = run("cutfill", notes, *levels, "--corner", "1,2", "--size", "4,5").out.splitlines()
    assert len(lines) == 5
    assert len({len(line) for line in lines[1:]}) == 1


def test_findings_follow_the_answer_and_stand_in_the_document(run: Run, tmp_path: Path) -> None:
    (tmp_path / "three.csv").write_text("station,x,y,elevation\nA,0,0,5\nB,9,0,5\nC,0,9,5.5\n")
    arguments = (tmp_path / "three.csv", "--units", "m", "--level", "5", "--corner", "1,1", "--size", "2,2")
    done = run("cutfill", *arguments)
    assert (done.status, done.err) == (0, "")
    assert "[only-three-shots]" in done.out.partition("net")[2]
    assert "only-three-shots" in [f["code"] for f in document(run, *arguments)["findings"]]


def test_a_lettered_grid_with_two_spacings(run: Run, tmp_path: Path) -> None:
    rows = "".join(f"{'AB'[j]}{i + 1},{100 + i}\n" for i in range(3) for j in range(2))
    (tmp_path / "grid.csv").write_text("station,elevation\n" + rows)
    # letters run along y, 4 ft apart; numbers along x, 5 ft apart; the ground rises 1 ft in 5 ft along x
    found = document(
        run,
        tmp_path / "grid.csv",
        "--units",
        "ft",
        "--grid",
        "4,5",
        "--level",
        "100",
        "--corner",
        "0,0",
        "--size",
        "10,4",
    )
    assert found["area_m2"] == pytest.approx(40 * 0.3048**2)
    assert found["cut_m3"] == pytest.approx(40 * 1 * 0.3048**3)


SADDLE = "station,x (m),y (m),elevation (m)\n" + "".join(
    f"S{i}{j},{2 * i},{2 * j},{100 + 0.15 * (-1) ** (i + j)}\n" for i in range(5) for j in range(5)
)


def test_the_doubt_of_the_folds_stands_in_text_table_and_document(run: Run, tmp_path: Path) -> None:
    """Two whole squares of 4 m² whose diagonals pass 0.3 m apart: 8 x 0.3 / 6 = 0.4 m³ either way."""
    path = tmp_path / "saddle.csv"
    path.write_text(SADDLE)
    asked = ("cutfill", path, "--corner", "2,2", "--size", "4,2")
    one = run(*asked, "--level", "99")
    assert "+/- 0.40 m³" in one.out
    assert "volume-in-doubt" not in one.out + one.err  # 0.4 of 8 m³ is little
    several = run(*asked, "--level", "99", "--level", "98.5").out.splitlines()
    assert several[1].endswith("+/- (m³)")
    assert [line.split()[-1] for line in several[2:4]] == ["0.40", "0.40"]
    found = run(*asked, "--level", "99", "--level", "100", "--json").document
    assert [level["doubt_m3"] for level in found["levels"]] == pytest.approx([0.4, 0.4])
    (finding,) = found["findings"]
    assert (finding["code"], finding["severity"]) == ("volume-in-doubt", "warning")
    assert finding["value"] == pytest.approx(0.4)


def test_no_doubt_no_word_of_it(run: Run, notes: Path) -> None:
    asked = ("cutfill", notes, "--corner", "1,2", "--size", "4,5", "--level", "100.3")
    assert "+/-" not in run(*asked, "--level", "101").out + run(*asked).out


def test_without_an_outline_it_is_all_of_the_survey(run, tmp_path):
    notes = tmp_path / "n.csv"
    notes.write_text(
        "station,x,y,z\nA,0,0,10\nB,10,0,10\nC,20,0,10\nD,20,10,10\nE,10,10,10\nF,0,10,10\nG,10,5,11\n"
    )
    told = run("cutfill", notes, "--units", "m", "--level", "10", "--json")
    assert told.status == 0, told.err
    # a pyramid 1 m high on eight sides: its foot runs through all stations of the edge, 20 m by 10 m
    assert told.document["area_m2"] == pytest.approx(200.0)
    assert told.document["cut_m3"] == pytest.approx(200.0 / 3.0)
    assert told.document["fill_m3"] == pytest.approx(0.0)


@pytest.mark.parametrize(
    "written", ["4,3", "4x3", "4 x 3", "4m x 3m", "400 x 300 cm", "13' 1 1/2\" x 9' 10 1/8\""]
)
def test_a_size_may_be_written_with_an_x(written, run, tmp_path):
    notes = tmp_path / "n.csv"
    notes.write_text("station,x,y,z\nA,0,0,10\nB,10,0,10\nC,10,10,11\nD,0,10,11\n")
    asked = ("cutfill", notes, "--units", "m", "--level", "10", "--corner", "1,1", "--json", "--size")
    told = run(*asked, written)
    assert told.status == 0, told.err
    assert told.document["area_m2"] == pytest.approx(12.0, rel=1e-3)
    for wrong in ("4x3x2", "4"):
        assert "is not two sides" in run(*asked, wrong).document["error"]


def test_a_pasted_block_of_numbers_needs_its_spacing_only(run, tmp_path):
    block = "98.0 98.0 98.0\n98.0 99.0 98.0\n98.0 98.0 98.0\n"
    pasted = tmp_path / "pasted.txt"
    pasted.write_text(block)
    told = run("cutfill", pasted, "--units", "m", "--grid", "5", "--level", "98", "--json")
    assert told.status == 0, told.err
    assert told.document["area_m2"] == pytest.approx(100.0)
    # a peak of 1 m in the middle of four squares of 5 m: a third of all of them, or of half, as they fold
    assert 50.0 / 3.0 <= told.document["cut_m3"] <= 100.0 / 3.0
    (tmp_path / "job.toml").write_text(
        'name = "p"\nunits = "m"\n[survey]\nnotes = "pasted.txt"\ngrid = { spacing = 5 }\n'
        '[building]\nsize = "4x3"\ncorner = [2, 2]\n'
    )
    assert run("plan", tmp_path / "job.toml", "--dry-run").status in (0, 1)
    pasted.write_text("4.62 4.71 4.90\n4.70 4.85 5.02\n4.81 4.97 5.20\n")
    asked = ("cutfill", pasted, "--units", "ft", "--grid", "5", "--level", "balance")
    assert "[heights-unclear]" in run(*asked).err
    assert run(*asked, "--heights", "readings").status == 0
    told = run("cutfill", pasted, "--units", "ft", "--level", "balance")
    assert "--grid 5" in told.err
