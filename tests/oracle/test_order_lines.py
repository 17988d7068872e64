"""Each line of the order of random small pads, worked out a second, naive way: by counting up."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from boards_again import STOCK, by_brute_force
from strips_again import enough

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.materials import DEFAULT_GRAVEL, DEFAULT_SOIL
from gradework.earthwork.outline import Outline
from gradework.foundations.pad.edge import EdgeRuns, build_edge
from gradework.foundations.pad.spec import PadSpec
from gradework.sitework.cutting import Board, FabricRoll
from gradework.sitework.order import Order, seed_line
from gradework.sitework.order_foundations import PadQuantities, order_pad
from gradework.sitework.order_laid import pipe_line
from gradework.sitework.order_marking import marking_lines
from gradework.sitework.setout import Stake
from gradework.sitework.supplier import SOLD_BY, Supplier
from gradework.units.display import FEET

FOOT, INCH, POUND = 0.3048, 0.0254, 0.45359237
ROLLS = ((3, 10), (4, 12))  # ft, with a lap of 1 ft
YARD = replace(
    Supplier.us(),
    fabrics=tuple(FabricRoll(w * FOOT, long * FOOT, FOOT) for w, long in ROLLS),
    board=Board("board", 0.0, 5.5 * INCH, tuple(length * FOOT for length in STOCK), kerf=0.0),
    turn_up=0.0,
)
"""Without thickness, saw cut and turn-up every length is whole feet, so that counting up is exact."""


def ordered(long: int, wide: int, inches: float, stone: float, yard: Supplier = YARD) -> Order:
    """The order of a boxed pad ``long`` by ``wide`` ft on level ground that it stands ``inches`` above."""
    sides = []
    for ft in (long, wide, long, wide):
        run, courses = ft * FOOT, 1 if inches <= 5.5 else 2
        high = run if inches > 5.5 else 0.0
        sides.append(EdgeRuns(inches * INCH, run * inches * INCH, run, high, (run,) * courses))
    return order_pad(
        PadQuantities(
            gravel=CompactedVolume(stone),
            excavation=BankVolume(stone),
            thickness=0.15,
            outline=Outline.rectangle((0.0, 0.0), (long * FOOT, wide * FOOT)),
            edge=build_edge(tuple(sides), PadSpec()),
        ),
        DEFAULT_GRAVEL,
        DEFAULT_SOIL,
        yard,
        FEET,
    )


def least_rolls(long: int, wide: int, width: int, roll: int) -> int:
    """The fewest rolls for a rectangle of whole feet, strips along either side, counted up."""
    found = []
    for run, across in ((long, wide), (wide, long)):
        strips = 1
        while strips * width - (strips - 1) < across:
            strips += 1
        rolls = 1
        while not enough([run] * strips, roll, 1, rolls):
            rolls += 1
        found.append(rolls)
    return min(found)


@pytest.mark.parametrize("seed", range(8))
def test_every_line_of_a_small_pad(seed: int) -> None:
    rng = np.random.default_rng(seed)
    long, wide = int(rng.integers(4, 13)), int(rng.integers(3, 8))
    inches, stone = (5.0, 9.0)[seed % 2], float(rng.uniform(0.3, 9.0))
    order = ordered(long, wide, inches, stone)
    seen = set()
    for line in order.lines:
        kind = line.item.partition(",")[0]
        seen.add(kind)
        if line.kind:  # half a ton at a time, until the stone with its water and waste is there
            wanted, tons = stone * DEFAULT_GRAVEL.compacted.value * 1.05 * 1.10 / (2000 * POUND), 0.0
            while tons < wanted - 1e-9:
                tons += 0.5
            assert line.quantity == tons
        elif kind == "geotextile fabric":
            area = {rl: least_rolls(long, wide, *rl) * rl[0] * rl[1] for rl in ROLLS}
            assert line.paid[0].amount == pytest.approx(min(area.values()) * FOOT**2)
        elif "stakes" in kind:
            apart, count = (4, 0) if inches <= 5.5 else (3, 0)
            for side in (long, wide, long, wide):
                at = 0
                while at < side:
                    at, count = at + apart, count + 1
                count += 1
            joints = 0 if max(long, wide) <= STOCK[-1] else 2 * (1 if inches <= 5.5 else 2)
            assert line.quantity == count + joints
            stakes = line.quantity
        elif kind == "deck screws":
            boards = 1 if inches <= 5.5 else 2
            joints = 0 if max(long, wide) <= STOCK[-1] else 2 * boards
            assert line.quantity == 2 * boards * (stakes - joints) + 4 * joints
    bought = sum(line.quantity * line.longest for line in order.lines if line.item.startswith("board"))
    if inches <= 5.5:  # two courses have too many ways
        assert bought / FOOT == pytest.approx(by_brute_force([long, wide, long, wide]))
    assert seen >= {"dense-graded crushed stone", "geotextile fabric", "board", "deck screws"}
    assert_clean(order)


def assert_clean(order: Order) -> None:
    """Nobody orders 6.000000001 tons: whole steps, as written in the order."""
    for line in order.lines:
        assert line.quantity == round(line.quantity, 3)
        assert line.quantity / line.step == pytest.approx(round(line.quantity / line.step), abs=1e-12)


@pytest.mark.parametrize("sold", [SOLD_BY["half short tons"], SOLD_BY["bulk bags"], SOLD_BY["25 kg bags"]])
def test_doubling_waste_never_lowers_a_line(sold: object) -> None:
    yard = replace(YARD, stone=sold)
    for stone in (0.2, 1.3, 6.0):
        once, twice = (ordered(8, 6, 5.0, stone, replace(yard, waste=waste)) for waste in (0.1, 0.2))
        for less, more in zip(once.lines, twice.lines, strict=True):
            assert (less.item, less.quantity <= more.quantity) == (more.item, True)
        assert once.lines[0].needed < twice.lines[0].needed


def test_a_longer_side_never_buys_less_on_level_ground() -> None:
    """At the same level: the same thickness of stone, the same height of the edge."""
    for wide in (8, 11, 14):
        for inches in (5.0, 9.0):
            before: dict[str, float] = {}
            for long in range(8, 31):
                order = ordered(long, wide, inches, 0.15 * long * wide * FOOT**2, Supplier.us())
                paid: dict[str, float] = {}
                for line in order.lines:
                    for one in line.paid:
                        paid[one.key] = paid.get(one.key, 0.0) + one.amount
                for key, amount in before.items():
                    assert paid[key] >= amount - 1e-9, (long, wide, key)
                before = paid


def test_string_stakes_seed_and_pipe_by_counting_up() -> None:
    hut = Outline.rectangle((1.0, 2.0), (16 * FOOT, 12 * FOOT), 20.0)
    set_out = [Stake(str(n), "pier", 0.0, 0.0, 0.0, None, ()) for n in range(17)]
    stakes, string = marking_lines(hut, set_out, 0.0, Supplier.us().board, FEET)
    assert stakes.quantity == 17 + 4
    corners = [*hut.rings[0], hut.rings[0][0]]
    length = sum(float(np.hypot(*(b - a))) for a, b in pairwise(corners))
    length += 4 * 2 * 4 * FOOT + 2 * 20 * FOOT  # on to the boards, and both diagonals of 20 ft
    rolls = 0
    while rolls * 250 * FOOT < 1.1 * length - 1e-9:
        rolls += 1
    assert string.quantity == rolls
    for area in (3.0, 84.0, 200.0):
        pounds = 0
        while pounds < area / FOOT**2 * 6.0 / 1000.0 - 1e-9:
            pounds += 1
        assert seed_line(area, FEET).quantity == pounds
    for feet in (9.9, 10.0, 41.0):
        pipes = 0
        while pipes * 10 < feet:
            pipes += 1
        assert pipe_line(feet * FOOT, FEET).quantity == pipes
