"""From the job's tables to what the rooms ask for: given values arrive, absent ones keep defaults."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gradework.errors import InputError
from gradework.foundations.checks.drainage_rules import IRC_2015, RULES
from gradework.foundations.pad.spec import PadSpec
from gradework.project import specs
from gradework.project.designed import gravel_for
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.placed import placed_building
from gradework.sitework.supplier import Supplier

HEAD = 'name = "x"\nunits = "ft"\n[survey]\nnotes = "n.csv"\n'
BUILDING = "[building]\nsize = [16, 12]\ncorner = [0, 0]\n"


def job(rest: str = "", building: str = BUILDING) -> Job:
    return read_job((HEAD + building + rest).encode(), "job.toml")


def test_an_empty_pad_table_is_the_rooms_own_default() -> None:
    spec = specs.pad_spec(job())
    yard = Supplier.us()
    assert spec == PadSpec(board=yard.board.face, lift=yard.lift)


def test_a_metric_job_has_round_metric_defaults() -> None:
    metric = read_job((HEAD.replace("ft", "m") + BUILDING).encode(), "job.toml")
    spec, yard = specs.pad_spec(metric), Supplier.metric()
    assert spec == replace(PadSpec.usual(us=False), board=yard.board.face, lift=yard.lift)
    assert (spec.freeboard, spec.lift, spec.most_gravel) == (0.05, 0.1, 0.6)


PAD = """
[pad]
level = 101.2
margin = "6 in"
strip = "0 in"
gravel = "6 in"
edge = "battered"
batter = 3
material = "crusher run"
freeboard = "1 in"
drain = true
max_cut = "2 ft"
max_height = "1 ft"
native_fill = true
most_gravel = "3 ft"
most_native = "10 in"
[soil]
kind = "clay"
"""


def test_given_values_arrive() -> None:
    spec = specs.pad_spec(job(PAD))
    assert (spec.rule, spec.level) == ("given", pytest.approx(101.2 * 0.3048))
    lengths = (spec.margin, spec.strip, spec.gravel, spec.freeboard, spec.max_cut, spec.max_height)
    assert lengths == pytest.approx(tuple(i * 0.0254 for i in (6, 0, 6, 1, 24, 12)))
    assert (spec.most_gravel, spec.most_native) == pytest.approx((36 * 0.0254, 10 * 0.0254))
    assert (spec.edge, spec.batter, spec.drain, spec.native_fill) == ("battered", 3, True, True)
    assert (spec.material.name, spec.soil.name) == ("dense-graded crushed stone", "clay")


@pytest.mark.parametrize("rule", ["least fill", "balanced", "least cost"])
def test_rules_by_name(rule: str) -> None:
    spec = specs.pad_spec(job(f'[pad]\nlevel = "{rule}"\n'))
    assert (spec.rule, spec.level) == (rule, None)


def test_stone_is_paid_with_its_water() -> None:
    dry = specs.pad_prices(
        job('[supplier]\nmoisture = "0 %"\n[prices]\ngravel = "38 per short ton"\n')
    ).gravel
    wet = specs.pad_prices(
        job('[supplier]\nmoisture = "5 %"\n[prices]\ngravel = "38 per short ton"\n')
    ).gravel
    assert dry == pytest.approx(38 / 907.18474)
    assert wet == pytest.approx(1.05 * 38 / 907.18474)
    assert specs.pad_prices(job()).missing("boxed") == ("dig", "haul", "gravel", "boards")


def test_the_form_of_the_notes() -> None:
    form = specs.notes_form(job())
    assert (form.unit, form.grid, form.columns, form.decimal) == ("ft", None, None, None)
    text = (
        HEAD
        + 'columns = "PNEZD"\ndecimal = ","\ngrid = { spacing = [4, 5], origin = ["1 m", 2], turn = 30 }\n'
        + BUILDING
    )
    form = specs.notes_form(read_job(text.encode()))
    assert form.grid is not None
    assert form.grid.spacing == pytest.approx((4 * 0.3048, 5 * 0.3048))
    assert form.grid.origin == pytest.approx((1.0, 2 * 0.3048))
    assert (form.grid.turn, form.columns, form.decimal) == (30, "PNEZD", ",")


def test_outlines() -> None:
    assert placed_building(job())[0].area == pytest.approx(192 * 0.3048**2)
    ring = "outline = [[0, 0], [10, 0], [10, 10], [0, 10]]\n"
    hole = "holes = [[[2, 2], [4, 2], [4, 4], [2, 4]]]\n"
    assert placed_building(job(building=f"[building]\n{ring}{hole}"))[0].area == pytest.approx(96 * 0.3048**2)


def test_a_crossing_outline_points_into_the_job() -> None:
    crossing = job(building="[building]\noutline = [[0, 0], [10, 10], [10, 0], [0, 10]]\n")
    with pytest.raises(InputError) as told:
        placed_building(crossing)
    fault = told.value.faults[0]
    assert (fault.code, fault.file, fault.line) == ("outline-crosses-itself", "job.toml", 5)


def test_drainage_rules() -> None:
    assert specs.drainage_rule(job()) == replace(IRC_2015, taken="taken for a job in feet")
    assert specs.drainage_rule(job('[drainage]\nrule = "ncc 2019"\n')) == replace(
        RULES["ncc 2019"], us=True, taken="your [drainage] rule"
    )
    own = specs.drainage_rule(job('[drainage]\nreach = 5\nfall = "2 %"\n'))
    assert (own.reach, own.fall) == pytest.approx((5 * 0.3048, 0.02))
    assert "own figures" in own.source


def test_own_figures_of_stone_and_soil_arrive_everywhere() -> None:
    own = job(
        '[pad]\nmaterial = "crusher run"\n[piers]\nmaterial = "clean stone"\n[slab]\n'
        '[supplier]\ndensity = { "crushed base" = "1.9 short tons/yd3", "57 stone" = "1600 kg/m3" }\n'
        '[soil]\nkind = "clay"\nswell = 1.35\ncompaction = 0.85\n'
    )
    spec = specs.pad_spec(own)
    assert spec.density == pytest.approx(1.9 * 2000 * 0.45359237 / 0.764554857984)
    assert spec.material.settle == pytest.approx(specs.pad_spec(job()).material.settle)
    assert (spec.swell, spec.compaction) == (1.35, 0.85)
    assert gravel_for(own, "piers").compacted.value == 1600
    assert gravel_for(own, "slab") == spec.material
    # the same stone by another name is the same stone; another stone keeps its figure
    assert specs.stone(own, "dga") == spec.material
    assert specs.stone(own, "gravel base") == specs.stone(job(), "gravel base")
    assert specs.stone(job(), None) == specs.pad_spec(job()).material
    partly = specs.soil(job("[soil]\nswell = 1.2\n"))
    assert (partly.swell.value, partly.compaction) == (1.2, specs.soil(job()).compaction)
