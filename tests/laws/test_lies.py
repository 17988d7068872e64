"""Whatever lies in working out a figure, the run refuses it: one lie at a time, by a little or by a lot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gradework.earthwork import clip as clipping
from gradework.earthwork import volumes
from gradework.earthwork.grading import finished
from gradework.earthwork.outline import Outline
from gradework.earthwork.siting import search as searching
from gradework.errors import CheckError
from gradework.foundations.pad import quantities
from gradework.foundations.slab import design
from gradework.foundations.timber import spans
from gradework.foundations.timber.wood import section_of, strength_of
from gradework.project import held
from gradework.project.backsight import Backsight
from gradework.project.cutfill import PlainCutFill, plain_cut_and_fill
from gradework.project.cutfill import Wanted as Against
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.project.siting import least_of, search_of
from gradework.project.stations.forms import NotesForm
from gradework.sitework import setout

Lie = Callable[..., Any]

DATUM = np.array([0.0, 0.0, 0.019])

UNEVEN = [
    [20.0, 19.6, 19.3, 19.1, 18.6, 18.2],
    [20.1, 19.9, 19.4, 19.0, 18.7, 18.4],
    [20.3, 19.8, 19.6, 19.2, 18.9, 18.3],
    [20.2, 20.0, 19.5, 19.3, 18.8, 18.6],
    [20.4, 20.1, 19.7, 19.2, 19.0, 18.5],
    [20.5, 20.0, 19.9, 19.5, 19.1, 18.8],
]


def notes() -> bytes:
    rows = [f"S{i}{j},{2 * i},{2 * j},{UNEVEN[j][i]}" for i in range(6) for j in range(6)]
    return "\n".join(["station,x,y,elevation", *rows, ""]).encode()


def cut_and_filled() -> PlainCutFill:
    outline = Outline.polygon([np.array([(1.0, 1.0), (7.5, 1.5), (8.0, 8.5), (4.0, 5.0), (1.5, 8.0)])])
    return plain_cut_and_fill(notes(), "yard.csv", NotesForm(unit="m"), lambda _: Against(outline, [19.3]))


def result(change: Lie) -> Callable[[Lie], Lie]:
    """A kernel that gives something else than it worked out."""
    return lambda true: lambda *given, **named: change(true(*given, **named))


def first(change: Lie) -> Lie:
    """Of several things that a kernel gives the first is changed."""
    return lambda made: (change(made[0]), *made[1:])


def raised(corners: Any, by: float, where: Any = slice(None)) -> Any:
    made = corners.copy()
    made[where][..., 2] += by
    return made


def sums(**change: Lie) -> Lie:
    return lambda made: made._replace(**{name: one(getattr(made, name)) for name, one in change.items()})


def swapped(one: str, other: str) -> Lie:
    return lambda made: made._replace(**{one: getattr(made, other), other: getattr(made, one)})


def _half(made: Any) -> Any:
    return 0.5 * (made.cut_area + made.fill_area)


VOLUME_LIES: dict[str, tuple[Any, str, Callable[[Lie], Lie]]] = {
    "all ground higher by 0.1 m": (clipping, "cut_region", result(first(lambda c: raised(c, 0.1)))),
    "all ground lower by 1 mm": (clipping, "cut_region", result(first(lambda c: raised(c, -0.001)))),
    "all ground higher by 0.01 mm": (clipping, "cut_region", result(first(lambda c: raised(c, 1e-5)))),
    "one piece higher by 0.1 m": (clipping, "cut_region", result(first(lambda c: raised(c, 0.1, slice(1))))),
    "one corner higher by 0.1 m": (
        clipping, "cut_region", result(first(lambda c: raised(c, 0.1, (slice(1), slice(1))))),
    ),
    "one corner lower by 1 mm": (
        clipping, "cut_region", result(first(lambda c: raised(c, -0.001, (slice(2, 3), slice(1))))),
    ),
    "ground steeper by a thousandth": (
        clipping, "cut_region", result(first(lambda c: c * np.array([1.0, 1.0, 1.001]) - DATUM)),
    ),
    "a piece is left out": (
        clipping, "cut_region", result(lambda made: (made[0][1:], made[1][1:])),
    ),
    "a piece counts twice": (
        clipping, "cut_region",
        result(lambda made: (np.concatenate((made[0], made[0][:1])), np.concatenate((made[1], made[1][:1])))),
    ),
    "areas larger by a millionth": (clipping, "signed_areas", result(lambda a: a * (1.0 + 1e-6))),
    "areas exchanged": (clipping, "signed_areas", result(lambda a: a[::-1])),
    "cut more by a millionth": (volumes, "prism_sums", result(sums(cut=lambda v: v * (1.0 + 1e-6)))),
    "fill less by a millionth": (volumes, "prism_sums", result(sums(fill=lambda v: v * (1.0 - 1e-6)))),
    "cut and fill more by 0.01 m3": (
        volumes, "prism_sums", result(sums(cut=lambda v: v + 0.01, fill=lambda v: v + 0.01)),
    ),
    "cut and fill more by 0.1 litres": (
        volumes, "prism_sums", result(sums(cut=lambda v: v + 1e-4, fill=lambda v: v + 1e-4)),
    ),
    "cut and fill exchanged": (volumes, "prism_sums", result(swapped("cut", "fill"))),
    "their areas exchanged": (volumes, "prism_sums", result(swapped("cut_area", "fill_area"))),
    "area in cut larger by a thousandth": (
        volumes, "prism_sums",
        result(sums(cut_area=lambda a: a * 1.001, fill_area=lambda a: a - 0.001 * a)),
    ),
    "both areas half of all": (
        volumes, "prism_sums",
        result(lambda m: m._replace(cut_area=_half(m), fill_area=_half(m))),
    ),
    "split triangles give their lone side to the other": (
        volumes, "split_depths", result(lambda made: (made[1], made[0], made[3], made[2])),
    ),
    "split triangles hold a thousandth more on both sides": (
        volumes, "split_depths", result(lambda made: (made[0] * 1.001, made[1] * 1.001, made[2], made[3])),
    ),
    "split triangles hold more, above as below": (
        volumes, "split_depths", result(lambda made: (made[0] + 1e-4, made[1] + 1e-4, made[2], made[3])),
    ),
    "split shares exchanged": (
        volumes, "split_depths", result(lambda made: (made[0], made[1], made[3], made[2])),
    ),
    "net from half the ground": (volumes, "_net", result(lambda made: 0.5 * made)),
    "nothing on grade, all in cut": (
        volumes, "_with_grade", result(lambda made: (made[0] + made[1], 0.0 * made[1], made[2])),
    ),
}  # fmt: skip


@pytest.mark.parametrize("lie", VOLUME_LIES)
def test_cut_and_fill_refuse(lie: str, monkeypatch: pytest.MonkeyPatch) -> None:
    module, name, false = VOLUME_LIES[lie]
    monkeypatch.setattr(module, name, false(getattr(module, name)))
    with pytest.raises(CheckError):
        cut_and_filled()


def test_the_truth_is_printed() -> None:
    (one,) = cut_and_filled().answers
    assert one.cut > 0.1
    assert one.fill > 0.1


JOB = """
name = "Lies, invented"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [3, 2.5]
corner = [3, 3]
turn = 10
[pad]
level = 19.4
margin = "300 mm"
[piers]
[slab]
"""


@pytest.fixture(scope="module")
def whole() -> Plan:
    return plan(read_job(JOB.encode()), notes())


def more(name: str, by: float) -> Lie:
    return lambda one: replace(one, **{name: getattr(one, name) + by})


PAD_LIES: dict[str, Lie] = {
    f"{name} {'more' if by > 0 else 'less'} by {abs(by)} m3": more(name, by)
    for name in ("cut", "fill", "excavation", "gravel", "native", "edge_excavation", "edge_gravel")
    for by in (1e-4, -0.01)
} | {
    "another level": more("level", 0.001),
    "digging and gravel both more": lambda one: replace(
        one, excavation=one.excavation + 0.01, gravel=one.gravel + 0.01
    ),
    "cut and fill both more": lambda one: replace(one, cut=one.cut + 0.01, fill=one.fill + 0.01),
    "cut and fill exchanged": lambda one: replace(one, cut=one.fill, fill=one.cut),
}  # fmt: skip


def hold(whole: Plan, **found: Any) -> None:
    held.hold_plan(whole.surface, whole.building, whole.footprint, replace(whole.foundations, **found))


def test_the_plan_holds(whole: Plan) -> None:
    hold(whole)


@pytest.mark.parametrize("lie", PAD_LIES)
def test_a_pad_refuses(lie: str, whole: Plan) -> None:
    pad = whole.foundations.pad
    with pytest.raises(CheckError):
        hold(whole, pad=replace(pad, chosen=PAD_LIES[lie](pad.chosen)))


PIER_LIES: dict[str, Lie] = {
    "a hole takes more digging": more("dig", 1e-4),
    "a hole takes less digging": more("dig", -0.001),
    "a hole is deeper": more("bottom", -0.001),
    "a hole is less deep": more("bottom", 0.01),
    "a bed takes more gravel": more("bed_volume", 1e-4),
    "a bed is thicker": more("bed", 0.01),
    "a hole is wider than told": lambda one: replace(one, hole_size=(one.hole_size[0] + 0.01, 0.5)),
    "the ground in a hole is lower than told": more("ground_low", 0.5),
    "the ground in a hole is higher than told": more("ground_high", -0.5),
    "a hole is somewhere else": lambda one: replace(one, hole=one.hole.grown(0.01)),
}  # fmt: skip


@pytest.mark.parametrize("lie", PIER_LIES)
def test_piers_refuse(lie: str, whole: Plan) -> None:
    piers = whole.foundations.piers
    assert piers is not None
    one, *others = piers.piers
    with pytest.raises(CheckError):
        hold(whole, piers=replace(piers, piers=(*others, PIER_LIES[lie](one))))


GROUND_LIES: dict[str, Lie] = {
    "its lowest place is lower": more("low", -0.001),
    "its lowest place is higher": more("low", 0.001),
    "its highest place is higher": more("high", 0.001),
    "its highest place is lower": more("high", -0.001),
}


@pytest.mark.parametrize("lie", GROUND_LIES)
def test_the_ground_under_the_building_refuses(lie: str, whole: Plan) -> None:
    with pytest.raises(CheckError):
        held.hold_plan(whole.surface, whole.building, GROUND_LIES[lie](whole.footprint), whole.foundations)


QUANTITY_LIES: dict[str, Lie] = {
    name: lambda made, name=name: replace(made, **{name: getattr(made, name) + 0.001})
    for name in ("excavation", "gravel", "native", "edge_excavation", "edge_gravel")
}


@pytest.mark.parametrize("lie", QUANTITY_LIES)
def test_a_plan_of_a_pad_refuses_a_kernel_that_lies(lie: str, monkeypatch: pytest.MonkeyPatch) -> None:
    true = quantities.PadGround.at
    monkeypatch.setattr(quantities.PadGround, "at", lambda *given: QUANTITY_LIES[lie](true(*given)))
    with pytest.raises(CheckError):
        plan(read_job(JOB.partition("[piers]")[0].encode()), notes())


SLAB_LIES: dict[str, Lie] = {
    f"{name} {'more' if by > 0 else 'less'} by {abs(by)} m3": more(name, by)
    for name in ("dig", "subsoil", "gravel", "fill")
    for by in (1e-4, -0.01)
} | {
    "another level": more("level", 0.001),
    "digging and fill both more": lambda one: replace(one, dig=one.dig + 0.01, fill=one.fill + 0.01),
    "digging and fill exchanged": lambda one: replace(one, dig=one.fill, fill=one.dig),
    "concrete more": lambda one: replace(one, concrete=more("volume", 1e-4)(one.concrete)),
    "a larger area": more("area", 0.001),
    "a thicker slab than told": lambda one: replace(one, spec=replace(one.spec, thickness=0.11)),
    "a wider edge than told": lambda one: replace(one, spec=replace(one.spec, edge_width=0.35)),
}  # fmt: skip


@pytest.mark.parametrize("lie", SLAB_LIES)
def test_a_slab_refuses(lie: str, whole: Plan) -> None:
    slab = whole.foundations.slab
    assert slab is not None
    with pytest.raises(CheckError):
        hold(whole, slab=SLAB_LIES[lie](slab))


ZONE_LIES: dict[str, Lie] = {
    name: lambda made, name=name: made._replace(**{name: getattr(made, name) + 0.001})
    for name in ("dig", "subsoil", "base", "fill", "edge")
} | {
    "soil and fill": lambda made: made._replace(dig=made.dig + 0.01, fill=made.fill + 0.01),
    "stone and fill": lambda made: made._replace(base=made.base + 0.01, fill=made.fill - 0.01),
}


@pytest.mark.parametrize("lie", ZONE_LIES)
def test_a_plan_of_a_slab_refuses_a_kernel_that_lies(lie: str, monkeypatch: pytest.MonkeyPatch) -> None:
    true = design.slab_earthwork
    monkeypatch.setattr(design, "slab_earthwork", lambda *given: ZONE_LIES[lie](true(*given)))
    with pytest.raises(CheckError):
        plan(read_job(f"{JOB.partition('[pad]')[0]}[slab]\n".encode()), notes())


def line(item: str, change: Lie) -> Lie:
    """One line of an order is changed."""
    return lambda order: replace(
        order, lines=tuple(change(one) if item in one.item else one for one in order.lines)
    )


ORDER_LIES: dict[str, tuple[str, Lie]] = {
    "a pad's stone weighs more": ("pad", line("crushed stone", more("computed", 0.001))),
    "a pad's load weighs more": ("pad", line("crushed stone", more("mass_kg", 1.0))),
    "a pad makes less of its stone": ("pad", line("crushed stone", more("compacted", -0.001))),
    "a pad's stone is left out": (
        "pad", lambda o: replace(o, lines=tuple(x for x in o.lines if x.place != "base")),
    ),
    "a pad's stone comes twice": (
        "pad", lambda o: replace(o, lines=(*o.lines, *(x for x in o.lines if x.place == "base"))),
    ),
    "a slab's stone weighs less": ("slab", line("crushed stone", more("computed", -0.001))),
    "a slab makes more of its stone": ("slab", line("crushed stone", more("compacted", 0.001))),
    "a block more is counted": ("piers", line("block", more("computed", 1.0))),
    "the blocks are left out": (
        "piers", lambda o: replace(o, lines=tuple(x for x in o.lines if "block" not in x.item)),
    ),
    "the beds are left out": (
        "piers", lambda o: replace(o, lines=tuple(x for x in o.lines if x.place != "beds")),
    ),
}  # fmt: skip


@pytest.mark.parametrize("lie", ORDER_LIES)
def test_an_order_refuses(lie: str, whole: Plan) -> None:
    kind, false = ORDER_LIES[lie]
    orders = whole.foundations.orders
    assert false(orders[kind]) != orders[kind]
    with pytest.raises(CheckError):
        hold(whole, orders={**orders, kind: false(orders[kind])})


SPAN_LIES: dict[str, Lie] = {
    "longer by a millionth": lambda made: made._replace(length=made.length * 1.000001),
    "shorter by a millionth": lambda made: made._replace(length=made.length * 0.999999),
    "ended by something else": lambda made: made._replace(
        governs={"bending": "shear", "shear": "deflection", "deflection": "bending"}[made.governs]
    ),
}


@pytest.mark.parametrize("size", ["2x6", "4x4", "2-2x10"])
@pytest.mark.parametrize("lie", SPAN_LIES)
def test_a_span_refuses(lie: str, size: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spans, "min", lambda *ways: SPAN_LIES[lie](min(*ways)), raising=False)
    section = section_of(size)
    for load in (0.5, 5.0, 50.0):
        with pytest.raises(CheckError):
            spans.longest_span(section, strength_of(section), spans.LineLoad(load, 0.8 * load))


DUG_LIES: dict[str, tuple[Any, str, Callable[[Lie], Lie]]] = {
    "more is dug by 0.01 m3": (finished, "prism_sums", result(sums(cut=lambda v: v + 0.01))),
    "more is filled by 0.01 m3": (finished, "prism_sums", result(sums(fill=lambda v: v + 0.01))),
    "both more by 0.01 m3": (
        finished, "prism_sums", result(sums(cut=lambda v: v + 0.01, fill=lambda v: v + 0.01)),
    ),
    "dug and filled exchanged": (finished, "prism_sums", result(swapped("cut", "fill"))),
    "the bottom lies 1 mm deeper": (finished, "heights_of", result(lambda z: z - 0.001)),
    "the bottom lies 1 cm higher": (finished, "heights_of", result(lambda z: z + 0.01)),
    "some corners of the ground are lower": (
        finished, "as_surface",
        lambda true: lambda ground, work, z: true(ground, work, z - 0.01 * np.eye(*z.shape)),
    ),
    "the ground is cut somewhere else": (
        finished, "_lines", lambda true: lambda *given: true(*given) + np.array([0.05, 0.0]),
    ),
}  # fmt: skip

SWALE = """
[soil]
kind = "clay"
[pad]
level = 19.6
margin = "300 mm"
"""


@pytest.fixture(scope="module")
def led_past() -> Job:
    job = read_job((JOB.partition("[pad]")[0].replace("[3, 3]", "[4, 4]") + SWALE).encode())
    found = plan(job, notes()).foundations
    assert [one.dug.kind for one in found.measures_of("pad") if one.dug is not None]
    return job


@pytest.mark.parametrize("lie", DUG_LIES)
def test_what_is_dug_beside_a_pad_refuses(lie: str, led_past: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    module, name, false = DUG_LIES[lie]
    monkeypatch.setattr(module, name, false(getattr(module, name)))
    with pytest.raises(CheckError):
        plan(led_past, notes())


STAKE_LIES: dict[str, tuple[str, Lie]] = {
    "a cut is a fill": (
        "stake_mark",
        lambda one: replace(one, kind={"C": "F", "F": "C", "GRADE": "C"}[one.kind]),
    ),
    "a cut is deeper": ("stake_mark", lambda one: replace(one, kind="C", amount=one.amount + 0.01)),
    "the rod reads more": ("rod_reading", more("reading", 0.001)),
    "the string is higher": ("from_string", lambda up: up - 0.001),
}


@pytest.mark.parametrize("lie", STAKE_LIES)
def test_stakes_refuse(lie: str, whole: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = Wanted(backsight=Backsight("BM", 20.0, 1.2), string=0.3)
    assert set_out_plan(whole, wanted).sheet.points
    name, false = STAKE_LIES[lie]
    true = getattr(setout, name)
    monkeypatch.setattr(setout, name, lambda *given, **named: false(true(*given, **named)))
    with pytest.raises(CheckError):
        set_out_plan(whole, wanted)


PLACE_LIES: dict[str, Lie] = {
    f"{name} {'more' if by > 0 else 'less'} by {abs(by)}": lambda made, name=name, by=by: replace(
        made, **{name: getattr(made, name) + by}
    )
    for name, by in (
        ("cut", 1e-4), ("fill", -0.01), ("covered", 0.01), ("mean", 1e-4), ("lowest", 0.001),
        ("lowest", -0.001), ("highest", 0.001), ("highest", -0.001), ("level", 0.001),
    )
}  # fmt: skip


@pytest.mark.parametrize("lie", PLACE_LIES)
def test_places_refuse(lie: str, whole: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    job = whole.job
    search = search_of(job, whole.surface, "pad", least_of(job, "gravel"))
    places = np.array([(5.0, 5.0, 0.2), (4.5, 5.5, 0.0)])
    search.hold(places)
    true = searching.placements
    monkeypatch.setattr(searching, "placements", lambda *given: PLACE_LIES[lie](true(*given)))
    with pytest.raises(CheckError):
        search.hold(places)


NO_EDGE = 'thickness = "100 mm"\nedge_depth = "100 mm"\n'
RIGHT: dict[str, tuple[str, str]] = {
    "far from nought": ("size = [3, 2.5]\ncorner = [500003, 5000003]", "[slab]"),
    "flat": ("size = [3, 2.5]\ncorner = [3, 3]", f"[slab]\n{NO_EDGE}"),
    "more stone than the edge is deep": (
        "size = [3, 2.5]\ncorner = [3, 3]",
        '[slab]\nthickness = "100 mm"\nedge_depth = "150 mm"\nbase = "100 mm"',
    ),
    "a straight corner": ("outline = [[3, 3], [4.5, 3], [6, 3], [6, 6], [3, 6]]", "[slab]"),
    "an inward corner": ("outline = [[3, 3], [6, 3], [6, 4.5], [4.5, 4.5], [4.5, 6], [3, 6]]", "[slab]"),
    "no bottom of the edge": ("size = [3, 2.5]\ncorner = [3, 3]", '[slab]\nedge_width = "0 mm"'),
    "stone a hair thinner than the edge is deep": (
        "size = [3, 2.5]\ncorner = [3, 3]",
        '[slab]\nthickness = "100 mm"\nedge_depth = "200 mm"\nbase = "99.999 mm"',
    ),
    "half a millimetre over the rim of the survey": (
        "outline = [[3, -0.0004], [6, -0.0004], [6, 3], [3, 3]]", "[slab]",
    ),
    "no stone under it": (
        "size = [3, 2.5]\ncorner = [3, 3]\nturn = 21", '[slab]\nbase = "0 mm"\nfill = "earth"\nlevel = 18.2',
    ),
    "stone that weighs something else": (
        "size = [3, 2.5]\ncorner = [3, 3]",
        '[slab]\nmaterial = "type 1"\n[supplier]\ndensity = { "type 1" = "2200 kg/m3" }',
    ),
    "clean stone that weighs something else": (
        "size = [3, 2.5]\ncorner = [3, 3]",
        '[piers]\nmaterial = "clean"\n[supplier]\ndensity = { clean = "1700 kg/m3" }',
    ),
}  # fmt: skip


@pytest.mark.parametrize("right", RIGHT)
def test_what_is_right_is_printed(right: str) -> None:
    """Slabs of every shape that may be asked for, and stone of the supplier's own weight."""
    building, asked = RIGHT[right]
    head = JOB.partition("size")[0]
    job = f"{head}{building}\n{asked}\n"
    far = (500000.0, 5000000.0) if "500003" in building else (0.0, 0.0)
    rows = [f"S{i}{j},{2 * i + far[0]},{2 * j + far[1]},{UNEVEN[j][i]}" for i in range(6) for j in range(6)]
    found = plan(read_job(job.encode()), "\n".join(["station,x,y,elevation", *rows, ""]).encode())
    assert found.foundations.built
