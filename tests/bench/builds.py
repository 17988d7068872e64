"""A builder who follows the advice, on real ground: surveys, digs, lays, checks, and what came of it.

``python tests/bench builds 40 100`` does 40 builds from number 100 on. Each takes a yard of 15 x 13 m of the
terrain (under 15 % on average), shoots a grid every 2 to 3 m with the errors of one way of measuring, in
every tenth yard with a foot misread, in half with some shots read twice, and plans piers, or a pad in every
third yard. A pad is dug and filled as planned, its stone held against the order. For piers holes are dug to
within 1/2 in, beds laid to 1/8 in, blocks to 1/16 in (twice the standard error), read as dug, as bedded and
as built, and corrected as it is told. Truth is the raster, never the survey.

Not simulated: setting out in plan, water on the finished ground, walls and floor.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from spread import TERRAIN, Terrain

import gradework as gw
from gradework.command.main import gradework, run_to_status
from gradework.earthwork.likely import cut_and_fill_of, mesh_of
from gradework.foundations.pad.design import Pad
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab

FT = 0.3048
INCH = FT / 12.0
WIDE, DEEP, STEEPEST = 15.0, 13.0, 0.15
WAYS = {"laser": (0.0015, 0.005), "optical level": (0.002, 0.01), "water level": (0.003, 0.01)}
"""Standard error of one reading [m], and to what it is rounded [ft]."""

DIG, BED, BLOCK, SHIM = 0.25 * INCH, INCH / 16.0, INCH / 32.0, INCH / 32.0
LEVEL = 0.25 * INCH
STRIP = 0.1
BANDS = (0.03, 0.06, 0.10, 0.15)


class Build(NamedTuple):
    """One build: ``way`` of measuring, ``slope`` [-], what was chosen ("" for nothing); whether the tops were
    level at the first check and after one round (None: no piers), lines of stone and blocks that sufficed of
    all, stone left over [-], digging told and true [m³], a slip made and named."""

    way: str
    slope: float
    chosen: str
    first: bool | None
    after: bool | None
    enough: tuple[int, int]
    left: float
    dug: tuple[float, float]
    slip: tuple[bool, bool]


class Yard:
    """A yard of the terrain, its corner at 0, 0, and the builder who reads it."""

    def __init__(self, terrain: Terrain, number: int) -> None:
        self.rng = rng = np.random.default_rng([17, number])
        self.terrain, self.number = terrain, number
        self.way = list(WAYS)[number // 3 % len(WAYS)]
        high, wide = terrain.z.shape
        while True:
            self.corner = rng.uniform(0.0, 1.0, 2) * (wide - WIDE - 2, high - DEEP - 2)
            near = np.stack(np.meshgrid(np.arange(0, WIDE), np.arange(0, DEEP)), axis=-1).reshape(-1, 2)
            fit = np.column_stack((np.ones(len(near)), near))
            slope = np.linalg.lstsq(fit, self.true(near), rcond=None)[0][1:]
            self.slope = float(np.hypot(*slope))
            if self.slope < STEEPEST:
                break
        self.down = math.degrees(math.atan2(-slope[1], -slope[0]))
        self.sight = float(self.true(near).max()) + 1.2

    def true(self, xy: np.ndarray) -> np.ndarray:
        """The ground itself [m]."""
        return np.asarray(self.terrain.at(np.asarray(xy) / self.terrain.cell + self.corner))

    def rod(self, level: float) -> float:
        """What is read on a level [m], in feet, as it is written."""
        error, step = WAYS[self.way]
        read = (self.sight - level + error * self.rng.standard_normal()) / FT
        return round(round(read / step) * step, 4)

    def notes(self) -> tuple[str, bool]:
        """The level book of the yard, and whether a foot was misread in it."""
        step = self.rng.uniform(2.0, 3.0)
        x, y = (np.arange(0.0, end + 1e-9, end / round(end / step)) for end in (WIDE, DEEP))
        places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        rods = [self.rod(float(z)) for z in self.true(places)]
        slip = self.rng.random() < 0.1
        if slip:
            rods[int(self.rng.integers(len(rods)))] += float(self.rng.choice((-1.0, 1.0)))
        rows = ["station,x,y,BS,IS,FS,note", f"BM,,,{self.back},,,nail in the post"]
        rows += [
            f"S{k},{px / FT:.2f},{py / FT:.2f},,{rod},,"
            for k, ((px, py), rod) in enumerate(zip(places, rods, strict=True))
        ]
        if self.rng.random() < 0.5:
            for k in self.rng.choice(len(places), 4, replace=False).tolist():
                rows.append(f"S{k},,,,{self.rod(float(self.true(places[k])))},,again")
        return "\n".join([*rows, f"BM,,,,,{self.back},", ""]), slip

    @property
    def back(self) -> float:
        """The reading on the nail, 4.2 ft below the line of sight."""
        return 4.2

    @property
    def mark(self) -> float:
        """The elevation of the nail [ft]."""
        return (self.sight - 4.2 * FT) / FT

    def job(self) -> str:
        """The job in feet: a building in the middle, square to the slope, pad and piers."""
        size = np.array([self.rng.uniform(8, 16), self.rng.uniform(8, 12)]).round(1)
        turn = (self.down + 90.0) % 360.0
        along = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
        across = np.array([-along[1], along[0]])
        corner = np.array([WIDE, DEEP]) / 2.0 / FT - 0.5 * (size[0] * along + size[1] * across)
        return f"""
name = "Build, invented"
units = "ft"
[survey]
notes = "yard.csv"
known = {{ BM = {self.mark:.4f} }}
[building]
size = [{size[0]}, {size[1]}]
corner = [{corner[0]:.2f}, {corner[1]:.2f}]
turn = {turn:.2f}
[{"pad" if self.number % 3 == 0 else "piers"}]
[setout]
benchmarks = {{ BM = {self.mark:.4f} }}
"""


def lines(count: int = 40, first: int = 1) -> Iterator[str]:
    """Do ``count`` builds, from the number ``first`` on."""
    terrain, built = Terrain.of(TERRAIN), list[Build]()
    for number in range(first, first + count):
        try:
            built.append(build(Yard(terrain, number)))
            if built[-1].enough[0] < built[-1].enough[1] or built[-1].after is False:
                yield f"  build {number}: {built[-1]}"
        except Exception as wrong:  # whatever it is, it is counted and its number told
            yield f"  build {number}: {type(wrong).__name__}: {str(wrong)[:300]}"
    yield f"{count} builds, numbers {first} to {first + count - 1}: {count - len(built)} went wrong"
    yield from _told("all", built)
    for way in WAYS:
        yield from _told(way, [one for one in built if one.way == way])
    for low, high in zip((0.0, *BANDS), BANDS, strict=False):
        yield from _told(f"{low:.0%} to {high:.0%}", [one for one in built if low <= one.slope < high])
    slips = [one.slip[1] for one in built if one.slip[0]]
    yield f"a foot misread in {len(slips)}, named or doubted in {sum(slips)}; doubted without one: " + str(
        sum(one.slip[1] for one in built if not one.slip[0])
    )


def _told(what: str, built: list[Build]) -> Iterator[str]:
    made = [one for one in built if one.chosen]
    stood = [one for one in made if one.first is not None]
    if not made:
        yield f"{what}: none of {len(built)} built"
        return
    kinds = ", ".join(f"{n} {kind}" for kind, n in Counter(one.chosen for one in made).most_common())
    first, after = (sum(bool(getattr(one, name)) for one in stood) for name in ("first", "after"))
    enough = [sum(one.enough[k] for one in made) for k in (0, 1)]
    whole = sum(one.enough[0] == one.enough[1] for one in made)
    dug = sum(one.dug[1] for one in made) / max(sum(one.dug[0] for one in made), 1e-9)
    left = float(np.median([one.left for one in made]))
    yield (
        f"{what}: {kinds} of {len(built)}; level at the first check {first} of {len(stood)}, after one round "
        f"{after}; lines enough {enough[0]} of {enough[1]}, whole orders {whole} of {len(made)}, stone left "
        f"{left:.0%}, "
        f"dug over told {dug:.2f}"
    )


def build(yard: Yard) -> Build:
    """Survey, plan, build and check one."""
    notes, slip = yard.notes()
    job = yard.job()
    plan = gw.plan(gw.read_job(job.encode()), notes.encode())
    doubted = any(
        one.code in ("shot-misread", "shot-off-the-ground", "repeat-readings")
        for one in plan.stations.findings
    )
    codes = (slip, doubted)
    chosen = plan.foundations.chosen if plan.judged.buildable else ""
    common = (yard.way, yard.slope, chosen)
    if not chosen:
        return Build(*common, None, None, (0, 0), 0.0, (0.0, 0.0), codes)
    made = plan.foundations.built[chosen]
    if isinstance(made, Piers):
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "yard.csv").write_text(notes)
            (Path(folder) / "job.toml").write_text(job)
            return Build(*common, *_piers(yard, plan, made, Path(folder)), codes)
    return Build(*common, None, None, *_stone(yard, plan, made), codes)


def _ordered(plan: gw.Plan, place: str) -> float:
    """The stone that is ordered for a place, compacted at the density it is thought to have [m³]."""
    line = next(one for one in plan.order.lines if one.place == place)
    return line.compacted * line.quantity / line.computed


def _stone(yard: Yard, plan: gw.Plan, made: Pad | Slab) -> tuple[tuple[int, int], float, tuple[float, float]]:
    """Dig to the pad and fill it on the true ground, strip as told: what it takes against the order."""
    if isinstance(made, Slab):
        raise TypeError("no slab was asked for")
    spec, level = made.spec, made.chosen.level
    fine = mesh_of(made.outline, 2000)
    ground = yard.true(fine.points)[None]
    below, above = (float(one[0]) for one in cut_and_fill_of(fine, ground, level + spec.strip - spec.gravel))
    planned_below, planned_above = (
        float(one[0])
        for one in cut_and_fill_of(
            fine, plan.surface.elevation(fine.points)[None], level + spec.strip - spec.gravel
        )
    )
    # what the edge takes besides is as planned
    takes = made.chosen.gravel + above - planned_above
    told = made.chosen.excavation
    ordered = _ordered(plan, "base")
    return (int(ordered >= takes), 1), (ordered - takes) / takes, (told, told + below - planned_below)


def _piers(yard: Yard, plan: gw.Plan, made: Piers, folder: Path) -> tuple[Any, ...]:
    """Dig, bed and lay the piers as told at each stage."""
    rng = yard.rng
    bottoms = {one.name: one.bottom + DIG * rng.standard_normal() for one in made.piers}
    dug = _asked(yard, folder, bottoms, "holes", "--stage", "dug")
    bedded = {}
    for one in dug["piers"]:
        name = one["name"]
        if one["dig_deeper_m"] > 0.0:
            bottoms[name] = one["bottom_m"] + DIG * rng.standard_normal()
        bedded[name] = one["top_m"] - one["stack_m"] - one["shim_m"] + BED * rng.standard_normal()
    laid = _asked(yard, folder, bedded, "beds", "--stage", "bed", "--first", str(folder / "holes.csv"))
    units = {unit.name: unit for unit in made.spec.on_hand}
    tops, used, stone = {}, Counter[str](), 0.0
    for one, hole in zip(laid["piers"], made.piers, strict=True):
        name = one["name"]
        if one["bed_add_m"]:
            bedded[name] += one["bed_add_m"] + BED * rng.standard_normal()
        count = Counter({part["unit"]: part["courses"] for part in one["stack"]})
        thick = sum(
            units[unit].thickness + BLOCK * rng.standard_normal()
            for unit, n in count.items()
            for _ in range(n)
        )
        tops[name] = bedded[name] + thick + one["shim_m"] + SHIM * rng.standard_normal() * bool(one["shim_m"])
        used.update({part["unit"]: part["pieces"] for part in one["stack"]})
        stone += math.prod(hole.hole_size) * max(bedded[name] - bottoms[name], 0.0)
    first = _level(tops)
    told = _asked(yard, folder, tops, "tops")
    for one in told["tops"]:
        if one["rework"]:
            tops[one["name"]] -= one["above_best_m"] + SHIM * rng.standard_normal()
    bought = {line.item: line.quantity for line in plan.order.lines}
    ordered = _ordered(plan, "beds")
    enough = [bought.get(unit, 0.0) >= n for unit, n in used.items()] + [ordered >= stone]
    true = sum(
        math.prod(one.hole_size)
        * max(float(yard.true(np.array([[one.x, one.y]]))[0]) - bottoms[one.name], 0.0)
        for one in made.piers
    )
    return (
        first, _level(tops), (sum(enough), len(enough)), (ordered - stone) / stone,
        (sum(one.dig for one in made.piers), true),
    )  # fmt: skip


def _level(tops: dict[str, float]) -> bool:
    """Whether a level can be found that every top is within a quarter inch of."""
    return max(tops.values()) - min(tops.values()) <= 2.0 * LEVEL


def _asked(yard: Yard, folder: Path, levels: dict[str, float], name: str, *more: str) -> dict[str, Any]:
    """Read levels off a rod from the same set-up, and ask what to do with them."""
    rows = ["station,BS,IS,FS,note", f"BM,{yard.back},,,"]
    rows += [f"pier {pier},,{yard.rod(level)},," for pier, level in levels.items()]
    (folder / f"{name}.csv").write_text("\n".join([*rows, f"BM,,,{yard.back},", ""]))
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        run_to_status(
            gradework, ["asbuilt", str(folder / "job.toml"), str(folder / f"{name}.csv"), *more, "--json"]
        )
    return dict(json.loads(out.getvalue()))
