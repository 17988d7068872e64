"""Bad and odd notes through the whole command: each is refused with its code and place, or taken and told.

The numbers are those of the project's list of bad input: surveys 1 to 45, units 47 to 60, outlines 72 to 84.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

HEAD = "station,x,y,elevation\n"


def yard(columns: int = 5, rows: int = 5, step: float = 2.5) -> str:
    """A gentle slope on a square grid, in feet."""
    shots = [(i * step, j * step, 100 - 0.1 * i + 0.05 * j) for j in range(rows) for i in range(columns)]
    return HEAD + "".join(f"S{n},{x},{y},{z:.2f}\n" for n, (x, y, z) in enumerate(shots, start=1))


YARD = yard()
RECTANGLE = ("--corner", "2,2", "--size", "4,3")


def cutfill(run: Run, folder: Path, notes: str | bytes, *arguments: str, units: str = "ft") -> Any:
    path = folder / "yard.csv"
    path.write_bytes(notes.encode() if isinstance(notes, str) else notes)
    given = [*arguments] if "--corner" in arguments or "--outline" in arguments else [*arguments, *RECTANGLE]
    level = [] if "--level" in arguments else ["--level", "99.8"]
    done = run("cutfill", path, *(["--units", units] if units else []), *level, *given)
    assert "Traceback" not in done.err
    return done


LINE = HEAD + "".join(f"L{i},{i},{i},10\n" for i in range(6))
NEARLY = HEAD + "".join(f"L{i},{0.1 * i:.1f},{0.3 * i:.1f},10\n" for i in range(12))
DEGREES = HEAD + "".join(
    f"D{i},{-71.1234 + i % 3 * 1e-4},{42.3456 + i // 3 * 1e-4},{100 + i}\n" for i in range(9)
)

REFUSED: list[tuple[int, str | bytes, str, int]] = [  # row, notes, code, line
    (1, "", "notes-no-shots", 0),
    (1, HEAD, "notes-no-shots", 1),
    (2, HEAD + "A,0,0,1\n", "too-few-shots", 0),
    (2, HEAD + "A,0,0,1\nB,4,0,1\n", "too-few-shots", 0),
    (4, LINE, "shots-on-a-line", 7),
    (5, NEARLY, "shots-on-a-line", 13),
    (8, YARD + "T,0,0,100.5\n", "same-place-two-elevations", 27),
    (9, YARD + "S1,3,3.3,99.9\n", "same-name-two-places", 27),
    *((11, YARD + f"Z,3,3.2,{cell}\n", "notes-cell", 27) for cell in ("NaN", "nan", "inf", "Infinity")),
    (12, YARD + "Z,3,3.2,1e400\n", "notes-cell", 27),
    (13, YARD + "Z,1e300,3,99\n", "notes-cell", 27),
    (13, YARD + "Z,60000,3,99\n", "site-too-wide", 27),
    *((15, YARD + f"Z,3,3.2,{cell}\n", "notes-cell", 27) for cell in ("98.7.2", '"98,72"', "9 8.72")),
    *((19, YARD + f"Z,3,3.2,{cell}\n", "notes-cell", 27) for cell in ("#N/A", "#REF!", "-", "")),
    (20, YARD.partition("\n")[2], "notes-no-header", 1),
    (21, YARD.replace("elevation", "elevaton"), "notes-unknown-column", 1),
    (21, YARD.replace("station", "x"), "notes-column-twice", 1),
    (23, DEGREES, "notes-degrees", 0),
    (24, "station,lat,lon,elevation\nA,42.1,-71.1,100\n", "notes-degrees", 1),
    (25, YARD + "Z,3,3\n", "notes-ragged-row", 27),
    (26, YARD + '"Z,3,3,99\nY,4,4,99\n', "notes-quote", 27),
    (27, YARD + '"Z"x,3,3,99\n', "notes-quote", 27),
    (28, YARD + "Z\0,3,3,99\n", "notes-not-text", 27),
    (28, b"PK\x03\x04" + bytes(range(256)), "workbook-unreadable", 0),
    (34, "station;x;y;elevation\nA;0;0;1,234\nB;5;0;1,235\nC;0;5;1,236\n", "notes-unclear-decimals", 2),
    (35, YARD + "Z" * 20_000 + ",3,3,99\n", "notes-line-too-long", 27),
    (37, YARD + "Total,,,2500\n", "notes-not-a-shot", 27),
    (37, YARD + "measured on Sunday with a helper\n", "notes-not-a-shot", 27),
    (48, YARD.replace("x,", "x (m),"), "notes-unit-disagrees", 1),
]


@pytest.mark.parametrize(
    ("row", "notes", "code", "line"), REFUSED, ids=[f"{n}-row{case[0]}" for n, case in enumerate(REFUSED)]
)
def test_refused_with_code_and_line(
    run: Run, tmp_path: Path, row: int, notes: str | bytes, code: str, line: int
) -> None:
    done = cutfill(run, tmp_path, notes)
    assert (done.status, done.out) == (2, ""), row
    place = f"yard.csv:{line}" if line else "yard.csv: error"
    assert any(place in told and f"[{code}]" in told for told in done.err.splitlines()), done.err


SEMICOLONS = YARD.replace(",", ";").replace(".", ",")
FORMULAS = "=cmd|' /C calc'!A0,3,3.3,99.95\n@SUM(1),4,4.4,99.93\n+1+1,1.1,4.2,100.04\n"

TAKEN: list[tuple[int, str | bytes, str]] = [  # row, notes, the finding or ""
    (3, HEAD + "A,0,0,99\nB,40,0,100\nC,0,40,101\n", "only-three-shots"),
    (6, YARD + "S1,0,0,100.00\n", "double-shot"),
    (7, YARD + "T,0,0,100.01\n", "double-shot-averaged"),
    (10, YARD + "T,1e-12,0,100.00\n", "double-shot"),
    (16, YARD.replace("S1,0.0", "S1,\N{EN DASH}0.0").replace("S2,2.5", "S2,\xa02.5\u200b"), ""),
    (17, YARD + 'Z,3\' 0 1/2",3’ 2½”,"99\' 11 3/8"""\n', ""),
    (19, YARD.replace("\n", "\n,,,\n\n"), ""),
    (25, YARD.replace("\n", ",,\n"), ""),
    (29, "\ufeff" + YARD, ""),
    (30, YARD.encode("utf-16"), ""),
    (31, YARD.encode() + "Zür,3,3.3,99.95\n".encode("cp1252"), "notes-old-letters"),
    (33, YARD.replace("\n", "\r"), ""),
    (33, YARD.replace("\n", "\r\n", 3), ""),
    (34, SEMICOLONS, "notes-dialect"),
    (34, "sep=;\n" + SEMICOLONS, "notes-dialect"),
    (34, YARD.replace(",", "\t"), "notes-dialect"),
    (37, YARD + "# measured on Sunday\n", ""),
    (38, YARD + FORMULAS, ""),
    (39, YARD + '<script>alert(1)</script>,3,3.3,99.95\n"""><img onerror>",4,4.4,99.93\n', ""),
    (40, YARD + "$\\frac$,3,3.3,99.95\n${{{{{,4,4.4,99.93\n", ""),
    (
        42,
        YARD + "\x1b[2J\x07\u202eabc,3,3.3,99.95\n" + "N" * 5000 + ",1.1,4.2,100.04\n",
        "notes-name-changed",
    ),
    (43, YARD + "井戸,3,3.3,99.95\n🏠,4,4.4,99.93\n", ""),
]


@pytest.mark.parametrize(
    ("row", "notes", "finding"), TAKEN, ids=[f"{n}-row{case[0]}" for n, case in enumerate(TAKEN)]
)
def test_taken_and_told(run: Run, tmp_path: Path, row: int, notes: str | bytes, finding: str) -> None:
    done = cutfill(run, tmp_path, notes)
    assert done.status == 0, (row, done.err)
    assert done.out.startswith("A level plane at 99.80 ft over 12.0 sq ft:")
    assert f"[{finding}]" in done.out if finding else "[" not in done.out
    assert done.err == ""
    assert not any(ord(letter) < 32 and letter != "\n" for letter in done.out + done.err)


def test_row_20_a_file_without_header_is_read_where_the_columns_are_said(run: Run, tmp_path: Path) -> None:
    whole = cutfill(run, tmp_path, YARD).out
    assert cutfill(run, tmp_path, YARD.partition("\n")[2], "--columns", "PXYZ").out == whole


def test_row_22_axes_that_were_swapped_are_asked_about(run: Run, tmp_path: Path) -> None:
    done = cutfill(run, tmp_path, yard(9, 4), "--corner", "2,12", "--size", "3,4")
    assert done.status == 2
    assert "would fit with x and y swapped" in done.err


def test_row_44_a_shot_a_foot_off_is_named_and_left_as_it_is(run: Run, tmp_path: Path) -> None:
    lines = YARD.splitlines()
    name, x, y, z = lines[13].split(",")
    lines[13] = f"{name},{x},{y},{float(z) + 1:.2f}"
    done = cutfill(run, tmp_path, "\n".join(lines) + "\n")
    assert done.status == 0
    told = " ".join(done.out.split())
    assert "S13" in told
    assert "1.00 ft above" in told


def test_row_47_no_unit_anywhere(run: Run, tmp_path: Path) -> None:
    done = cutfill(run, tmp_path, YARD, units="")
    assert (done.status, done.err.count("[notes-no-unit]")) == (2, 1)


def test_row_49_steps_twelve_times_as_long_one_way(run: Run, tmp_path: Path) -> None:
    notes = HEAD + "".join(f"D{i}{j},{12 * i},{j},{100 + i / 10}\n" for i in range(4) for j in range(7))
    done = cutfill(run, tmp_path, notes)
    assert (done.status, "[notes-step-ratio]" in done.out) == (0, True)


def test_rows_50_and_51_state_plane_feet(run: Run, tmp_path: Path) -> None:
    far = HEAD + "".join(
        f"D{i}{j},{6300000 + 2.5 * i},{2100000 + 2.5 * j},{100 - 0.1 * i}\n"
        for i in range(5)
        for j in range(5)
    )
    done = cutfill(run, tmp_path, far, "--corner", "6300002,2100002", "--size", "4,3", "--json")
    assert done.document["area_m2"] == pytest.approx(12 * 0.3048**2, rel=1e-9)
    assert [f["code"] for f in done.document["findings"]] == ["notes-which-foot"]


@pytest.mark.parametrize(
    ("level", "words"), [("12", "87.80 ft below the lowest"), ("5000", "above the highest")]
)
def test_row_52_a_level_far_from_the_ground(run: Run, tmp_path: Path, level: str, words: str) -> None:
    done = cutfill(run, tmp_path, YARD, "--level", level)
    assert done.status == 2
    assert words in done.err


def test_rows_59_and_84_ground_at_the_level_has_no_cut_and_no_fill(run: Run, tmp_path: Path) -> None:
    flat = HEAD + "A,0,0,100\nB,10,0,100\nC,10,10,100\nD,0,10,100\n"
    done = cutfill(run, tmp_path, flat, "--level", "100")
    assert "no cut, no fill" in done.out
    assert "-0" not in done.out
    found = cutfill(run, tmp_path, flat, "--level", "100", "--json").document
    assert [str(found[key]) for key in ("cut_m3", "fill_m3", "net_m3", "cut_area_m2")] == ["0.0"] * 4


def test_row_72_an_outline_that_leaves_the_survey(run: Run, tmp_path: Path) -> None:
    done = cutfill(run, tmp_path, YARD, "--corner", "8,8", "--size", "4,3")
    assert done.status == 2
    assert "corner 3 of the outline (x 12.0 ft, y 11.0 ft) reaches 2.2 ft outside" in done.err
    assert "8.00 sq ft of 12.0 sq ft have no surveyed ground" in done.err
    assert "shoot more ground beyond corner 3" in done.err


def test_row_72_one_that_touches_the_outermost_shots_is_inside(run: Run, tmp_path: Path) -> None:
    done = cutfill(run, tmp_path, YARD, "--corner", "-0.003,0", "--size", "10.003,10")  # 0.9 mm over
    assert done.status == 0, done.err


OUTLINES = [
    (73, "1,1\n8,8\n8,1\n1,8\n", "outline-crosses-itself", "x 4.5 ft, y 4.5 ft"),
    (74, "1,1\n4,4\n8,8\n", "outline-no-area", "on one line"),
    (74, "1,1\n2,2\n", "outline-too-few-corners", "2 different corners"),
    (74, "1,1\n8,1\n8,8\n4,8\n4,9.5\n4,8\n1,8\n", "outline-spike", "x 4.0 ft, y 9.5 ft"),
    (76, "1001,1\n1008,1\n1008,8\n", "outline-far-from-survey", "toward +x"),
]


@pytest.mark.parametrize(("row", "corners", "code", "words"), OUTLINES)
def test_rows_73_to_76_outlines_without_an_inside(
    run: Run, tmp_path: Path, row: int, corners: str, code: str, words: str
) -> None:
    (tmp_path / "pad.csv").write_text(corners)
    done = cutfill(run, tmp_path, YARD, "--outline", str(tmp_path / "pad.csv"))
    assert (done.status, done.out) == (2, ""), row
    assert f"[{code}]" in done.err
    assert words in done.err


def test_row_82_a_gap_under_the_outline_says_where_to_shoot(run: Run, tmp_path: Path) -> None:
    done = cutfill(run, tmp_path, YARD + "Far,60,5,97\n", "--corner", "10.5,4.5", "--size", "20,0.4")
    assert done.status == 0
    told = " ".join(done.out.split())
    assert "Take one more shot at x 20.5 ft, y 4.7 ft. [gap-under-outline]" in told
