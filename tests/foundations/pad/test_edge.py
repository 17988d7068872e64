"""The edge of a boxed pad: which kind holds which height, what it takes, and what the gate asks of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.materials import find_soil
from gradework.earthwork.outline import Outline
from gradework.foundations.buying.pad_prices import PadPrices
from gradework.foundations.comparison import option_of_pad
from gradework.foundations.pad.design import Pad, design_pad
from gradework.foundations.pad.edge import MOST_DRIVEN, EdgeBuilt, kind_at, pins_apart, stakes_of
from gradework.foundations.pad.quantities import BoxedEdge
from gradework.foundations.pad.spec import PadSpec
from gradework.ground.surface import Surface
from gradework.units.display import FEET

IN, FT = 0.0254, 0.3048
BUILDING = Outline.rectangle((10 * FT, 10 * FT), (16 * FT, 12 * FT))
PRICES = PadPrices(dig=40.0, haul=15.0, gravel=0.04, boards=30.0)
Ground = Callable[..., Surface]


def pad_at(ground: Ground, height: float, fall: float = 0.0, **spec: object) -> Pad:
    """A pad of 18 x 14 ft whose lowest edge stands ``height`` [in] above ground that falls by x."""
    marks = [FT * n for n in range(0, 41, 4)]
    surface = ground([(x, y, 5.0 - fall * x) for x in marks for y in marks])
    low = 5.0 - fall * 27 * FT
    asked = PadSpec(rule="given", level=low + height * IN, **spec)  # type: ignore[arg-type]
    return design_pad(surface, BUILDING, asked, PRICES, FEET)


def edge_of(pad: Pad) -> EdgeBuilt:
    assert isinstance(pad.edge, BoxedEdge)
    return pad.edge.built


@pytest.mark.parametrize(
    ("height", "kind", "courses"),
    [(0, "none", 0), (5.5, "boards", 1), (5.6, "boards", 2), (11, "boards", 2), (11.1, "timbers", 3)],
)
def test_the_kind_follows_the_height(ground: Ground, height: float, kind: str, courses: int) -> None:
    edge = edge_of(pad_at(ground, height))
    assert (edge.kind, edge.courses) == (kind, courses)


def test_one_board_all_round(ground: Ground) -> None:
    """64 ft of 5 1/2 in: a stake every 4 ft and one more on each side, driven 22 in; two screws in each."""
    edge = edge_of(pad_at(ground, 5.5))
    assert edge.runs == pytest.approx([18 * FT, 14 * FT, 18 * FT, 14 * FT])
    [row] = edge.stakes
    assert (row.count, row.boards) == (2 * (5 + 1) + 2 * (4 + 1), 1)
    assert (row.apart / FT, row.depth / IN, row.length / IN) == pytest.approx((4, 22, 30))
    assert (edge.screws, edge.pins, edge.timber_screws, edge.buried) == (44, 0, 0, 0.0)
    assert edge.parts.stakes == pytest.approx(64 / 4)


def test_two_boards_where_the_ground_falls_away(ground: Ground) -> None:
    """18 ft at 5 % fall 10.8 in: from nothing at the high side to 11 in, one board along half of each long
    side."""
    pad = pad_at(ground, 11.0, fall=0.05)
    edge = edge_of(pad)
    low, high = edge.stakes
    # the edge shows 0.2 in uphill; above 5 1/2 in on the low 5.5 in / 5 % = 9.17 ft of both long sides
    long = 5.5 / 0.05 / 12
    assert low.count == 2 * (3 + 1) + (4 + 1)
    assert high.count == 2 * (4 + 1) + (5 + 1)
    assert edge.parts.stakes == pytest.approx((2 * (18 - long) + 14) / 4 + (2 * long + 14) / 3)
    assert (low.depth / IN, high.depth / IN, high.apart / FT) == pytest.approx((22, 39, 3))
    assert edge.screws == 2 * low.count + 4 * high.count


def test_timbers_are_buried_pinned_and_drained(ground: Ground) -> None:
    """20 in round 72 ft: four timbers and one buried, pins, a trench of 12 x 11 1/2 in, stone behind."""
    pad = pad_at(ground, 20.0, margin=24 * IN)
    edge, around = edge_of(pad), 2 * (20 + 16)
    assert (edge.kind, edge.courses, edge.near) == ("timbers", 4, False)
    assert sum(edge.runs) / FT == pytest.approx(5 * around)
    assert edge.buried / FT == pytest.approx(around)
    # on each side one pin 1 ft from both ends and at most 4 ft between: 20 ft take 6, 16 ft take 5
    assert edge.pins == 2 * 6 + 2 * 5
    assert edge.timber_screws == 4 * 2 * (11 + 9)
    cross = 12 * 11.5 - 5.5**2
    assert edge.parts.trench / FT**3 == pytest.approx(around * 12 * 11.5 / 144)
    assert edge.parts.behind / FT**3 == pytest.approx(around * 20 / 12)
    assert edge.parts.clean / FT**3 == pytest.approx(around * (cross / 144 + 20 / 12))
    assert pad.chosen.beside == pytest.approx(edge.parts.trench)
    assert pad.chosen.dug == pytest.approx(pad.chosen.excavation + edge.parts.trench)
    assert edge.deadmen == 0


def test_a_building_nearer_than_the_height_pushes(ground: Ground) -> None:
    """12 in of margin: from 12 in on the building counts, and pins stand closer by as much as it adds."""
    far, close = edge_of(pad_at(ground, 14.0, margin=14 * IN)), edge_of(pad_at(ground, 14.0))
    assert (far.near, close.near) == (False, True)
    assert far.pins_apart / FT == pytest.approx(4)
    # 15 H² and 15 H [lb/ft] at H = 14/12 ft
    assert close.pins_apart / FT == pytest.approx(25 / 12)  # 4 ft / (1 + 12 / 14) = 25.8 in, in whole inches
    assert close.pins > far.pins


def test_no_margin_takes_timbers_where_stakes_cannot_be_driven() -> None:
    """With the wall on the edge 11 in ask for stakes 55 in deep; by hand 40 in are driven."""
    spec = PadSpec(margin=0.0)
    assert stakes_of(11 * IN, spec).depth / IN == pytest.approx(54.7, abs=0.1)
    assert stakes_of(11 * IN, spec).depth > MOST_DRIVEN
    assert kind_at(11 * IN, spec) == "timbers"
    assert kind_at(11 * IN, PadSpec()) == "boards"
    assert kind_at(3 * IN, PadSpec(timber_edge=True)) == "timbers"


@pytest.mark.parametrize(
    ("height", "margin", "words"),
    [
        (7.0, 6.0, 'margin = "7 in"'),
        (11.0, 12.0, "timber_edge = true"),
        (5.0, 12.0, None),
        (14.0, 6.0, None),  # timbers, no stakes
    ],
)
def test_deep_stakes_are_told_with_what_spares_them(
    ground: Ground, height: float, margin: float, words: str | None
) -> None:
    pad = pad_at(ground, height, margin=margin * IN)
    told = [one for one in pad.findings if one.code == "pad-stakes-deep"]
    assert len(told) == (words is not None)
    deepest = max((row.depth for row in edge_of(pad).stakes), default=0.0)
    assert (deepest > 30.0 * IN) is (words is not None)
    if words:
        assert words in told[0].advice
        assert (told[0].value, told[0].severity) == (deepest, "note")
    if words == 'margin = "7 in"':
        wider = edge_of(pad_at(ground, height, margin=7.0 * IN))
        assert f"{max(row.depth for row in wider.stakes) / IN:.0f} in will do" in told[0].advice


@pytest.mark.parametrize("height", [3.0, 9.0, 14.0, 30.0])
@pytest.mark.parametrize("margin", [6.0, 12.0, 36.0])
def test_heights_that_hold_and_that_stop(ground: Ground, height: float, margin: float) -> None:
    pad = pad_at(ground, height, margin=margin * IN, max_height=4.0)
    edge = edge_of(pad)
    told = {finding.severity for finding in pad.findings if finding.code == "pad-edge-high"}
    holds = {check.check: check.holds for check in edge.checks}
    if height <= 24.0:
        assert told == set()
        assert all(holds.values())
        assert edge.deadmen == 0
    elif margin < height:
        assert told == {"stop"}
        assert holds["held edge"] is False
        assert edge.deadmen == 0  # nothing ties it back: it is not built
        assert edge.checks[0].source == "IRC 2009 R404.4"
    else:
        assert told == {"warning"}
        assert holds == {"held edge": True, "edge designed": None}
        assert edge.deadmen > 0
        [finding] = [one for one in pad.findings if one.code == "pad-edge-high"]
        assert "professional" in finding.advice


def test_the_stop_is_no_us_rule_elsewhere(ground: Ground) -> None:
    pad = pad_at(ground, 30.0)
    assert isinstance(pad.edge, BoxedEdge)
    assert edge_of(pad).checks[0].source == "IRC 2009 R404.4"
    marks = [FT * n for n in range(0, 41, 4)]
    metric = design_pad(
        ground([(x, y, 5.0) for x in marks for y in marks]),
        BUILDING,
        replace(PadSpec.usual(us=False), rule="given", level=5.75),
    )
    [finding] = [one for one in metric.findings if one.code == "pad-edge-high"]
    assert "a US figure, IRC 2009 R404.4" in finding.advice


@pytest.mark.parametrize("height", [0.0, 4.0, 8.0, 14.0, 22.0])
def test_the_comparison_takes_what_is_dug_and_built(ground: Ground, height: float) -> None:
    """Its money comes from the order; what it takes in hours comes from the pad itself."""
    pad = pad_at(ground, height, fall=0.02)
    option = option_of_pad(pad, PRICES, None, pad.pieces)
    assert option.digging == pytest.approx(pad.chosen.dug)
    parts = edge_of(pad).parts
    assert option.takes["gravel"] == pytest.approx(pad.chosen.gravel + parts.brought)
    told = [option.takes.get(name, 0.0) for name in ("edge stakes", "timber frame", "edge timbers")]
    assert told == [parts.stakes, parts.boards, parts.timbers]
    least, most = option.hours
    assert 0.0 < least < most


def test_bare_amounts_are_never_more_than_whole_pieces(ground: Ground) -> None:
    for height in np.linspace(0.5, 23.5, 24):
        edge = edge_of(pad_at(ground, float(height), fall=0.03))
        assert edge.parts.stakes <= sum(row.count for row in edge.stakes)
        assert edge.parts.screws <= edge.screws
        assert edge.parts.timber_screws <= edge.timber_screws
        assert edge.parts.timbers == pytest.approx(0.1397 * sum(edge.runs) * (edge.kind == "timbers"))


def test_pins_stand_closer_the_more_a_building_pushes() -> None:
    apart = [pins_apart(height * IN, PadSpec()) for height in (11.0, 12.0, 13.0, 24.0)]
    assert apart[0] == apart[1] > apart[3] > apart[2]


def test_a_pad_that_is_cut_in_is_dug_wider(ground: Ground) -> None:
    """6 in under level ground with 4 in of gravel: 10 in deep, so 12 in of room and a face of 10 in out; the
    room is filled again to the top of the gravel, with soil that compacts to 0.9."""
    pad = pad_at(ground, -6.0)
    deep, room, gravel = 10 * IN, 12 * IN, 4 * IN
    side, corner = room * deep + deep**2 / 2, room**2 * deep + room * deep**2 + deep**3 / 3
    assert pad.chosen.beside == pytest.approx(64 * FT * side + 4 * corner)
    back = gravel * (64 * FT * room + 4 * room**2)
    assert pad.chosen.refilled == pytest.approx(back / 0.9)
    assert pad.chosen.hauled == pytest.approx(pad.chosen.dug - pad.chosen.refilled)
    assert "pad-room-short" not in {finding.code for finding in pad.findings}
    own = pad_at(ground, -6.0, room=0.2, layback=0.5)
    side, corner = 0.2 * deep + deep**2 / 4, 0.04 * deep + 0.1 * deep**2 + deep**3 / 12
    assert own.chosen.beside == pytest.approx(64 * FT * side + 4 * corner)


def test_the_face_follows_the_soil(ground: Ground) -> None:
    assert PadSpec(soil=find_soil("sand")).face == 1.5
    assert PadSpec(soil=find_soil("clay")).face == PadSpec().face == 1.0


def test_a_survey_that_ends_within_the_room_is_told(ground: Ground) -> None:
    marks_x, marks_y = [9 * FT, 18 * FT, 27.5 * FT], [9 * FT, 16 * FT, 23.5 * FT]
    surface = ground([(x, y, 5.0) for x in marks_x for y in marks_y])
    pad = design_pad(surface, BUILDING, PadSpec(rule="given", level=5.0 - 6 * IN), show=FEET)
    [finding] = [one for one in pad.findings if one.code == "pad-room-short"]
    # 12 in of room and a face 10 in out
    assert "Shoot the ground 1.8 ft out" in finding.advice
    assert pad.chosen.beside > 0.0
