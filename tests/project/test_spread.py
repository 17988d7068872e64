"""What the spread does to an order: more stone that suffices as often as it says, and what is told of it."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from gradework.earthwork.conditions import CompactedVolume
from gradework.exchange.record import record
from gradework.ground.surface import Surface
from gradework.project import specs, spread
from gradework.project.buying import gravel_for
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.spread import pier_findings, spread_findings, spread_of_pad, spread_of_slab
from gradework.sitework.order import More, gravel_line, gravel_need
from gradework.sitework.past_walls import led

JOB = """\
name = "Tool store"
units = "m"
build = "{build}"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [4, 4]
[pad]
level = "least fill"
margin = "500 mm"
strip = "100 mm"
gravel = "100 mm"
freeboard = "0 mm"
{order}
"""


def notes(rough: float, step: float = 2.0) -> bytes:
    """A yard that falls 1 in 20 along x, ``rough`` [m] about that plane."""
    rng, rows = np.random.default_rng(8), ["station,x,y,elevation"]
    for i, x in enumerate(np.arange(0.0, 14.1, step)):
        for j, y in enumerate(np.arange(0.0, 14.1, step)):
            rows.append(f"S{i}-{j},{x:.2f},{y:.2f},{20.0 - 0.05 * x + rough * rng.standard_normal():.3f}")
    return "\n".join([*rows, ""]).encode()


@lru_cache
def planned(build: str, order: str = "", rough: float = 0.0, step: float = 2.0) -> Plan:
    more = f"[order]\n{order}" + ("" if build == "pad" else f"\n[{build}]")
    return plan(read_job(JOB.format(build=build, order=more).encode()), notes(rough, step))


def asking(order: str) -> Job:
    """The job of the rough yard, with another table of the order."""
    return read_job(JOB.format(build="pad", order=f"[order]\n{order}").encode())


def stone(done: Plan, kind: str) -> tuple[float, float]:
    """The chance and the need [units as sold] of the line that the foundation itself takes."""
    [line] = [one for one in done.foundations.orders[kind].lines if one.chance is not None]
    assert line.chance is not None
    return line.chance, line.needed


def test_the_stone_line_says_how_often_it_suffices_and_takes_as_much() -> None:
    done = planned("pad", rough=0.03)
    chance, needed = stone(done, "pad")
    yard = specs.supplier(done.job)
    material = done.pad.spec.material
    plain = gravel_need(CompactedVolume(done.pad.chosen.gravel), material, yard)
    assert chance == 0.9
    more = done.spread.wanted / done.pad.chosen.gravel
    assert 1.02 < more < 1.3
    assert needed * yard.stone.mass_kg == pytest.approx(plain.needed_kg * more)
    assert done.spread.wanted == pytest.approx(done.spread.gravel_mass.p90 / done.pad.spec.density)


def test_the_surer_the_more_is_ordered() -> None:
    done = planned("pad", rough=0.03)
    even, most = (spread_of_pad(asking(f'sure = "{n} %"'), done.surface, done.pad) for n in (50, 99))
    assert (even.sure, most.sure) == (0.5, 0.99)
    assert most.wanted > 1.05 * even.wanted
    assert most.wanted > done.spread.wanted > even.wanted >= done.pad.chosen.gravel
    assert most.gravel == even.gravel  # the likely grounds are the same ones


def test_topsoil_and_stone_that_are_sure_leave_the_ground_alone() -> None:
    done = planned("pad", rough=0.03)
    job = asking('topsoil = "0 mm"\ncompaction = "0 %"')
    sure, usual = spread_of_pad(job, done.surface, done.pad), done.spread
    assert sure.gravel_mass.p90 == pytest.approx(sure.gravel.p90 * done.pad.spec.density)
    assert (sure.wanted - sure.gravel.p50) / done.pad.chosen.gravel == pytest.approx(sure.open)
    assert sure.open == usual.open
    assert sure.cut == usual.cut
    for band, wider in ((sure.excavation, usual.excavation), (sure.gravel_mass, usual.gravel_mass)):
        assert band.p90 - band.p10 < wider.p90 - wider.p10


def test_a_slab_takes_more_stone_where_its_fill_is_gravel() -> None:
    done = planned("slab", rough=0.03)
    slab = done.foundations.slab
    assert slab is not None
    assert (slab.spec.fill, slab.fill > 0.0) == ("gravel", True)
    chance, needed = stone(done, "slab")
    spread = spread_of_slab(done.job, done.surface, slab)
    yard = specs.supplier(done.job)
    plain = gravel_need(CompactedVolume(slab.gravel), gravel_for(done.job, "slab"), yard)
    assert chance == 0.9
    assert spread.wanted > 1.01 * slab.gravel
    assert needed * yard.stone.mass_kg == pytest.approx(plain.needed_kg * spread.wanted / slab.gravel)
    assert spread.gravel.p10 < slab.gravel < spread.gravel.p90
    assert spread.excavation.p10 < slab.dig < spread.excavation.p90
    told = record(done)["slab"]["spread"]
    assert told["gravel_m3"] == {key: getattr(spread.gravel, key) for key in ("p10", "p50", "p90")}
    assert told["excavation_m3"]["p90"] == spread.excavation.p90


def test_the_warning_says_how_much_more_is_ordered_in_all() -> None:
    done = planned("pad", 'sure = "95 %"', 0.10, 4.0)
    [told] = [one for one in done.findings if one.code == "order-wide"]
    planned_gravel = done.pad.chosen.gravel
    more = done.spread.wanted / planned_gravel - 1.0
    assert more > 0.15
    assert told.value == pytest.approx(more)
    assert told.advice.startswith(f"{100.0 * more:.0f} % more gravel is ordered than the ")
    [line] = [one for one in done.foundations.orders["pad"].lines if one.chance is not None]
    assert line.allowance.startswith(f"{100.0 * more:.1f} % to suffice 95 times in 100")
    narrow = replace(done.spread, wanted=1.14 * planned_gravel)
    assert not list(spread_findings(narrow, planned_gravel, done.job.show))


def test_piers_that_may_change_are_named_with_the_unit_to_have() -> None:
    done = planned("piers", rough=0.10, step=4.0)
    spread, piers = done.piers_spread, done.foundations.piers
    assert spread is not None
    assert piers is not None
    changing = [one.name for one in spread.piers if one.taller > 0.10]
    [told] = pier_findings(spread, piers, done.job.show)
    assert told.where == ", ".join(changing)
    assert told.value == max(one.taller for one in spread.piers)
    assert "one 50 mm slab more" in told.advice  # not the base slab, which goes below a stack
    assert not list(pier_findings(replace(spread, piers=()), piers, done.job.show))
    assert record(done)["piers"]["spread"]["piers"][0]["stack_short_chance"] == spread.piers[0].taller


def test_beds_of_no_thickness_order_nothing_and_name_no_chance() -> None:
    done = planned("pad", rough=0.03)
    yard = specs.supplier(done.job)
    need = gravel_need(CompactedVolume(0.0), gravel_for(done.job, "piers"), yard, More(0.2, 0.9))
    line = gravel_line(need, yard, done.job.show, place="beds")
    assert (need.sure, line.chance, line.quantity) == (0.0, None, 0.0)
    assert "suffice" not in line.allowance


def test_a_swale_is_dug_as_much_more_as_the_ground_over_it_lies_higher(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """On ground that is sure its own figure; 1 cm higher or lower what its area takes, but for its edge."""
    folder = Path(__file__).parents[2] / "data" / "spring-pump-house"
    done = plan(read_job((folder / "job.toml").read_bytes()), (folder / "shots.csv").read_bytes())
    measures = led(done.foundations.measures_of("pad"))
    assert {one.kind for one in measures} == {"swale"}
    cut = sum(one.cut for one in measures)
    for shift in (0.0, 0.01):
        shifts = np.array([[-shift], [shift], [shift]])
        monkeypatch.setattr(spread, "likely_at", lambda ground, at, by=shifts: ground.elevation(at) + by)
        found = spread.spread_of_dig_beside(done.surface, measures)
        assert found is not None
        exact = sum(dug_deeper(one.bottoms, done.surface, shift) for one in measures)
        assert found.p50 == found.p90 == pytest.approx(cut + exact, rel=2e-3)
        assert cut - found.p10 == pytest.approx(0.8 * exact + 0.2 * -exact, rel=0.05)
    assert done.beside_spread is not None
    assert done.beside_spread.p10 < cut < done.beside_spread.p90
    assert record(done)["spread"]["beside_m3"]["p50"] == done.beside_spread.p50


def dug_deeper(bottoms: np.ndarray, surface: Surface, shift: float) -> float:
    """What ground higher by ``shift`` [m] takes more over these triangles, by many places in each [m³]."""
    rng = np.random.default_rng(3)
    share = rng.dirichlet((1.0, 1.0, 1.0), 60)
    u, v = bottoms[:, 1, :2] - bottoms[:, 0, :2], bottoms[:, 2, :2] - bottoms[:, 0, :2]
    areas = 0.5 * np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    at = np.einsum("sc,kcx->ksx", share, bottoms)
    over = surface.elevation(at[:, :, :2].reshape(-1, 2)).reshape(len(bottoms), -1) - at[:, :, 2]
    more = np.maximum(over + shift, 0.0) - np.maximum(over, 0.0)
    return float((areas * more.mean(axis=1)).sum())
