"""A plan in Python is the plan of the command: the same record, the same folder, and a short repr."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import gradework as gw
from gradework.command.main import gradework as group
from gradework.errors import OutputError
from gradework.foundations.pad.quantities import BatteredEdge

ROOT = Path(__file__).parents[2]
DEMOS = ("orchard-studio", "spring-pump-house", "barn-yard")
JOB = {
    "name": "Shed",
    "units": "m",
    "survey": {"notes": "yard.csv"},
    "building": {"size": [4, 3], "corner": [4, 4]},
}


@pytest.fixture(scope="module")
def plans() -> dict[str, gw.Plan]:
    return {name: gw.plan(ROOT / "data" / name / "job.toml") for name in DEMOS}


def run(*words: str) -> str:
    done = CliRunner().invoke(group, list(words))
    assert done.exit_code in (0, 1), done.output
    return done.stdout


@pytest.mark.parametrize("demo", DEMOS)
def test_the_record_and_the_summary_are_those_of_the_command(plans: dict[str, gw.Plan], demo: str) -> None:
    job = str(ROOT / "data" / demo / "job.toml")
    document = json.loads(run("plan", job, "--dry-run", "--json", "-q"))
    assert plans[demo].record() == document
    assert json.loads(json.dumps(plans[demo].record(), allow_nan=False)) == document
    assert run("plan", job, "--dry-run", "--full") == plans[demo].summary(full=True) + "\n"
    answered = run("plan", job, "--dry-run").splitlines()
    told = plans[demo].summary().splitlines()
    assert len(told) <= 24
    assert answered[0] == told[0]  # the command has two lines more, and may say the others shorter for it
    assert [line[:5] for line in answered if line[:5] in ("Files", "Next ")] == ["Files", "Next "]


@pytest.mark.slow
@pytest.mark.parametrize("demo", ["orchard-studio"])
def test_the_folder_is_that_of_the_command(plans: dict[str, gw.Plan], demo: str, tmp_path: Path) -> None:
    written = plans[demo].save(tmp_path / "python")
    run("plan", str(ROOT / "data" / demo / "job.toml"), "-o", str(tmp_path / "command"))
    ours = {path.name: path.read_bytes() for path in written}
    theirs = {path.name: path.read_bytes() for path in (tmp_path / "command").iterdir()}
    assert ours == theirs
    assert {"report.html", "sheets.pdf", "result.json", "manifest.json"} < set(ours)


def test_a_file_in_the_way_leaves_the_folder_alone(plans: dict[str, gw.Plan], tmp_path: Path) -> None:
    (tmp_path / "sheets.pdf").write_text("mine")
    with pytest.raises(OutputError):
        plans["spring-pump-house"].save(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["sheets.pdf"]
    assert (tmp_path / "sheets.pdf").read_text() == "mine"
    written = plans["spring-pump-house"].save(tmp_path, force=True)
    assert {path.name for path in written} == {path.name for path in tmp_path.iterdir()}
    assert (tmp_path / "sheets.pdf").read_bytes().startswith(b"%PDF")


def test_figures_by_name(plans: dict[str, gw.Plan]) -> None:
    figures = plans["orchard-studio"].figures()
    pages = {f"pier-{kind}-{page}" for kind in ("rows", "details") for page in (1, 2)}
    cuts = {"section-pad", "swale-pad", "section-slab", "swale-slab"}
    assert (
        set(figures)
        == {"shopping", "shopping-2", "days", "plan", "curve", "plan-pad", "plan-slab"} | cuts | pages
    )
    assert all(figure.get_size_inches()[0] > 5 for figure in figures.values())


@pytest.mark.parametrize("demo", DEMOS)
def test_nothing_shows_longer_than_two_lines(plans: dict[str, gw.Plan], demo: str) -> None:
    done = plans[demo]
    found = done.foundations
    things = (
        *(done, done.job, done.stations, done.surface, done.building, done.order, done.drainage),
        *(found, found.pad, found.pad.pieces, found.piers, found.slab),
    )
    shown = [repr(thing) for thing in things if thing is not None]
    assert all(len(text) < 120 and text.startswith("<") for text in shown), shown
    assert len({text.split()[0] for text in shown}) == len(shown)  # each says what it is


def test_a_hostile_name_is_no_markup_and_no_long_repr() -> None:
    notes = b"station,x,y,elevation\n" + b"".join(
        f"<b>{i}{j},{2 * i},{2 * j},{20 - 0.2 * i:.3f}\n".encode() for i in range(8) for j in range(8)
    )
    done = gw.plan({**JOB, "name": "<script>x</script>" + 150 * "y"}, notes)
    assert len(repr(done)) < 200
    for shown in (done._repr_html_(), done.stations._repr_html_()):
        assert "<script" not in shown
        assert "<b>0" not in shown
    assert "&lt;script" in done._repr_html_()


def test_what_a_plan_holds_are_the_classes_of_the_door(plans: dict[str, gw.Plan]) -> None:
    done = plans["barn-yard"]
    assert isinstance(done.stations, gw.Stations)
    assert done.surface.stations is done.stations
    assert isinstance(done.surface, gw.Surface)
    assert isinstance(done.building, gw.Outline)
    assert isinstance(done.job, gw.Job)
    assert all(isinstance(one, gw.Finding) for one in done.findings)


# Where the job and its notes come from.


def test_a_job_from_a_path_a_dictionary_and_bytes_is_one_job(tmp_path: Path, plane_notes: bytes) -> None:
    text = 'name = "Shed"\nunits = "m"\n[survey]\nnotes = "yard.csv"\n'
    text += "[building]\nsize = [4, 3]\ncorner = [4, 4]\n"
    (tmp_path / "job.toml").write_text(text)
    (tmp_path / "yard.csv").write_bytes(plane_notes)
    records = [
        gw.plan(str(tmp_path / "job.toml")).record(),
        gw.plan(gw.read_job(tmp_path / "job.toml")).record(),
        gw.plan(text.encode(), notes=plane_notes).record(),
        gw.plan(JOB, notes=tmp_path / "yard.csv").record(),
        gw.plan(gw.Job(**JOB), plane_notes).record(),
    ]
    assert all(one == records[0] for one in records)


def test_notes_that_are_nowhere_are_asked_for() -> None:
    with pytest.raises(gw.InputError, match=r"no notes; .*as the argument notes") as caught:
        gw.plan(JOB)
    assert [fault.code for fault in caught.value.faults] == ["notes-not-given"]
    tied = {**JOB, "survey": {"notes": "book.csv", "places": "ties.csv"}}
    with pytest.raises(gw.InputError, match=r"as the argument places"):
        gw.plan(tied, notes=b"station,BS,IS,FS,known\n")


def test_a_notes_file_that_is_missing_beside_the_job_is_named(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes((ROOT / "data" / "spring-pump-house" / "job.toml").read_bytes())
    with pytest.raises(gw.InputError, match=r"shots\.csv"):
        gw.plan(tmp_path / "job.toml")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"units": "yards"}, "job-value"),
        ({"building": {"size": [4, -3], "corner": [4, 4]}}, "job-value"),
        ({"colour": "red"}, "job-unknown-key"),
        ({"building": {"corner": [4, 4]}}, "job-missing-key"),
        ({"pad": {"margin": 12}}, "job-length"),
    ],
)
def test_a_dictionary_that_is_no_job_is_told_in_words(change: dict[str, Any], code: str) -> None:
    with pytest.raises(gw.InputError) as caught:
        gw.read_job({**JOB, **change})
    assert code in {fault.code for fault in caught.value.faults}
    assert all(not fault.file and not fault.line for fault in caught.value.faults)


@pytest.mark.parametrize("unit", ["ft", "in", "m", "ftUS"])
def test_a_job_made_in_python_is_in_its_own_unit_whoever_makes_it(unit: str) -> None:
    per = {"ft": 0.3048, "in": 0.0254, "m": 1.0, "ftUS": 1200 / 3937}[unit]
    tables = {**JOB, "units": unit, "building": {"size": [64, 48], "corner": [0, 0]}}
    made = [
        gw.Job(**tables),
        gw.Job.model_validate(tables),
        gw.Job.model_validate(tables, context={"unit": "m"}),
        gw.read_job(tables),
    ]
    assert all(job.building.size == pytest.approx((64 * per, 48 * per)) for job in made)


@pytest.mark.parametrize("demo", DEMOS)
def test_what_is_bought_can_be_had_in_si(plans: dict[str, gw.Plan], demo: str) -> None:
    """Stone by its mass, concrete and earth by volume, the rest counted."""
    lines = [line for order in plans[demo].orders.values() for line in order.lines]
    counted = {"pieces", "pairs", "boards", "timbers", "rolls", "bags"}
    assert {unit for _, unit in (line.in_si for line in lines)} <= {"kg", "m³", *counted}
    stone = [line for line in lines if line.in_si[1] == "kg"]
    assert stone or plans[demo].held_back
    assert all(line.in_si[0] == pytest.approx(line.mass_kg) for line in stone)
    for line in lines:
        if line.unit == "yd³":
            assert line.in_si == (pytest.approx(line.quantity * 0.9144**3), "m³")


def test_the_finished_ground_holds_what_is_built(plans: dict[str, gw.Plan]) -> None:
    """Level on the pad, at its bottoms in the swale, on 2:1 slopes beside; between the two surfaces lies what
    is dug and filled."""
    done = plans["spring-pump-house"]
    pad, (swale,) = done.pad, (one.made for one in done.measures)
    assert swale is not None
    finished = done.finished
    assert finished.elevation(pad.outline.rings[0].mean(axis=0)[None]) == pytest.approx(pad.chosen.level)
    assert finished.elevation(swale.line[:, :2]) == pytest.approx(swale.line[:, 2], abs=1e-6)
    assert finished.area == pytest.approx(done.surface.area)
    assert done.finished is finished
    between = content(done.surface) - content(finished)
    assert isinstance(pad.edge, BatteredEdge)
    own = gw.cut_and_fill(gw.clip(done.surface, pad.outline), pad.chosen.level)
    slopes = pad.edge.slopes.cut - pad.edge.slopes.fill
    assert between == pytest.approx(own.net + slopes + swale.cut - swale.fill - spread(done), abs=1e-5)


def spread(done: gw.Plan) -> float:
    """The soil that is spread on the ground [m³]."""
    assert done.soil is not None
    return sum(patch.volume for patch in done.soil.patches)


def content(surface: gw.Surface) -> float:
    return float(surface.triangle_areas @ surface.vertices[surface.triangles, 2].mean(axis=1))


def test_piers_leave_the_ground_and_a_slab_levels_it(plans: dict[str, gw.Plan]) -> None:
    done = plans["orchard-studio"]
    piers, level = (
        replace(done, foundations=replace(done.foundations, chosen=kind)) for kind in ("piers", "slab")
    )
    assert spread(piers) > 0.0
    assert content(piers.finished) - content(piers.surface) == pytest.approx(spread(piers), abs=1e-6)
    slab = done.foundations.slab
    assert slab is not None
    middle = slab.outline.rings[0].mean(axis=0)[None]
    assert level.finished.elevation(middle) == pytest.approx(slab.level)
