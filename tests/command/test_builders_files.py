"""Six files as builders bring them, invented: each comes to the right answer with one command.

The ground of each is a plane, or levels given at places, so that the answer is worked out here by hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

INCH, FOOT = 0.0254, 0.3048


@pytest.fixture
def bring(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, list[str]], str]:
    """Stand in an empty folder and write a file there."""
    monkeypatch.chdir(tmp_path)

    def written(name: str, rows: list[str]) -> str:
        (tmp_path / name).write_text("\n".join(rows) + "\n", "utf-8")
        return name

    return written


def tape(inches: Fraction | int) -> str:
    """Write a reading as it stands in a field book, quoted for a spreadsheet: 43 3/8 is 3' 7 3/8"."""
    feet, rest = divmod(Fraction(inches), 12)
    whole, part = divmod(rest, 1)
    text = f"{feet}' {whole}" + (f" {part}" if part else "") + '"'
    return '"' + text.replace('"', '""') + '"'


def stands(pier: dict[str, Any], top: float) -> None:
    """Bed and blocks from the bottom of the hole make the top, and the hole is dug as deep as asked, 6 in."""
    stack = sum(unit["count"] * unit["thickness_m"] for unit in pier["stack"])
    assert pier["bottom_m"] + pier["bed_m"] + stack == pytest.approx(top, abs=1e-9)
    assert pier["bottom_m"] <= pier["ground_low_m"] - 6 * INCH + 1e-9
    assert 4 * INCH - 1e-9 <= pier["bed_m"] <= 6 * INCH + 1e-9


def test_rod_and_laser_in_feet_and_inches_below_titles(run: Run, bring) -> None:
    rows = ["Mill Lane shed,,", "laser on the drive,,", "", "station,rod,remark", f"BM,{tape(31)},door step"]
    rows += [
        f"{letter}{number + 1},{tape(40 + Fraction(3, 2) * number + 3 * row)},"
        for row, letter in enumerate("ABCDEF")
        for number in range(7)
    ]
    asked = ("--size", "16x12", "--corner", "7,6.5", "--grid", "5", "--units", "ft", "--known", "BM=100")
    told = run("plan", bring("laser.csv", rows), *asked, "--dry-run", "--json").document
    # the ground falls 0.3 in per foot along and 0.6 in per foot across; at A1 it is 9 in below the mark
    at = {
        corner: 1200 - 9 - 0.3 * x - 0.6 * y
        for corner, (x, y) in {"near": (7, 6.5), "far": (23, 18.5)}.items()
    }
    found = told["footprint"]
    assert found["high_m"] == pytest.approx(at["near"] * INCH, abs=1e-9)
    assert found["low_m"] == pytest.approx(at["far"] * INCH, abs=1e-9)
    assert found["fall_m"] == pytest.approx((16 * 0.3 + 12 * 0.6) * INCH, abs=1e-9)


def test_drops_below_a_string_in_inches(run: Run, bring) -> None:
    rows = ["Shed by the hedge,,", ",,", "point,drop (in),along"]
    rows += ["1,10 1/4,0", '2,"1\' 0 3/4""",5', "3,15 1/4,10", "4,17 3/4,15"]
    done = run("reduce", bring("string.csv", rows), "--units", "ft", "--string", "100,100,15,0", "--json")
    assert done.status == 0, done.err
    levels = [one["elevation_m"] for one in done.document["stations"]]
    assert levels == pytest.approx([(1200 - drop) * INCH for drop in (10.25, 12.75, 15.25, 17.75)], abs=1e-9)
    # four corners below a level string: the blocks of each pier follow
    corners = run("corners", "12x8", "--drops", "0, 4 1/2, 13, 9", "--json", "--dry-run")
    assert corners.status == 0, corners.err
    found = corners.document["footprint"]
    assert [side["fall_m"] for side in found["sides"]] == pytest.approx(
        [4.5 * INCH, 8.5 * INCH, -4 * INCH, -9 * INCH], abs=1e-9
    )
    assert found["high_m"] - found["low_m"] == pytest.approx(13 * INCH, abs=1e-9)
    for pier in corners.document["piers"]["piers"]:
        stands(pier, corners.document["piers"]["top_m"])


def test_a_water_level_in_centimetres(run: Run, bring) -> None:
    rows = ["from,water at from (cm),to,water at to (cm)", "peg,120.4,1,131.9", "peg,120.4,2,98.6"]
    rows += ["1,110,3,127.5"]
    done = run("reduce", bring("hose.csv", rows), "--units", "m", "--known", "peg=50", "--json")
    assert done.status == 0, done.err
    found = {one["station"]: one["elevation_m"] for one in done.document["stations"]}
    assert found["1"] == pytest.approx(50 - 0.115, abs=1e-9)
    assert found["2"] == pytest.approx(50 + 0.218, abs=1e-9)
    assert found["3"] == pytest.approx(50 - 0.115 - 0.175, abs=1e-9)


def test_a_small_building_beside_a_wall_on_capped_blocks(run: Run, bring) -> None:
    # the wall stands along y = 0: the first row is at its foot, and nothing was shot behind it
    rows = ["station,x,y,elevation"]
    rows += [
        f"{letter}{number},{4 * number},{4 * row},{100 - 0.02 * 4 * row - 0.01 * 4 * number:.2f}"
        for row, letter in enumerate("ABCD")
        for number in range(5)
    ]
    asked = ("--size", "8x6", "--corner", "4,3", "--units", "ft", "--piers")
    done = run("plan", bring("beside.csv", rows), *asked, "--dry-run", "--json")
    piers = done.document["piers"]
    highest = 100 - 0.02 * 3 - 0.01 * 4
    assert piers["top_m"] >= (highest * FOOT) + 2 * INCH - 1e-9
    assert piers["piers"]
    for pier in piers["piers"]:
        stands(pier, piers["top_m"])


def test_what_a_rover_writes(run: Run, bring) -> None:
    # a state-plane file, point, north, east, elevation, code: the ground falls 4 % to the east
    rows = ["Point,Northing,Easting,Elevation,Code"]
    rows += [
        f"{101 + 6 * row + number},{1040100 + 8 * row},{2801200 + 8 * number},{312.5 - 0.32 * number:.2f},GND"
        for row in range(5)
        for number in range(6)
    ]
    name = bring("rover.csv", rows)
    asked = ("--size", "16,12", "--units", "ft", "--corner", "2801212,1040110", "--pad")
    done = run("plan", name, *asked, "--dry-run", "--json")
    assert "footprint" in done.document, done.err
    assert done.document["footprint"]["fall_m"] == pytest.approx(0.04 * 16 * FOOT, abs=1e-6)
    bare = run("plan", bring("bare.csv", rows[1:]), *asked, "--dry-run")
    assert bare.status == 2
    advised = re.findall(r"--columns ([a-z,]+)", " ".join(bare.err.split()))
    assert advised, bare.err
    assert "name,easting,northing,elevation" in bare.err  # which is which is never guessed
    again = run("plan", "bare.csv", *asked, "--columns", advised[0], "--dry-run", "--json")
    assert again.document["footprint"]["fall_m"] == done.document["footprint"]["fall_m"]


def test_a_pasted_grid_of_figures(run: Run, bring) -> None:
    rows = ["\t".join(f"{99 - 0.1 * number - 0.2 * row:.1f}" for number in range(6)) for row in range(5)]
    name = bring("pasted.txt", rows)
    done = run("cutfill", name, "--grid", "5", "--units", "ft", "--level", "98", "--json")
    assert done.status == 0, done.err
    # the mean of the plane is at its middle: 99 - 0.25 - 0.4; cut less fill is area times that less the level
    assert done.document["net_m3"] == pytest.approx(25 * 20 * 0.35 * FOOT**3, rel=1e-9)
