"""Survey, setting out and the check of what was built, through the front door: the command's own answers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import gradework as gw
from gradework.command.main import gradework as group

ROOT = Path(__file__).parents[2]
STUDIO = ROOT / "data" / "orchard-studio"


def document(*words: object) -> object:
    done = CliRunner().invoke(group, [str(word) for word in words])
    assert done.exit_code in (0, 1), done.output
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def plan() -> gw.Plan:
    return gw.plan(STUDIO / "job.toml")


def test_the_stakes_are_those_of_the_command(plan: gw.Plan, tmp_path: Path) -> None:
    made = gw.set_out(plan, backsight="BM 4.54", kind="piers")
    words = (
        "setout",
        STUDIO / "job.toml",
        "--backsight",
        "BM 4.54",
        "--foundation",
        "piers",
        "-o",
        tmp_path / "o",
    )
    assert made.record() == document(*words, "--json")
    assert len(repr(made)) < 100
    assert "Orchard studio" in made.summary()
    assert made.sheet.instrument == pytest.approx((103.46 + 4.54) * 0.3048)


@pytest.mark.parametrize(
    "asked",
    [
        {"backsight": "nobody 4.5"},
        {"backsight": "BM"},
        {"stakes": ["pad 99"]},
        {"kind": "cellar"},
        {"kind": "piers", "rows": [9]},
        {"instrument": 31.0, "backsight": "BM 4.54"},
    ],
)
def test_what_cannot_be_set_out(plan: gw.Plan, asked: dict[str, object]) -> None:
    with pytest.raises(gw.InputError) as caught:
        gw.set_out(plan, **asked)  # type: ignore[arg-type]
    assert [fault.code for fault in caught.value.faults] == ["setout-refused"]


def test_the_verdict_is_that_of_the_command(plan: gw.Plan) -> None:
    built = gw.as_built(plan, STUDIO / "tops.csv")
    assert built.record() == document("asbuilt", STUDIO / "job.toml", STUDIO / "tops.csv", "--json")
    assert not built.passed
    assert len(repr(built)) < 100
    again = gw.as_built(plan, (STUDIO / "tops.csv").read_bytes(), tolerance=0.02)
    assert again.levels.tolerance == 0.02


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"sides": [4.0]}, "1 side and 0 diagonals; expected four sides and two diagonals"),
        ({"tolerance": -1.0}, "a tolerance of -1.0 m; expected a small length"),
        ({"tolerance": float("nan")}, "a tolerance of nan m"),
    ],
)
def test_what_cannot_be_checked(plan: gw.Plan, asked: dict[str, object], says: str) -> None:
    with pytest.raises(gw.InputError, match=says):
        gw.as_built(plan, STUDIO / "tops.csv", **asked)  # type: ignore[arg-type]


def test_reduced_notes_are_those_of_the_command() -> None:
    book = ROOT / "data" / "barn-yard" / "levels.csv"
    ties = ROOT / "data" / "barn-yard" / "ties.csv"
    done = gw.reduce_notes(book, unit="ft", places=ties, marks={"barn A": (0, 0), "barn B": (36, 0)})
    words = (
        "reduce",
        book,
        "--units",
        "ft",
        "--places",
        ties,
        "--mark",
        "barn A=0,0",
        "--mark",
        "barn B=36,0",
    )
    assert done.record() == document(*words, "--json")
    assert isinstance(done.stations, gw.Stations)
    assert len(done.names) == len(done.elevations) == len(done.sd)
    assert done.elevations[0] == pytest.approx(100.0 * 0.3048)
    assert len(repr(done)) < 100
    assert "BS" in done.summary()


def test_reduced_notes_without_places_have_heights_only() -> None:
    done = gw.reduce_notes(ROOT / "data" / "notes" / "laser.csv", unit="ft", hi=104.5)
    assert done.stations is None
    assert done.elevations[0] == pytest.approx((104.5 - 4 - 3.5 / 12) * 0.3048)


def test_designs_by_themselves_are_those_of_a_job_that_says_nothing(plane_notes: bytes) -> None:
    tables = {"name": "Shed", "units": "m", "survey": {"notes": "yard.csv"},
              "building": {"size": [4, 3], "corner": [4, 4]}, "pad": {}, "piers": {}, "slab": {}}  # fmt: skip
    found = gw.plan(tables, plane_notes).foundations
    ground, building = gw.read_spots(plane_notes, unit="m"), gw.Outline.rectangle((4, 4), (4, 3))
    assert gw.design_pad(ground, building).chosen == found.pad.chosen
    piers, slab = gw.design_piers(ground, building), gw.design_slab(ground, building)
    assert found.piers is not None
    assert found.slab is not None
    # a job knows what is sold: by itself the top is the best at unit prices
    assert found.piers.cost_total >= piers.cost_total
    same = gw.plan({**tables, "piers": {"top": piers.top}}, plane_notes).foundations.piers
    assert same is not None
    assert (piers.top, piers.units_total, piers.cost_total) == pytest.approx(
        (same.top, same.units_total, same.cost_total)
    )
    # a job seeks a level at which water is led past; by itself it stands clear of the highest ground
    assert found.slab.level <= slab.level
    level = gw.plan({**tables, "slab": {"level": slab.level}}, plane_notes).foundations.slab
    assert level is not None
    assert (slab.level, slab.dig, slab.cost_total) == pytest.approx(
        (level.level, level.dig, level.cost_total)
    )
